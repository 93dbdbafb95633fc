"""A count on paper: the sheet to count with, and the report that is kept."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from io import BytesIO
from itertools import groupby

from django.utils import timezone
from django.utils.dateformat import format as dated

from fleet.counting.models import Count, Find, Line
from fleet.counting.queries import shelves
from fleet.counting.queries.facts import CountFacts
from fleet.counting.queries.outcomes import ACCOUNTED
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.reports.sheet.page import BODY_TOP, Sheet
from fleet.reports.sheet.ruled import TO_WRITE, RuledColumn, heading, rows, said, to_sign

SHEET = (RuledColumn("number", 30), RuledColumn("what it is", 88), RuledColumn("seen, condition", 65))
# What a counter reads beside a horn that nobody need look for.
AWAY: dict[Horn.Where, str] = {
    **{where: where.label for where in ACCOUNTED if where != Horn.Where.WITHDRAWN},
    Horn.Where.NOT_FOUND: "not found before",
}
DIFFERENCES = (
    RuledColumn("number", 24),
    RuledColumn("how it ended", 28),
    RuledColumn("its place", 32),
    RuledColumn("seen", 38),
    RuledColumn("resolved", 68),
)
FINDS = (RuledColumn("found", 50), RuledColumn("where, by", 60), RuledColumn("resolved", 80))
NOTES = (RuledColumn("number", 24), RuledColumn("note", 116), RuledColumn("by", 50))


def count_sheet_drawn(count: Count, listed: Iterable[Line], *, school: School, paper: str) -> bytes:
    """The PDF to count with; `listed` are the lines that are expected, place by place."""
    page, out = _page("Count sheet", count, school, paper)
    y = said(
        page, BODY_TOP, f"{count.title}. Tick what you see; write anything else found here at the end of its place."
    )
    any_listed = False
    for place, lines in groupby(listed, key=lambda line: line.place_words):
        any_listed = True
        y = heading(page, y, place or "No place yet", keep=3 * TO_WRITE)
        told = [
            (line.number, line.kind or "not identified", str(AWAY.get(Horn.Where(line.where_at_start), "")))
            for line in lines
        ]
        y = rows(page, y, SHEET, [*told, ("", "also seen here:", ""), ("", "", "")], tick=True)
    if not any_listed:
        y = said(page, y, "No horn is on the list of this count.")
    to_sign(page, y, ["counted by: signature, name", "date"], what=f"To the count of {_begun(count)}.")
    page.close()
    return out.getvalue()


def count_report_drawn(facts: CountFacts, *, school: School, paper: str) -> bytes:
    """The PDF of how a count stands or ended; the same words every time once it is signed."""
    count = facts.count
    page, out = _page("Count report", count, school, paper)
    y = said(page, BODY_TOP, count.title, size=13)
    y = said(page, y, _who(facts))
    if count.is_open:
        y = said(page, y, "This count is still open: what stands here will change.")
    y = heading(page, y, "How the horns ended")
    words = {Line.Outcome.NOT_FOUND: "not seen yet"} if count.is_open else {}
    told = [(words.get(outcome, outcome.label), str(n)) for outcome, n in shelves.in_order(facts.numbers)]
    y = rows(
        page,
        y,
        (RuledColumn("", 90), RuledColumn("horns", 30, figures=True)),
        [*told, ("all", str(sum(facts.numbers.values())))],
    )
    if facts.finds:
        y = said(page, y, f"Found besides, not in the register: {len(facts.finds)}.")
    if (sample := facts.sample) is not None:
        y = said(page, heading(page, y, "What the sample says"), sample.sentence)
        y = said(page, y, sample.note, size=8, grey=True) if sample.note else y
        drawn = f"Drawn with seed {count.seed} from {count.population} horns, for {count.confidence} % confidence "
        y = said(page, y, f"{drawn}within {count.margin} in 100.", size=8, grey=True)
    y = _differences(page, heading(page, y, "Differences"), facts)
    y = _finds(page, y, facts.finds)
    if facts.noted:
        told_notes = [(one.line.number, one.note, str(one.by)) for one in facts.noted]
        y = rows(page, heading(page, y, "Noted in passing"), NOTES, told_notes)
    if not count.signed_at:
        all_of_it = f"{sum(facts.numbers.values())} horns, {len(facts.differences)} differences"
        what = f"To the count of {_begun(count)}: {all_of_it}."
        to_sign(page, y, ["somebody who did not count: signature, name", "date"], what=what)
    page.close()
    return out.getvalue()


def _page(name: str, count: Count, school: School, paper: str) -> tuple[Sheet, BytesIO]:
    out = BytesIO()
    return Sheet(out, school=school.name, title=f"{name}, {_begun(count)}", paper=paper), out


def _begun(count: Count) -> str:
    return dated(timezone.localtime(count.started_at), "j F Y")


def _who(facts: CountFacts) -> str:
    def day(at: object) -> str:
        return dated(timezone.localtime(at), "j F Y, H:i")  # type: ignore[arg-type]

    count, counted = facts.count, ", ".join(map(str, facts.counted_by)) or "nobody"
    words = [f"Begun by {count.started_by}, {day(count.started_at)}.", f"Counted by {counted}."]
    if count.ended_at:
        words.append(f"Ended by {count.ended_by}, {day(count.ended_at)}.")
    if count.signed_at:
        words.append(f"Signed by {count.signed_by}, who did not count, {day(count.signed_at)}.")
    return " ".join(words)


def _differences(page: Sheet, y: float, facts: CountFacts) -> float:
    if not facts.differences:
        words = (
            "Not known before the counting is ended."
            if facts.count.is_open
            else "None: every horn is where the register has it."
        )
        return said(page, y, words)
    told = []
    for one in facts.differences:
        line = one.line
        seen = "; ".join(f"{sighting.place_words or 'no place'}, {sighting.by}" for sighting in one.sightings)
        how = f"{line.get_resolution_display()}: {line.reason} ({line.resolved_by})" if line.resolution else "not yet"
        told.append((line.number, line.get_outcome_display(), line.place_words or "none yet", seen, how))
    return rows(page, y, DIFFERENCES, told)


def _finds(page: Sheet, y: float, found: Sequence[Find]) -> float:
    if not found:
        return y
    told = []
    for one in found:
        what = one.horn.number if one.horn else one.get_resolution_display()
        how = f"{what}: {one.reason} ({one.resolved_by})" if one.resolution else "not yet"
        told.append((one.words, f"{one.place_words or 'no place'}, {one.by}", how))
    return rows(page, heading(page, y, "Found, not in the register"), FINDS, told)
