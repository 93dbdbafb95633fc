"""The bench on paper, with boxes to tick: the repair list in its order, and a technician’s day on one page. No names
of pupils."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from io import BytesIO

from django.utils.text import capfirst
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day, in_a_row, in_reading_order
from fleet.ground.wording import minutes as in_minutes
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.reports.sheet.lines import broken, leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.ruled import RuledColumn, heading, rows, said
from fleet.workshop.models import Finding
from fleet.workshop.models.works import mind
from fleet.workshop.queries import bench
from fleet.workshop.queries.bench import Turn
from fleet.workshop.queries.bench_day import BenchDay, CareAt
from fleet.workshop.queries.visit import Visit

FAULT_LEFT, FAULT_WIDTH = 12.0, 112.0
NOTES_LEFT = 130.0
LINE = 5.2
HEADING = 10.0
NOBODY = {"place": _s_lazy("No place"), "technician": _s_lazy("Nobody has taken these")}
AWAY = 18.5  # head, and what is to be done on one line
LEAST = 33.0  # head, one fault, and two lines for a technician's hand
DAY_JOBS = (
    RuledColumn(_s_lazy("horn"), 24),
    RuledColumn(_s_lazy("what is to be done"), 97),
    RuledColumn(_s_lazy("where, how long"), 62),
)
TWO = (RuledColumn(_s_lazy("what"), 110), RuledColumn(_s_lazy("why"), 73))
ORDER = (RuledColumn(_s_lazy("how many of what"), 110), RuledColumn(_s_lazy("of whom"), 73))
CARE = (RuledColumn(_s_lazy("where"), 50), RuledColumn(_s_lazy("what, and of which horns"), 133))
# So much of each stands on the page, so that it stays one; what is more is counted, and stands on the site.
MOST = {"jobs": 7, "check": 3, "late": 2, "order": 3, "care": 4}
NAMED = 5


def repair_list_drawn(
    turns: Sequence[Turn], *, school: School, today: date, paper: str, by: str = "", visit: Visit | None = None
) -> bytes:
    """The document as PDF, for turns that have their jobs (`in_turn.with_jobs`). No query."""
    out = BytesIO()
    title = _s("Today’s repairs, %(day)s") if visit else _s("Repair list, %(day)s")
    page = Sheet(out, school=school.name, title=title % {"day": day(today)}, paper=paper)
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
                # Nobody here can work on it: one line says what for, and there is no room to write.
                faults, height = [], AWAY
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
    last = str(NOBODY.get(by, ""))
    headed = [(name, groups[name]) for name in sorted(groups, key=lambda name: (name == last, in_reading_order(name)))]
    away = [turn for turn in turns if not turn.is_here]
    return [*headed, (_s("Not here"), away)] if away else headed


def _heading(turn: Turn, by: str) -> str:
    assert turn.job is not None, "drawn() wants turns with their jobs"
    if by == "technician":
        return str(turn.job.technician or NOBODY[by])
    if by != "place":
        return ""
    if turn.whereabouts.code == Horn.Where.IN_PLACE:
        return str(turn.job.horn.place or NOBODY[by])
    return capfirst(turn.whereabouts.words)


def _opening(page: Sheet, turns: Sequence[Turn], visit: Visit | None) -> float:
    """How many, how long, and what to mind; gives the y below."""
    y = BODY_TOP
    if not turns:
        none = _s("No job can be done in %(minutes)d minutes.") if visit else _s("Nothing is on the bench list.")
        return page.paragraph(0, y, none % {"minutes": visit.minutes} if visit else none, WIDTH, size=11)
    here = [turn for turn in turns if turn.is_here]
    y = page.paragraph(0, y, in_a_row(*_counted(turns, visit)), WIDTH, size=9)
    return page.paragraph(0, y + 0.5, _mind(here), WIDTH, size=8, grey=True) + 2.0


def _counted(turns: Sequence[Turn], visit: Visit | None) -> Iterator[str]:
    """How many, how long, and what of them cannot be done."""
    begun = [turn for turn in turns if turn.can_begin]
    known = [turn.minutes for turn in begun if turn.minutes is not None]
    told = {"jobs": len(turns), "now": len(begun), "minutes": sum(known)}
    yield _s_many("%(jobs)d job.", "%(jobs)d jobs.", len(turns)) % told
    if visit:
        yield _s(
            "%(planned)d of the %(minutes)d minutes of this visit are planned: the set that frees most. Horns freed "
            "once checked: %(frees)d. Minutes are the usual ones and no quote."
        ) % {"planned": visit.planned, "minutes": visit.minutes, "frees": visit.frees}
    else:
        if not begun:
            yield _s("None can be worked on now.")
        elif len(begun) == len(turns):
            yield _s("About %(minutes)d minutes.") % told
        else:
            yield _s("To be worked on now: %(now)d, about %(minutes)d minutes.") % told
        yield _s("What frees most comes first. Minutes order the bench and are no quote.")
    here = sum(turn.is_here for turn in turns)
    for count, words in (
        (len(begun) - len(known), _s("Without a usual time: %(count)d.")),
        (here - len(begun), _s("Waiting for parts: %(count)d.")),
        (len(turns) - here, _s("Not here, at the end: %(count)d.")),
    ):
        if count:
            yield words % {"count": count}


def _mind(here: Sequence[Turn]) -> str:
    works = (one.code for turn in here for one in turn.works)
    return mind(works, (one.entry.code for turn in here for one in turn.faults))


def _named(turn: Turn) -> list[str]:
    return [*(f"{_s(one.words)}: {_s(one.do)}" for one in turn.works), *filter(None, [turn.ordered])]


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
    page.words(FAULT_LEFT + 40, y + 5.5, horn.what_it_is, width=76)
    # What stands in the heading is not said again.
    if by != "place" or not turn.is_here:
        page.words_right(WIDTH, y + 5.5, turn.whereabouts.without_names, width=58)
    who = job.technician.name if job.technician and (by != "technician" or not turn.is_here) else ""
    page.words(FAULT_LEFT, y + 10.5, turn.why, size=8.5, grey=True, width=FAULT_WIDTH)
    page.words_right(WIDTH, y + 10.5, who, size=8.5, width=58)
    below = y + 13.5
    if not turn.is_here:
        page.words(FAULT_LEFT, below + 1.5, "" if turn.gone else turn.to_do, size=8.5, width=WIDTH - FAULT_LEFT)
        return
    for lines in faults:
        page.tick_box(FAULT_LEFT, below + 3.6)
        for number, line in enumerate(lines):
            page.words(FAULT_LEFT + 6, below + 3.4 + number * leading(9.0), line, size=9)
        below += _fault_height(lines)
    if not faults:
        mended, unnamed = _s("All mended: check it and close the job."), _s("No fault is named: check it first.")
        first = mended if turn.nothing_left else unnamed
        page.words(FAULT_LEFT, below + 3.4, first, size=9, width=FAULT_WIDTH)
    page.words(NOTES_LEFT, y + 16.5, _s("minutes"), size=7.5, grey=True)
    page.words(NOTES_LEFT + 22, y + 16.5, _s("parts, notes"), size=7.5, grey=True)
    ruled = y + 17.0
    while ruled + LINE <= y + height - 1.0:
        ruled += LINE
        page.rule(NOTES_LEFT, ruled, WIDTH - NOTES_LEFT, weight=0.25)


def _fault_words(one: Finding) -> str:
    by = _s("repairer") if one.entry.who == "repairer" else ""
    minutes = in_minutes(one.minutes) if one.minutes else ""
    extra = ", ".join(str(part) for part in (bench.STOPS[one.severity], by, minutes) if part)
    return f"{one.noted}: {extra}"


def _fault_height(lines: Sequence[str]) -> float:
    return max(5.2, len(lines) * leading(9.0) + 1.2)


def bench_day_drawn(
    turns: Sequence[Turn],
    first: Sequence[Turn],
    beside: BenchDay,
    *,
    school: School,
    today: date,
    paper: str,
    visit: Visit | None,
) -> bytes:
    """The PDF, for the turns, those of the visit if one is planned, and the first that are here with their jobs
    (`in_turn.with_jobs`), as many as stand on the page. No query."""
    out = BytesIO()
    page = Sheet(out, school=school.name, title=_s("Bench day, %(day)s") % {"day": day(today)}, paper=paper)
    y = said(page, BODY_TOP, _day_opening(turns, visit))
    done_here = [turn for turn in turns if turn.is_here]
    sections = (
        ("jobs", _s("To mend"), DAY_JOBS, [_day_job(turn) for turn in first]),
        ("check", _s("Mended, to be checked"), TWO, [(one.what, one.why) for one in beside.to_check]),
        ("late", _s("Late at the repairer’s"), TWO, [(one.what, one.why) for one in beside.late_outside]),
        ("order", _s("To order"), ORDER, [(f"{one.short} × {one.name}", one.supplier) for one in beside.to_order]),
        ("care", _s("Care due, by place"), CARE, [_care(one) for one in beside.care]),
    )
    for key, title, columns, lines in sections:
        if lines:
            most, count = MOST[key], len(done_here) if key == "jobs" else len(lines)
            some = _s("%(title)s: %(most)d of %(count)d") % {"title": title, "most": most, "count": count}
            y = heading(page, y, title if count <= most else some, keep=14.0)
            y = rows(page, y, columns, lines[:most], tick=True)
    if not any(lines for *_, lines in sections):
        y = said(page, y, _s("Nothing waits."), size=11)
    if done_here:
        said(page, y + 1.0, _mind(done_here), size=8.5, grey=True)
    page.close()
    return out.getvalue()


def _day_opening(turns: Sequence[Turn], visit: Visit | None) -> str:
    if visit:
        return _s(
            "%(planned)d of %(minutes)d minutes are planned. Horns that may be lent once they are checked: %(frees)d. "
            "Minutes are the usual ones and no quote."
        ) % {"planned": visit.planned, "minutes": visit.minutes, "frees": visit.frees}
    known = sum(turn.minutes or 0 for turn in turns if turn.can_begin)
    return _s("What frees most comes first. About %(minutes)d minutes on the bench list; no quote.") % {
        "minutes": known
    }


def _day_job(turn: Turn) -> tuple[str, str, str]:
    assert turn.job is not None, "drawn() wants turns with their jobs"
    return turn.job.horn.number, turn.to_do, f"{turn.whereabouts.without_names}, {turn.time}"


def _care(one: CareAt) -> tuple[str, str]:
    """The place, and of each kind of care the horns that want it."""
    told = []
    for kind, horns in one.wanted:
        named = ", ".join(horns[:NAMED])
        if more := len(horns[NAMED:]):
            named = _s("%(named)s and %(count)d more") % {"named": named, "count": more}
        told.append(f"{kind.label}: {named}")
    return str(one.place or _s("no place")), "; ".join(told)
