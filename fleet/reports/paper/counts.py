"""A count on paper: the sheet to count with, and the report that is kept."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from io import BytesIO
from itertools import groupby

from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.counting.models import Count, Find, Line
from fleet.counting.queries import shelves
from fleet.counting.queries.facts import CountFacts
from fleet.counting.queries.outcomes import ACCOUNTED
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day, in_a_row, moment
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.register.models.kinds import said_again
from fleet.reports.sheet.page import BODY_TOP, Sheet
from fleet.reports.sheet.ruled import TO_WRITE, RuledColumn, heading, rows, said, to_sign

NUMBER, RESOLVED = _s_lazy("number"), _s_lazy("resolved")
SHEET = (
    RuledColumn(NUMBER, 30),
    RuledColumn(_s_lazy("what it is"), 88),
    RuledColumn(_s_lazy("seen, condition"), 65),
)
# What a counter reads beside a horn that nobody need look for.
AWAY: dict[Horn.Where, str] = {
    **{where: where.label for where in ACCOUNTED if where != Horn.Where.WITHDRAWN},
    Horn.Where.NOT_FOUND: _s_lazy("not found before"),
}
DIFFERENCES = (
    RuledColumn(NUMBER, 24),
    RuledColumn(_s_lazy("how it ended"), 28),
    RuledColumn(_s_lazy("its place"), 32),
    RuledColumn(_s_lazy("seen"), 38),
    RuledColumn(RESOLVED, 68),
)
FINDS = (RuledColumn(_s_lazy("found"), 50), RuledColumn(_s_lazy("where, by"), 60), RuledColumn(RESOLVED, 80))
NOTES = (RuledColumn(NUMBER, 24), RuledColumn(_s_lazy("what was noted"), 116), RuledColumn(_s_lazy("by"), 50))


def count_sheet_drawn(count: Count, listed: Iterable[Line], *, school: School, paper: str) -> bytes:
    """The PDF to count with; `listed` are the lines that are expected, place by place."""
    page, out = _page(_s("Count sheet, %(day)s"), count, school, paper)
    how = _s("%(count)s. Tick what you see; write anything else found here at the end of its place.")
    y = said(page, BODY_TOP, how % {"count": count.in_words})
    any_listed = False
    for place, lines in groupby(listed, key=lambda line: line.place_words):
        any_listed = True
        y = heading(page, y, place or _s("No place yet"), keep=3 * TO_WRITE)
        told = [
            (
                line.number,
                said_again(line.kind) or _s("not identified"),
                str(AWAY.get(Horn.Where(line.where_at_start), "")),
            )
            for line in lines
        ]
        y = rows(page, y, SHEET, [*told, ("", _s("also seen here:"), ""), ("", "", "")], tick=True)
    if not any_listed:
        y = said(page, y, _s("No horn is on the list of this count."))
    what = _s("To the count of %(day)s.") % {"day": _begun(count)}
    to_sign(page, y, [_s("counted by: signature, name"), _s("date")], what=what)
    page.close()
    return out.getvalue()


def count_report_drawn(facts: CountFacts, *, school: School, paper: str) -> bytes:
    """The PDF of how a count stands or ended; the same words every time once it is signed."""
    count = facts.count
    page, out = _page(_s("Count report, %(day)s"), count, school, paper)
    y = said(page, BODY_TOP, count.in_words, size=13)
    y = said(page, y, _who(facts))
    if count.is_open:
        y = said(page, y, _s("This count is still open: what stands here will change."))
    y = heading(page, y, _s("How the horns ended"))
    words = {Line.Outcome.NOT_FOUND: _s("not seen yet")} if count.is_open else {}
    told = [(words.get(outcome, outcome.label), str(n)) for outcome, n in shelves.in_order(facts.numbers)]
    y = rows(
        page,
        y,
        (RuledColumn("", 90), RuledColumn(_s("horns"), 30, figures=True)),
        [*told, (_s("all"), str(sum(facts.numbers.values())))],
    )
    if facts.finds:
        y = said(page, y, _s("Found besides, not in the register: %(count)d.") % {"count": len(facts.finds)})
    if (sample := facts.sample) is not None:
        y = said(page, heading(page, y, _s("What the sample says")), sample.sentence)
        y = said(page, y, sample.note, size=8, grey=True) if sample.note else y
        drawn = _s(
            "Drawn with seed %(seed)s from %(population)s horns, for %(confidence)s %% confidence within %(margin)s in "
            "100."
        )
        how = {"seed": count.seed, "population": count.population, "confidence": count.confidence}
        y = said(page, y, drawn % {**how, "margin": count.margin}, size=8, grey=True)
    y = _differences(page, heading(page, y, _s("Differences")), facts)
    y = _finds(page, y, facts.finds)
    if facts.noted:
        told_notes = [(one.line.number, one.note, str(one.by)) for one in facts.noted]
        y = rows(page, heading(page, y, _s("Noted in passing")), NOTES, told_notes)
    if not count.signed_at:
        what = _s("To the count of %(day)s. Horns: %(horns)d, differences: %(differences)d.") % {
            "day": _begun(count),
            "horns": sum(facts.numbers.values()),
            "differences": len(facts.differences),
        }
        to_sign(page, y, [_s("somebody who did not count: signature, name"), _s("date")], what=what)
    page.close()
    return out.getvalue()


def _page(title: str, count: Count, school: School, paper: str) -> tuple[Sheet, BytesIO]:
    out = BytesIO()
    return Sheet(out, school=school.name, title=title % {"day": _begun(count)}, paper=paper), out


def _begun(count: Count) -> str:
    return day(timezone.localtime(count.started_at))


def _who(facts: CountFacts) -> str:
    def told(sentence: str, by: object, at: datetime) -> str:
        return sentence % {"name": by, "at": moment(at)}

    count, counted = facts.count, ", ".join(map(str, facts.counted_by))
    return in_a_row(
        told(_s("Begun by %(name)s, %(at)s."), count.started_by, count.started_at),
        _s("Counted by %(names)s.") % {"names": counted} if counted else _s("Counted by nobody."),
        told(_s("Ended by %(name)s, %(at)s."), count.ended_by, count.ended_at) if count.ended_at else "",
        told(_s("Signed by %(name)s, who did not count, %(at)s."), count.signed_by, count.signed_at)
        if count.signed_at
        else "",
    )


def _differences(page: Sheet, y: float, facts: CountFacts) -> float:
    if not facts.differences:
        words = (
            _s("Not known before the counting is ended.")
            if facts.count.is_open
            else _s("None: every horn is where the register has it.")
        )
        return said(page, y, words)
    told = []
    for one in facts.differences:
        line = one.line
        seen = "; ".join(f"{sighting.place_words or _s('no place')}, {sighting.by}" for sighting in one.sightings)
        how = (
            f"{line.get_resolution_display()}: {line.reason} ({line.resolved_by})" if line.resolution else _s("not yet")
        )
        told.append((line.number, line.get_outcome_display(), line.place_words or _s("none yet"), seen, how))
    return rows(page, y, DIFFERENCES, told)


def _finds(page: Sheet, y: float, found: Sequence[Find]) -> float:
    if not found:
        return y
    told = []
    for one in found:
        what = one.horn.number if one.horn else one.get_resolution_display()
        how = f"{what}: {one.reason} ({one.resolved_by})" if one.resolution else _s("not yet")
        told.append((one.words, f"{one.place_words or _s('no place')}, {one.by}", how))
    return rows(page, heading(page, y, _s("Found, not in the register")), FINDS, told)
