"""The yearly report: the whole picture on paper, plots and tables, for the twelve months until a day."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from django.utils.translation import gettext as _s

from fleet.ground.badges import money
from fleet.ground.wording import day, in_a_row
from fleet.matching.queries.planning import Planned
from fleet.reports.queries.figures import Figures
from fleet.reports.queries.whole_picture import Section, lent_in_repair, proposed, sections
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.pictured import draw
from fleet.reports.sheet.ruled import RuledColumn, heading, rows, said

ROW = 5.6  # mm, a row of one line
# Millimetres a unit of a plot takes on paper.
SCALE = 0.22


# Rows of a table that stay below its heading, so that no heading stands alone at the foot.
TOGETHER = 4


def yearly_report_drawn(
    told: Figures,
    *,
    asked: Sequence[Section] = (),
    bench: Sequence[Section] = (),
    plan: Planned | None = None,
    paper: str,
) -> bytes:
    """The document as PDF: what governors `asked`, the picture, the `bench`, the plan of buying where there is one. No
    query."""
    out = BytesIO()
    title = _s("Yearly report, %(day)s") % {"day": day(told.until)}
    page = Sheet(out, school=told.school.name, title=title, paper=paper)
    opening = _s(
        "Horns kept: %(horns)d, of them out on loan: %(out)d. Repairs that ended since %(day)s cost %(spent)s. What "
        "there is, where it is and what is idle is as of the day of printing."
    ) % {
        "horns": told.horns,
        "out": told.out,
        "day": day(told.since),
        "spent": money(told.spent, told.school.currency),
    }
    y = said(page, BODY_TOP, in_a_row(opening, lent_in_repair(told)), size=10)
    told_of = [*asked, *sections(told), *bench, *([proposed(told.school, plan)] if plan else [])]
    for section in told_of:
        if section.rows:
            y = _section(page, y, section)
    if without := [section for section in told_of if not section.rows]:
        y = heading(page, y + 2.0, _s("Besides"))
        for section in without:
            y = said(page, y, f"{section.heading}: {section.sentence}", grey=True)
    page.close()
    return out.getvalue()


def _section(page: Sheet, y: float, section: Section) -> float:
    plot = section.plot
    high = plot.height * SCALE if plot is not None else 0.0
    # A plot too high for any page is left to its table.
    if high > BODY_END - BODY_TOP - 40:
        plot, high = None, 0.0
    # A table goes on over the page, without its plot too, rather than leave half of one empty.
    keep = high or ROW * min(len(section.rows), TOGETHER)
    y = heading(page, y + 2.0, section.heading, keep=keep + 16.0)
    page.entry(section.heading)
    y = said(page, y, section.sentence, grey=True)
    if plot is not None:
        y = draw(page, plot, 0, y, SCALE) + 1.0
    figures_wide = 22.0
    words = sum(1 for _, holds_figures in section.columns if not holds_figures)
    rest = (WIDTH - figures_wide * (len(section.columns) - words)) / words
    columns = [RuledColumn(name, figures_wide if holds else rest, holds) for name, holds in section.columns]
    return rows(page, y, columns, section.rows, summed=section.summed)
