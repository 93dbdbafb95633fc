"""The bench on paper, with boxes to tick: the repair list in its order, and a technician’s day on one page. No names
of pupils."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from io import BytesIO

from django.utils.dateformat import format as dated

from fleet.ground.wording import day
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.register.models.kinds import kind_and_stand
from fleet.reports.sheet.lines import broken, leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.ruled import RuledColumn, heading, rows, said
from fleet.workshop.models.works import minded
from fleet.workshop.queries import bench
from fleet.workshop.queries.bench import OnTheJob, Turn
from fleet.workshop.queries.bench_day import BenchDay, CareAt
from fleet.workshop.queries.visit import Visit

FAULT_LEFT, FAULT_WIDTH = 12.0, 112.0
NOTES_LEFT = 130.0
LINE = 5.2
HEADING = 10.0
NOBODY = {"place": "No place", "technician": "Nobody has taken these"}
NOT_HERE = "Not here"
ONE_LINE = 13.5
LEAST = 33.0  # head, one fault, and two lines for a technician's hand
DAY_JOBS = (RuledColumn("horn", 24), RuledColumn("what is to be done", 97), RuledColumn("where, how long", 62))
TWO = (RuledColumn("what", 110), RuledColumn("why", 73))
ORDER = (RuledColumn("how many of what", 110), RuledColumn("of whom", 73))
CARE = (RuledColumn("where", 50), RuledColumn("what, and of which horns", 133))
# So much of each stands on the page, so that it stays one; what is more is counted, and stands on the site.
MOST = {"jobs": 7, "check": 3, "late": 2, "order": 3, "care": 4}
NAMED = 5


def repair_list_drawn(
    turns: Sequence[Turn], *, school: School, today: date, paper: str, by: str = "", visit: Visit | None = None
) -> bytes:
    """The document as PDF, for turns that have their jobs (`bench.with_jobs`). No query."""
    out = BytesIO()
    name = "Today’s repairs" if visit else "Repair list"
    page = Sheet(out, school=school.name, title=f"{name}, {dated(today, 'j F Y')}", paper=paper)
    y = _opening(page, turns, visit)
    place = 0
    for named, under in _under_headings(turns, by):
        if named:
            if y + HEADING + LEAST > BODY_END and y > BODY_TOP:
                page.turn()
                y = BODY_TOP
            page.words(0, y + 7, named, size=12, bold=True, width=WIDTH)
            y += HEADING
        for turn in under:
            place += 1
            faults = [broken(said, FAULT_WIDTH - 6, 9.0) for said in (*_named(turn), *map(_fault_words, turn.faults))]
            height = max(LEAST, 13.5 + sum(_fault_height(lines) for lines in faults) + 3.0)
            if not turn.is_here:
                # Nobody here can work on it: its heading alone, and no room to write.
                faults, height = [], ONE_LINE
            if y + height > BODY_END and y > BODY_TOP:
                page.turn()
                y = BODY_TOP
            _job(page, y, place, turn, faults, height, by=by)
            y += height
    page.close()
    return out.getvalue()


def _under_headings(turns: Sequence[Turn], by: str) -> list[tuple[str, list[Turn]]]:
    """The turns under the places where their horns are, or under who has them, then those that have neither, and
    last those whose horns are not here."""
    groups: dict[str, list[Turn]] = {}
    for turn in turns:
        if turn.is_here:
            groups.setdefault(_heading(turn, by), []).append(turn)
    last = NOBODY.get(by, "")
    headed = [(name, groups[name]) for name in sorted(groups, key=lambda name: (name == last, name.lower()))]
    away = [turn for turn in turns if not turn.is_here]
    return [*headed, (NOT_HERE, away)] if away else headed


def _heading(turn: Turn, by: str) -> str:
    assert turn.job is not None, "drawn() wants turns with their jobs"
    if by == "technician":
        return str(turn.job.technician or NOBODY[by])
    if by != "place":
        return ""
    if turn.whereabouts.code == Horn.Where.IN_PLACE:
        return str(turn.job.horn.place or NOBODY[by])
    return turn.whereabouts.words.capitalize()


def _opening(page: Sheet, turns: Sequence[Turn], visit: Visit | None) -> float:
    """How many, how long, and what to mind; gives the y below."""
    y = BODY_TOP
    if not turns:
        said = f"No job can be done in {visit.minutes} minutes." if visit else "Nothing is on the bench list."
        return page.paragraph(0, y, said, WIDTH, size=11)
    begun = [turn for turn in turns if turn.can_begin]
    known = [turn.minutes for turn in begun if turn.minutes is not None]
    jobs = "1 job" if len(turns) == 1 else f"{len(turns)} jobs"
    now = "" if len(begun) == len(turns) else f": {len(begun) or 'none'} can be worked on now"
    minutes = f", about {sum(known)} minutes" if begun else ""
    said = f"{jobs}{now}{minutes}; what frees most comes first. "
    said += "Minutes order the bench and are no quote."
    if visit:
        horns = "1 horn" if visit.frees == 1 else f"{visit.frees} horns"
        said = (
            f"{jobs}, {visit.planned} of the {visit.minutes} minutes of this visit, {horns} freed once checked: the "
            "set that frees most. Minutes are the usual ones and no quote."
        )
    if len(known) < len(begun):
        said += f" {len(begun) - len(known)} without a usual time."
    here = [turn for turn in turns if turn.is_here]
    if len(begun) < len(here):
        said += f" {len(here) - len(begun)} waiting for parts."
    if len(here) < len(turns):
        said += f" {len(turns) - len(here)} not here, at the end."
    y = page.paragraph(0, y, said, WIDTH, size=9)
    cautions = minded(_works(here), (one.entry.code for turn in here for one in turn.faults))
    return page.paragraph(0, y + 0.5, "Mind: " + " ".join(cautions), WIDTH, size=8, grey=True) + 2.0


def _named(turn: Turn) -> list[str]:
    return [*(f"{one.words}: {one.do}" for one in turn.works), *filter(None, [turn.ordered])]


def _works(turns: Iterable[Turn]) -> list[str]:
    return [one.code for turn in turns for one in turn.works]


def _job(
    page: Sheet,
    y: float,
    place: int,
    turn: Turn,
    faults: Sequence[list[str]],
    height: float,
    *,
    by: str,
) -> None:
    job = turn.job
    assert job is not None, "drawn() wants turns with their jobs"
    horn = job.horn
    page.rule(0, y, WIDTH, weight=0.4)
    if turn.is_here:
        page.tick_box(0, y + 6, side=4.2)
    page.words(FAULT_LEFT - 6, y + 5.5, str(place), size=9, grey=True, width=5.5)
    page.words(FAULT_LEFT, y + 5.5, horn.number, size=11.5, bold=True, width=38)
    page.words(FAULT_LEFT + 40, y + 5.5, kind_and_stand(horn.build, horn.stands_in) or "not identified", width=76)
    # What stands in the heading is not said again.
    if by != "place" or not turn.is_here:
        page.words_right(WIDTH, y + 5.5, turn.whereabouts.without_names, width=58)
    who = job.technician.name if job.technician and (by != "technician" or not turn.is_here) else ""
    page.words(FAULT_LEFT, y + 10.5, turn.why, size=8.5, grey=True, width=FAULT_WIDTH)
    page.words_right(WIDTH, y + 10.5, who, size=8.5, width=58)
    if not turn.is_here:
        return
    below = y + 13.5
    for lines in faults:
        page.tick_box(FAULT_LEFT, below + 3.6)
        for number, line in enumerate(lines):
            page.words(FAULT_LEFT + 6, below + 3.4 + number * leading(9.0), line, size=9)
        below += _fault_height(lines)
    if not faults:
        first = "All mended: check it and close the job." if turn.nothing_left else "No fault is named: check it first."
        page.words(FAULT_LEFT, below + 3.4, first, size=9, width=FAULT_WIDTH)
    page.words(NOTES_LEFT, y + 16.5, "minutes", size=7.5, grey=True)
    page.words(NOTES_LEFT + 22, y + 16.5, "parts, notes", size=7.5, grey=True)
    ruled = y + 17.0
    while ruled + LINE <= y + height - 1.0:
        ruled += LINE
        page.rule(NOTES_LEFT, ruled, WIDTH - NOTES_LEFT, weight=0.25)


def _fault_words(one: OnTheJob) -> str:
    by = "repairer" if one.entry.who == "repairer" else ""
    minutes = f"{one.minutes} min" if one.minutes else ""
    extra = ", ".join(str(part) for part in (bench.STOPS[one.severity], by, minutes) if part)
    return f"{one.noted}: {extra}"


def _fault_height(lines: Sequence[str]) -> float:
    return max(5.2, len(lines) * leading(9.0) + 1.2)


def bench_day_drawn(
    turns: Sequence[Turn], beside: BenchDay, *, school: School, today: date, paper: str, visit: Visit | None
) -> bytes:
    """The PDF, for turns that have their jobs (`bench.with_jobs`): those of the visit if one is planned. No query."""
    out = BytesIO()
    page = Sheet(out, school=school.name, title=f"Bench day, {day(today)}", paper=paper)
    y = said(page, BODY_TOP, _day_opening(turns, visit))
    done_here = [turn for turn in turns if turn.is_here]
    sections = (
        ("jobs", "To mend", DAY_JOBS, [_day_job(turn) for turn in done_here]),
        ("check", "Mended, to be checked", TWO, [(one.what, one.why) for one in beside.to_check]),
        ("late", "Late at the repairer’s", TWO, [(one.what, one.why) for one in beside.late_outside]),
        ("order", "To order", ORDER, [(f"{one.short} × {one.name}", one.supplier) for one in beside.to_order]),
        ("care", "Care due, by place", CARE, [_care(one) for one in beside.care]),
    )
    for key, title, columns, lines in sections:
        if lines:
            most = MOST[key]
            y = heading(page, y, title if len(lines) <= most else f"{title}: {most} of {len(lines)}", keep=14.0)
            y = rows(page, y, columns, lines[:most], tick=True)
    if not any(lines for *_, lines in sections):
        y = said(page, y, "Nothing waits.", size=11)
    cautions = minded(_works(done_here), (one.entry.code for turn in done_here for one in turn.faults))
    if done_here:
        said(page, y + 1.0, "Mind: " + " ".join(cautions), size=8.5, grey=True)
    page.close()
    return out.getvalue()


def _day_opening(turns: Sequence[Turn], visit: Visit | None) -> str:
    if visit:
        return (
            f"{visit.planned} of {visit.minutes} minutes are planned. Horns that may be lent once they are checked: "
            f"{visit.frees}. Minutes are the usual ones and no quote."
        )
    known = sum(turn.minutes or 0 for turn in turns if turn.can_begin)
    return f"What frees most comes first. About {known} minutes on the bench list; no quote."


def _day_job(turn: Turn) -> tuple[str, str, str]:
    assert turn.job is not None, "drawn() wants turns with their jobs"
    return turn.job.horn.number, turn.to_do, f"{turn.whereabouts.without_names}, {turn.time}"


def _care(one: CareAt) -> tuple[str, str]:
    """The place, and of each kind of care the horns that want it."""
    told = []
    for kind, horns in one.wanted:
        more = f" and {len(horns) - NAMED} more" if len(horns) > NAMED else ""
        told.append(f"{kind.label}: {', '.join(str(horn) for horn in horns[:NAMED])}{more}")
    return str(one.place or "no place"), "; ".join(told)
