"""Rows written as an .xlsx file while they are read."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

from openpyxl import load_workbook

from fleet.exchange.pages.spreadsheet import LONGEST, xlsx
from tests.exchange.test_reading import read

ROW = ["H-1", date(2019, 9, 3), Decimal("1234.50"), 42, 0, None, "", "Ä < & > “ü”\n\tsecond line "]


def written(*rows: list[Any], title: str = "Horns") -> bytes:
    return b"".join(xlsx(title, [f"Heading {n}" for n in range(len(rows[0]))], iter(rows)))


def cells(*rows: list[Any]) -> list[list[Any]]:
    return [
        list(row) for row in load_workbook(io.BytesIO(written(*rows))).active.iter_rows(min_row=2, values_only=True)
    ]


def test_another_program_and_our_own_reader_find_what_was_written():
    [[number, day, amount, whole, none, *empty, words]] = cells(ROW)

    assert (number, day.date(), amount, whole, none, words) == ("H-1", ROW[1], 1234.5, 42, 0, ROW[-1])
    assert empty == [None, None]
    assert read(written(ROW))[1] == (2, ["H-1", "2019-09-03", "1234.5", "42", "0", "", "", ROW[-1].strip()])


def test_the_head_is_bold_and_stays_in_sight():
    sheet = load_workbook(io.BytesIO(written(ROW, title="Horns [old]: and whatever else there may be"))).active

    assert sheet.freeze_panes == "A2"
    assert [sheet.cell(row, 1).font.bold for row in (1, 2)] == [True, False]
    assert sheet.title == "Horns  old   and whatever else "


def test_a_day_that_programs_count_wrongly_stands_as_text():
    assert cells([date(1900, 2, 28), date(1900, 3, 1)])[0][0] == "1900-02-28"
    assert cells([date(1900, 2, 28), date(1900, 3, 1)])[0][1].date() == date(1900, 3, 1)


def test_what_would_run_is_words_even_behind_a_character_that_xml_does_not_know():
    assert cells(["=1", "\x01=1", "\ufffe\ud800+1", "a\rb\0c"]) == [["'=1", "'=1", "'+1", "abc"]]


def test_text_longer_than_a_cell_is_cut_and_more_columns_than_letters_keep_their_places():
    assert cells(["&" * (LONGEST + 1), *range(800)]) == [["&" * LONGEST, *range(800)]]


def test_the_first_bytes_go_out_before_the_first_row_is_read_and_the_rest_as_it_is():
    taken = 0

    def rows() -> Iterator[list[Any]]:
        nonlocal taken
        for taken in range(1, 20_001):
            yield [f"{taken * 7919 % 20_011:x}", taken]

    pieces, seen = xlsx("Horns", ["Number", "Place"], rows()), []
    for piece in pieces:
        assert piece
        seen.append(taken)

    assert seen[0] == 0
    assert max(later - earlier for earlier, later in pairwise(seen)) <= 10_000
    assert len(seen) > 3
