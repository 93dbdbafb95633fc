"""Fetches the rows of a matching: pupils of some classes, horns they might get, and what others would need first."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from django.db.models import OuterRef, Subquery
from django.utils.translation import gettext as _s

from fleet.ground.addresses import whole
from fleet.lending.models import Loan
from fleet.lending.queries.wishes import reserved_for
from fleet.matching.models import ClassPlan
from fleet.matching.queries.wishes import plans_of
from fleet.matching.solving.remedies import Remedy
from fleet.matching.solving.rows import HornRow, PupilRow
from fleet.people.models import Pupil, School
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of, sort_of
from fleet.signing.models import OnlineSignature
from fleet.signing.queries.waiting import of_horns
from fleet.workshop.models import ConditionCheck, Finding
from fleet.workshop.queries.condition import open_findings_of

# Minutes to set remedies in order, from memory; the catalogue of faults has those of repairs.
FIND_OUT, CLEAN, CHECK, SOUND, FINISH_THE_JOB, UNKNOWN_REPAIR = 5, 5, 15, 5, 30, 60


@dataclass
class Pool:
    """`pupils`, `horns` and `could_be` are what is matched; the rest says who and what stands behind the keys.

    `aside` counts, in words, the horns that are no part of it. `waiting` are those on a family's page: neither they nor
    the pupils they wait for are matched, and none that is kept for a pupil.
    """

    pupils: list[PupilRow] = field(default_factory=list)
    horns: list[HornRow] = field(default_factory=list)
    could_be: list[Remedy] = field(default_factory=list)
    people: dict[int, Pupil] = field(default_factory=dict)
    instruments: dict[int, Horn] = field(default_factory=dict)
    aside: Counter[str] = field(default_factory=Counter)
    waiting: list[OnlineSignature] = field(default_factory=list)


def gather(
    school: School,
    groups: Collection[str],
    *,
    today: date | None = None,
    leave: Collection[int] = (),
    without: Collection[int] = (),
) -> Pool:
    """The rows of these classes, less the pupils to `leave` out and the horns to do `without`. With `today`
    also less what is kept for a pupil on that day, and these pupils. Six queries, then a seventh."""
    pool = Pool()
    promised, reserved = of_horns(school), reserved_for(school, today) if today else {}
    served = {*(one.pupil_id for one in promised.values()), *(one.pupil_id for one in reserved.values())}
    pool.waiting = sorted(promised.values(), key=lambda one: (one.pupil.sorted_by, one.pk))
    found = Pupil.objects.at(school).filter(left_on=None, group__in=groups).order_by("sorted_by", "pk")
    pool.people = {pupil.pk: pupil for pupil in found if pupil.pk not in leave and pupil.pk not in served}
    newest = ConditionCheck.objects.filter(horn=OuterRef("pk")).order_by("-at", "-pk")
    horns = list(
        Horn.objects.at(school)
        .kept()
        .select_related("place")
        .annotate(finish_seen=Subquery(newest.values("finish_grade")[:1]))
        .by_number()
    )
    holders = dict(Loan.objects.at(school).open().values_list("horn_id", "pupil_id"))
    pool.instruments = {horn.pk: horn for horn in horns}
    wrong = open_findings_of(horn.pk for horn in horns if horn.grade and horn.grade >= Horn.Grade.REPAIR_FIRST)
    for horn in horns:
        holder = holders.get(horn.pk)
        if horn.pk in without:
            pool.aside[_s("left out by hand")] += 1
        elif horn.pk in promised:
            pool.aside[_s("on a family’s page for a signature")] += 1
        elif horn.pk in reserved:
            pool.aside[_s("kept for a pupil")] += 1
        elif (why := _never(horn, holder, pool.people)) != "":
            pool.aside[why] += 1
        else:
            _sort_in(pool, horn, holder, [one for one in wrong.get(horn.pk, ()) if one.severity in {"r", "x"}])
    held = [(pool.people.get(pupil), pool.instruments.get(horn)) for horn, pupil in holders.items()]
    usual = usual_of(
        (pupil.group, horn.build, horn.stands_in, horn.place.room if horn.place else "")
        for pupil, horn in held
        if pupil is not None and horn is not None
    )
    plans = plans_of(school)
    pool.pupils = [pupil_row(pupil, plans, usual) for pupil in pool.people.values()]
    return pool


class PlannedFor(NamedTuple):
    """What the plan of a class says (`ClassPlan`)."""

    stands_in: str
    room: str


def pupil_row(pupil: Pupil, plans: Mapping[str, ClassPlan | PlannedFor], usual: Usual) -> PupilRow:
    """What is wanted for a pupil: what the class's plan says, else what most of its horns do."""
    plan = plans.get(pupil.group.casefold())
    return PupilRow(
        key=pupil.pk,
        name=pupil.name,
        sorted_by=pupil.sorted_by,
        year=whole(pupil.year),
        group=pupil.group,
        needs_compact=pupil.needs_wrap == Pupil.NeedsWrap.COMPACT,
        needs_kind=pupil.needs_kind,
        stand=(plan.stands_in if plan else "") or usual.stands.get(pupil.group, ""),
        room=(plan.room if plan else "") or usual.rooms.get(pupil.group, ""),
    )


