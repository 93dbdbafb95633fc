"""The heads over the columns of a table."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from fleet.reports.sheet.lines import MM
from fleet.reports.sheet.page import Sheet
from fleet.reports.sheet.ruled import RuledColumn, rows


def test_a_head_too_long_for_its_column_goes_on_below_and_no_word_of_it_is_cut():
    out = io.BytesIO()
    page = Sheet(out, school="Hill Road School", title="Report")
    short, long, one = RuledColumn("Wer", 20), RuledColumn("am Ende verliehen", 22, True), RuledColumn("Nummern", 13)

    lower = rows(page, 20, [short, long, one], [["7B", "3", "4"]]) - rows(page, 20, [short], [["7B"]])
    page.close()
    at: dict[str, tuple[float, float]] = {}
    told = PdfReader(io.BytesIO(out.getvalue())).pages[0]
    told.extract_text(visitor_text=lambda said, _c, matrix, _f, size: at.setdefault(said.strip(), (matrix[5], size)))

    assert {at[words][1] for words in ("Wer", "am Ende", "verliehen")} == {8}
    assert 7 <= at["Nummern"][1] < 8
    assert at["Wer"][0] == at["Nummern"][0] == at["verliehen"][0] < at["am Ende"][0]
    assert lower == pytest.approx(8 * 1.28 / MM)
