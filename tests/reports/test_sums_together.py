"""The sum of a table on paper stands on the page of the row above it."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from fleet.reports.sheet.lines import leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, Sheet
from fleet.reports.sheet.ruled import SIZE, RuledColumn, rows

ROW, HEAD = max(5.0, leading(SIZE) + 1.4), 5.6
LINES = [["Horns"], ["Tubas"], ["All"]]


def pages(room: float, *, summed: bool, lines: list[list[str]], heads: bool = False) -> list[list[str]]:
    """The words of each page of a table that begins with so much room, in mm, left on the first; its `heads` too."""
    out = io.BytesIO()
    page = Sheet(out, school="Hill Road", title="A table", paper="a4")
    rows(page, BODY_END - room, [RuledColumn("What", 60)], lines, summed=summed)
    page.close()
    words = {"Horns", "Tubas", "All", *(["What"] if heads else [])}
    read = PdfReader(io.BytesIO(out.getvalue())).pages
    return [[word for word in one.extract_text().split() if word in words] for one in read]


@pytest.mark.parametrize(
    ("room", "summed", "told"),
    [
        (HEAD + 3 * ROW + 0.1, True, [["Horns", "Tubas", "All"]]),
        (HEAD + 3 * ROW - 0.1, True, [["Horns"], ["Tubas", "All"]]),
        (HEAD + 2 * ROW + 0.1, True, [["Horns"], ["Tubas", "All"]]),
        (HEAD + 2 * ROW + 0.1, False, [["Horns", "Tubas"], ["All"]]),
        (HEAD + 2 * ROW - 0.1, True, [["Horns"], ["Tubas", "All"]]),
        (HEAD + ROW + 0.1, True, [["Horns"], ["Tubas", "All"]]),
    ],
)
def test_the_sum_never_stands_alone_on_the_next_page(room: float, summed: bool, told: list[list[str]]):
    assert pages(room, summed=summed, lines=LINES) == told


def test_the_heads_of_a_table_never_stand_alone_at_the_foot():
    assert pages(HEAD + ROW + 0.1, summed=False, lines=LINES[:1], heads=True) == [["What", "Horns"]]
    assert pages(HEAD + ROW - 0.1, summed=False, lines=LINES[:1], heads=True) == [[], ["What", "Horns"]]


def test_a_table_with_nothing_but_a_sum_is_drawn_as_it_is():
    assert pages(BODY_END - BODY_TOP, summed=True, lines=[["All"]]) == [["All"]]
    assert pages(BODY_END - BODY_TOP, summed=True, lines=[]) == [[]]
