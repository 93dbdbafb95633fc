"""What a walk of checks becomes in the register: a finding put on a horn, with the raw observations behind it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction
from django.db.models import Count, Exists, OuterRef
from django.utils import timezone
from django.utils.formats import date_format

from fleet.people.models import School, User
from fleet.refused import Refused
from fleet.register.actions import TWICE_WITHIN, Particulars, locked, register_horn
from fleet.register.kinds import kind_in_words, stand_in_words
from fleet.register.models import Horn, Identification
from identify.core.air import TUBES
from identify.core.builds import Build
from identify.core.evidence import Observations
from identify.core.reasoning import Candidate, assess

CANT_TELL = "cant-tell"
Valve = Horn.Valve


def raw(observations: Observations) -> dict[str, str]:
    """Observations as they are kept: the walk's own parameters, with the checks that could not be told.

    What was heard is among them as numbers, never as sound.
    """
    passed = dict.fromkeys(sorted(observations.passed), CANT_TELL)
    return {**observations.answers, **passed, **(observations.heard.notes.texts() if observations.heard else {})}


def what_extra_valves_do(build: Build) -> tuple[str, str]:
    """What the fourth and the fifth valve of a build do, as `Horn.Valve` has it; "" where there is none."""
    does = [Valve.ASCENDING if lowers < 0 else Valve.QUART for lowers in build.valves[3:]]
    for lever in build.levers:
        if lever.does == "change":
            tubes = {lever.to, *lever.between} - {""}
            high = any(TUBES[tube].pedal > TUBES["Bb9"].pedal for tube in tubes)
            does.append(Valve.HIGH if high else Valve.CHANGE)
        else:
            does.append(Valve.STOPPING if lever.does == "stopping" else Valve.EXTENSION)
    fourth, fifth, *_ = (*does, "", "")
    return str(fourth), str(fifth)


@transaction.atomic
def put_on_horn(
    *, horn: Horn, observations: Observations, build: str, stands_in: str, by: User, at: datetime
) -> Identification:
    """Keeps the observations and what the person took the horn to be, and says so on the horn.

    The verdict is computed here, from the observations, not taken from the page. An earlier finding that says
    otherwise is kept; `disagreement` asks about it.
    """
    mix = confirmed_mix(horn.school, besides=horn.pk)
    chosen, settled = _confirmed(observations, build, stands_in, mix)
    now = locked(horn)
    if now.withdrawn_on:
        raise Refused("This horn is withdrawn.", way_out=("register:standing", "Keep it again"))
    latest = now.identifications.order_by("-at", "-pk").first()
    said = (by.pk, raw(observations), build, stands_in)
    if (
        latest is not None
        and at - latest.at <= TWICE_WITHIN
        and said == (latest.by_id, latest.observations, latest.build, latest.stands_in)
    ):
        return latest
    finding = Identification.objects.create(
        horn=now,
        at=at,
        by=by,
        observations=raw(observations),
        build=build,
        stands_in=stands_in,
        settled=settled,
        probability=chosen.probability,
    )
    _say_on(now, chosen, observations)
    return finding


@transaction.atomic
def register_as_found(
    *,
    school: School,
    particulars: Particulars,
    suggested: str,
    observations: Observations,
    build: str,
    stands_in: str,
    by: User,
    at: datetime,
) -> Horn:
    """A new horn with the finding on it, both or neither."""
    horn = register_horn(school=school, particulars=particulars, suggested=suggested, by=by, at=at)
    put_on_horn(horn=horn, observations=observations, build=build, stands_in=stands_in, by=by, at=at)
    return horn


def confirmed_mix(school: School, *, besides: int = 0) -> dict[str, int]:
    """How many of the school's kept horns were found to be of each build. One query.

    Only horns that went through the checks count, and not the one in hand (its key `besides`), so that a horn
    does not speak for itself.
    """
    found = Horn.objects.at(school).kept().identified().exclude(pk=besides)
    counted = found.filter(Exists(Identification.objects.filter(horn=OuterRef("pk")))).values_list("build")
    return dict(counted.annotate(Count("pk")).order_by())


def _confirmed(
    observations: Observations, build: str, stands_in: str, mix: Mapping[str, int]
) -> tuple[Candidate, bool]:
    """The candidate a person chose, and whether the checks settle it."""
    if observations.nothing_observed:
        raise Refused("Nothing was observed, so there is nothing to keep.")
    verdict = assess(observations, mix=mix)
    for candidate in verdict.candidates:
        if candidate.key == (build, stands_in or None):
            return candidate, verdict.settled and candidate is verdict.leading
    raise Refused(f"A {kind_in_words(build)} cannot stand so. Choose one of the kinds named here.")


def _say_on(horn: Horn, chosen: Candidate, observations: Observations) -> None:
    build = chosen.form.build
    fourth, fifth = what_extra_valves_do(build)
    new = horn.build != chosen.build.code
    horn.build, horn.stands_in = chosen.build.code, chosen.stands_in or ""
    if "wrap" in observations.answers:
        horn.wrap = observations.answers["wrap"]
    elif (new or not horn.wrap) and len(build.wrap) == 1:
        horn.wrap = build.wrap[0]
    if new or not horn.fourth_valve:
        horn.fourth_valve, horn.fifth_valve = fourth, fifth
    fields = ["build", "stands_in", "wrap", "fourth_valve", "fifth_valve"]
    if "test_note" in observations.answers and horn.test_note_owed:
        horn.test_note_owed = False
        fields.append("test_note_owed")
    horn.save(update_fields=fields)


def disagreement(horn: Horn) -> str | None:
    """The question that findings on a horn leave open, or None: two queries at most.

    It goes away when somebody looks again and confirms the latest finding.
    """
    latest, *before = horn.identifications.select_related("by").order_by("-at", "-pk")[:2] or (None,)
    if latest is None:
        return None
    if horn.build != latest.build:
        says = kind_in_words(horn.build) or "nothing"
        return f"O{_found(latest)[1:]}. The register says {says}. Which is right?"
    if not before:
        return None
    earlier = before[0]
    if earlier.build != latest.build:
        return f"O{_found(earlier)[1:]}; {_found(latest)}. Which is right?"
    if earlier.stands_in != latest.stands_in:
        between = horn.stand_changes.filter(at__gte=earlier.at, at__lte=latest.at)
        if not between.exists():
            stood, stands = stand_in_words(earlier.stands_in), stand_in_words(latest.stands_in)
            return (
                f"O{_day(earlier.at)[1:]} it stood in {stood}, {_day(latest.at)} in {stands}, and nobody recorded a "
                "restringing. Sound the test note again."
            )
    return None


def _day(at: datetime) -> str:
    return f"on {date_format(timezone.localtime(at), 'j F Y')}"


def _found(finding: Identification) -> str:
    kind = kind_in_words(finding.build)
    article = "an" if kind[:1] in "aeiou" else "a"
    stands = f", standing in {stand_in_words(finding.stands_in)}" if finding.stands_in else ""
    return f"{_day(finding.at)} {finding.by} found {article} {kind}{stands}"
