"""Cards of builds: two share a sheet, one alone has its care below."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from fleet.reports.paper.guide import cards_drawn
from identify.core.horns.catalogue import catalogue


@pytest.mark.parametrize(
    ("codes", "pages", "cared"),
    [(("mellophone-f",), 1, True), (("mellophone-f", "single-f"), 1, False), (("single-f",) * 3, 2, False)],
)
def test_a_card_alone_fills_its_sheet_with_how_it_is_looked_after(codes, pages, cared):
    drawn = cards_drawn([catalogue()[code] for code in codes], school="Hill Road School", paper="a4")
    reader = PdfReader(io.BytesIO(drawn))

    assert len(reader.pages) == pages
    assert ("take the pistons out one at a time" in reader.pages[0].extract_text()) == cared
