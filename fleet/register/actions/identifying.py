"""What a walk of checks becomes in the register: its verdict on a horn, with the raw observations behind it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused, WayOut
from fleet.people.actions.schools import locked_school
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.horns import Particulars, register_horn
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import TWICE_WITHIN, locked
from fleet.register.models import Horn, Identification
from fleet.register.models.kinds import kind_in_english, kind_in_words, wraps_of
from fleet.register.queries.identifying import confirmed_mix
from identify.core.horns.air import TUBES
from identify.core.horns.builds import Build
from identify.core.reasoning.evidence import AGAIN, CHECKS, LIKE, Observations
from identify.core.reasoning.ranking import Candidate
from identify.core.reasoning.verdict import Verdict, assess
from identify.questions import CANT_TELL

Valve = Horn.Valve
# The next horn of a shelf takes its own walk; who comes back to this one within the hour came back by mistake.
SAME_WALK = timedelta(hours=1)


def raw(observations: Observations) -> dict[str, str]:
    """Observations as they are kept: the walk's own parameters, with the checks that could not be told and those
    that were looked at twice.

    What was heard is among them as numbers, never as sound.
    """
    passed = dict.fromkeys(sorted(observations.passed), CANT_TELL)
    heard = observations.heard.notes.texts() if observations.heard else {}
    again = ",".join(key for key in CHECKS if key in observations.again)
    more = {name: words for name, words in ((AGAIN, again), (LIKE, observations.like)) if words}
    return {**observations.answers, **passed, **heard, **more}


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
    *,
    horn: Horn,
    observations: Observations,
    build: str,
    stands_in: str,
    sent_as: UUID | None = None,
    waited: timedelta = timedelta(),
    by: User,
    at: datetime,
) -> Identification:
    """Keeps the observations and what the person took the horn to be, and says so on the horn.

    The verdict is computed here, from the observations, not taken from the page. An earlier finding that says
    otherwise is kept; `disagreement` asks about it. One sent again under the same `sent_as` gives the one that is kept;
    one that `waited` for a connection was found so much before `at`, and where a newer finding is there moves nothing.
    """
    mix = confirmed_mix(horn.school, besides=horn.pk)
    chosen, verdict = _confirmed(observations, build, stands_in, mix)
    now = locked(horn)
    if there := sent_before(sent_as, by):
        return there
    if now.withdrawn_on:
        raise Refused(_s("This horn is withdrawn."), way_out=now.way_back)
    latest = now.identifications.order_by("-at", "-pk").first()
    said = (by.pk, raw(observations), build, stands_in)
    if (
        sent_as is None
        and latest is not None
        and at - latest.at <= TWICE_WITHIN
        and said == (latest.by_id, latest.observations, latest.build, latest.stands_in)
    ):
        return latest
    finding = Identification.objects.create(
        horn=now,
        at=at - waited,
        by=by,
        sent_as=sent_as,
        observations=raw(observations),
        build=build,
        stands_in=stands_in,
        settled=verdict.settled and chosen is verdict.leading,
        # What was said of the horn before it says nothing of its own, and what one slip would change is not confirmed.
        teaches=not (observations.like or verdict.confirm),
        probability=chosen.probability,
    )
    was = kind_in_english(now.build)
    if latest is None or latest.at <= finding.at:
        _say_on(now, chosen, observations)
    keep([now])
    record(
        deed=Deed.HORN_IDENTIFIED,
        school=now.school,
        by=by,
        at=at,
        horn=now,
        told=[["kind", was, kind_in_english(now.build)]],
    )
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
    another: bool = False,
    sent_as: UUID | None = None,
    waited: timedelta = timedelta(),
    by: User,
    at: datetime,
) -> Horn:
    """A new horn with the finding on it, both or neither; sent again under the same `sent_as`, the horn that is there.

    Refused where this person registered a horn from the same answers a short while ago, unless it is `another` one, as
    it is meant to be where it is like the one before, or where the browser knows one walk from the next.
    """
    locked_school(school.pk)
    if before := sent_before(sent_as, by):
        return before.horn
    another = another or bool(observations.like or sent_as)
    number = particulars.get("number", "").strip()
    if not another and (there := _from_this_walk(school, raw(observations), number, by=by, at=at)):
        raise Refused(
            _s("This walk is %(there)s already.") % {"there": there},
            way_out=WayOut("desk:horn", _s("Go to %(there)s") % {"there": there}, (there.pk,)),
        )
    horn = register_horn(
        school=school, particulars=particulars, suggested=suggested, told_apart=sent_as is not None, by=by, at=at
    )
    put_on_horn(
        horn=horn,
        observations=observations,
        build=build,
        stands_in=stands_in,
        sent_as=sent_as,
        waited=waited,
        by=by,
        at=at,
    )
    return horn


def sent_before(sent_as: UUID | None, by: User) -> Identification | None:
    """The finding that was kept under this id, None where there is none."""
    there = Identification.objects.select_related("horn").filter(sent_as=sent_as).first() if sent_as else None
    if there is not None and there.by_id != by.pk:
        # No browser makes the same id twice: this one was copied. Nothing of the other finding is told.
        raise Refused(_s("Begin the walk again: it cannot be put on record from here."))
    return there


def _from_this_walk(school: School, answers: Mapping[str, str], number: str, *, by: User, at: datetime) -> Horn | None:
    """The horn that this person registered from these answers lately, other than by a button tapped twice, which sends
    the same number."""
    lately = Horn.objects.at(school).filter(created_by=by, created__gte=at - SAME_WALK)
    for horn in lately.order_by("-created").prefetch_related("identifications"):
        if horn.number.upper() == number.upper() and at - horn.created <= TWICE_WITHIN:
            continue
        if any(found.observations == answers and found.at == horn.created for found in horn.identifications.all()):
            return horn
    return None


def _confirmed(
    observations: Observations, build: str, stands_in: str, mix: Mapping[str, int]
) -> tuple[Candidate, Verdict]:
    """The candidate a person chose, of the verdict."""
    if observations.nothing_observed:
        raise Refused(_s("Nothing was observed, so there is nothing to keep."))
    verdict = assess(observations, mix=mix)
    for candidate in verdict.candidates:
        if candidate.key == (build, stands_in or None):
            return candidate, verdict
    raise Refused(
        _s("A %(build)s cannot stand so. Choose one of the kinds named here.") % {"build": kind_in_words(build)}
    )


def _say_on(horn: Horn, chosen: Candidate, observations: Observations) -> None:
    build = chosen.form.build
    fourth, fifth = what_extra_valves_do(build)
    new = horn.build != chosen.build.code
    horn.build, horn.stands_in = chosen.build.code, chosen.stands_in or ""
    met = wraps_of(chosen.build.code)
    if "wrap" in observations.answers:
        horn.wrap = observations.answers["wrap"]
    elif horn.wrap not in met and (new or not horn.wrap):
        # Nobody looked: only a kind that is wound in one way alone says it by itself.
        horn.wrap = met.pop() if len(met) == 1 else ""
    if new or not horn.fourth_valve:
        horn.fourth_valve, horn.fifth_valve = fourth, fifth
    fields = ["build", "stands_in", "wrap", "fourth_valve", "fifth_valve"]
    horn.save(update_fields=fields)
