"""How a horn is, as the newest check and the open job tell it, and how what was measured moved from check to check."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import OuterRef, Subquery

from fleet.ground.languages.marks import _s_lazy
from fleet.register.models import Horn
from fleet.workshop.models import ConditionCheck, Finding, RepairJob
from fleet.workshop.models.faults import WEIGHT, Fault, catalogue
from fleet.workshop.models.fitted import PLACES, applies, in_words, places


@dataclass(frozen=True, slots=True)
class Condition:
    """What `workshop/_condition.html` shows; `findings` are those not mended, the heaviest first."""

    horn: Horn
    check: ConditionCheck | None
    findings: list[Finding]
    job: RepairJob | None
    mended_since: bool


def condition_of(horn: Horn, checks: Sequence[ConditionCheck], job: RepairJob | None) -> Condition:
    """How the horn is by all its checks, the newest first, with their findings, and by its open job. No query."""
    found = [one for check in reversed(checks) for one in check.findings.all() if one.mended_at is None]
    return Condition(horn, next(iter(checks), None), newest_of_each(found), job, horn.mended_on is not None)


def latest_check(horn: Horn) -> ConditionCheck | None:
    return horn.checks.select_related("by").order_by("-at", "-pk").first()


def latest_checks_of(horns: Iterable[int]) -> dict[int, ConditionCheck]:
    """`latest_check` of many horns by their keys, all in one query; horns never checked are left out."""
    newest = ConditionCheck.objects.filter(horn=OuterRef("pk")).order_by("-at", "-pk").values("pk")[:1]
    keys = Horn.objects.filter(pk__in=list(horns)).annotate(newest=Subquery(newest)).values("newest")
    return {check.horn_id: check for check in ConditionCheck.objects.filter(pk__in=keys).select_related("by")}


def usual_occasion(horn: Horn) -> str:
    """Why a horn is most likely looked over now."""
    if horn.mended_on is not None:
        return ConditionCheck.Occasion.AFTER_REPAIR
    in_the_cupboard = horn.where == Horn.Where.IN_PLACE
    return ConditionCheck.Occasion.BEFORE_LOAN if in_the_cupboard else ConditionCheck.Occasion.OTHER


def open_findings(horn: Horn) -> list[Finding]:
    """What is wrong with the horn as far as is known: the newest word on each fault, the heaviest first."""
    found = Finding.objects.filter(check_made__horn=horn, mended_at=None).order_by("check_made__at", "pk")
    return newest_of_each(found)


def open_findings_of(horns: Iterable[int]) -> dict[int, list[Finding]]:
    """`open_findings` of many horns by their keys, all in one query; horns without findings are left out."""
    found = Finding.objects.filter(check_made__horn__in=list(horns), mended_at=None)
    by_horn: dict[int, list[Finding]] = {}
    for finding in found.select_related("check_made").order_by("check_made__at", "pk"):
        by_horn.setdefault(finding.check_made.horn_id, []).append(finding)
    return {horn: newest_of_each(findings) for horn, findings in by_horn.items()}


def newest_of_each(findings: Iterable[Finding]) -> list[Finding]:
    """One finding a fault, the newest, heaviest first; `findings` come oldest first."""
    newest = {finding.fault: finding for finding in findings}
    return sorted(newest.values(), key=lambda finding: (-WEIGHT[finding.severity], finding.fault))


def with_measured_before(horn: Horn, findings: Iterable[Finding], *, until: datetime) -> None:
    """Gives each finding `measured_before`: what was measured of it until then at one of the same places, the newest
    first. A figure that checks took over as before stands once, with the day of the first. One query, none where
    nothing can be measured."""
    measurable = [one for one in findings if one.entry.measure]
    if not measurable:
        return
    asked = {one.fault: set(one.places) for one in measurable}
    moved: dict[str, list[Finding]] = defaultdict(list)
    then = Finding.objects.filter(
        check_made__horn=horn, check_made__at__lt=until, fault__in=asked, measured__isnull=False
    ).select_related("check_made")
    for one in then.order_by("-check_made__at", "-pk"):
        here = asked[one.fault]
        if not here or not one.places or here & set(one.places):
            moved[one.fault].append(one)
    for one in measurable:
        one.measured_before = _changes(one, moved[one.fault])  # type: ignore[attr-defined]


def _changes(now: Finding, before: list[Finding]) -> list[Finding]:
    changes = [now]
    for one in before:
        if one.measured != changes[-1].measured:
            changes.append(one)
        elif len(changes) > 1:
            changes[-1] = one
    return changes[1:]


# What there is one of, and the part of a horn whose faults it may have.
SINGLE = {"bell": "Bell", "lead": "Leadpipe and branches", "mouthpiece": "Mouthpiece"}
SINGLE_SAID = {"bell": _s_lazy("bell"), "lead": _s_lazy("leadpipe and branches"), "mouthpiece": _s_lazy("mouthpiece")}
# What such a valve may have besides what any valve may.
OF_VALVE = {
    "change": "Thumb lever and its valve",
    "change-2": "Thumb lever and its valve",
    "stopping": "Stopping valve",
}


@dataclass(frozen=True, slots=True)
class PlaceOfHorn:
    """One place that can be tapped on, and what may be wrong there."""

    at: str
    code: str
    words: str
    faults: tuple[Fault, ...]

    @property
    def key(self) -> str:
        return f"{self.at}-{self.code}" if self.code else self.at


def places_of(horn: Horn) -> list[PlaceOfHorn]:
    """The valves and slides that this horn has, and what there is one of. No query."""
    asked = [one for one in catalogue().by_code.values() if applies(one.applies, horn)]
    told = []
    for at in PLACES:
        for code in places(at, horn):
            besides = OF_VALVE.get(code, "")
            faults = tuple(one for one in asked if one.at == at or (besides and one.part == besides))
            told.append(PlaceOfHorn(at, code, in_words(at, [code]), faults))
    for at, part in SINGLE.items():
        told.append(PlaceOfHorn(at, "", SINGLE_SAID[at], tuple(one for one in asked if one.part == part)))
    return [one for one in told if one.faults]