def is_matched(horn: Horn) -> bool:
    """Whether it is a kind of horn that matching gives out, or may be one."""
    build = build_of(horn.build)
    return not horn.build or (build is not None and build.is_french_horn and not build.crooked)


def _never(horn: Horn, holder: int | None, people: Collection[int]) -> str:
    """Why a horn has no part in the matching whatever is done about it, or ""."""
    if horn.not_found_on is not None:
        return _s("not found")
    if not is_matched(horn):
        return _s("not a French horn with valves")
    if holder is not None and holder not in people:
        return _s("with other pupils")
    return ""


def _sort_in(pool: Pool, horn: Horn, holder: int | None, wrong: list[Finding]) -> None:
    """Among the horns that may be lent, or among those that would have to be seen to first."""
    row = horn_row(horn, holder)
    if holder is None and not horn.kept_back_from(horn.promised_to):
        pool.horns.append(row)
    elif remedy := _seen_to(horn, row, wrong):
        pool.could_be.append(remedy)
        pool.aside[_s("to be seen to first") if horn.build else _s("not identified")] += 1
    elif holder is not None and horn.grade is not None and horn.grade < Horn.Grade.REPAIR_FIRST:
        # Out with one of these pupils, who may keep it or give it back to another.
        pool.horns.append(row)
    else:
        pool.aside[_s("to be withdrawn or repaired")] += 1


def horn_row(horn: Horn, holder: int | None = None) -> HornRow:
    """What matching looks at of a horn; `finish_seen` counts where it came with the row."""
    build = build_of(horn.build)
    sort = sort_of(horn.build, horn.wrap)
    other = tuple(stand.name for stand in build.stands if stand.name != horn.stands_in) if build else ()
    return HornRow(
        key=horn.pk,
        number=horn.number,
        sorted_by=(horn.number_stem, horn.number_tail),
        kind=sort.kind if sort else "",
        stand=horn.stands_in,
        compact=sort.compact if sort else horn.wrap == Horn.Wrap.COMPACT,
        grade=horn.grade or Horn.Grade.SMALL_FAULT,
        finish=getattr(horn, "finish_seen", None) or 0,
        room=horn.place.room if horn.place else "",
        held_by=holder,
        other_stands=other if build and build.reversible else (),
    )


def _seen_to(horn: Horn, row: HornRow, wrong: list[Finding]) -> Remedy | None:
    """What would let the horn be lent: the heaviest of it names the remedy, the minutes are of all. None where
    nothing is in the way, or where nobody can say."""
    steps: list[tuple[str, int, str]] = []
    back = {reason.code for reason in horn.kept_back}
    if wrong or "grade" in back:
        minutes = [finding.minutes for finding in wrong]
        if horn.grade == Horn.Grade.MUST_NOT_BE_PLAYED and (not minutes or None in minutes):
            return None
        total = sum(one or UNKNOWN_REPAIR for one in minutes) or UNKNOWN_REPAIR
        steps.append(("mend", total, ", ".join(str(finding) for finding in wrong)))
    elif "workshop" in back or "away" in back:
        steps.append(("mend", FINISH_THE_JOB, _s("it is on the bench")))
    if "unidentified" in back:
        steps.append(("identify", FIND_OUT, _s("nobody has found out yet what it is")))
    if "unchecked" in back and not horn.on_bench:
        steps.append(("check", CHECK, _s("it has never been checked")))
    if "mended" in back and not wrong:
        steps.append(("check", CHECK, _s("nobody has looked it over since it was mended")))
    if "test-note" in back:
        steps.append(("check", SOUND, _s("the test note has not been sounded since work on it")))
    if row.held_by is None and "mouthpiece" in back:
        steps.append(("clean", CLEAN, _s("the mouthpiece has not been cleaned since the last player")))
    if not steps:
        return None
    order = ("mend", "identify", "check", "clean")
    return Remedy(
        kind=min((kind for kind, _, _ in steps), key=order.index),
        horn=row,
        minutes=sum(minutes for _, minutes, _ in steps),
        what="; ".join(words for _, _, words in steps if words),
    )


class Usual(NamedTuple):
    """By class: the stand and the family that most of its horns have now, and the room most of them belong to."""

    stands: dict[str, str]
    families: dict[str, str]
    rooms: dict[str, str]


def usual_of(held: Iterable[Sequence[str]]) -> Usual:
    """From the horns that are out now: the class of who has it, the build, the stand and the room of each."""
    stands: defaultdict[str, Counter[str]] = defaultdict(Counter)
    families: defaultdict[str, Counter[str]] = defaultdict(Counter)
    rooms: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for group, code, stand, room in held:
        if stand:
            stands[group][stand] += 1
        if build := build_of(code):
            families[group][build.family] += 1
        if room:
            rooms[group][room] += 1
    return Usual(_commonest(stands), _commonest(families), _commonest(rooms))


def _commonest(counted: dict[str, Counter[str]]) -> dict[str, str]:
    return {group: min(counts, key=lambda word: (-counts[word], word)) for group, counts in counted.items()}
