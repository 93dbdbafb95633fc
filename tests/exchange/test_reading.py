"""Files as people really keep them, and files that are none."""

from __future__ import annotations

import io
import struct
import zipfile
from datetime import date
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from fleet.exchange.reading import bounds
from fleet.exchange.reading.bounds import Notes
from fleet.exchange.reading.cells import plain, read_amount, read_day, safe, tidy
from fleet.exchange.reading.file import lines_of
from fleet.exchange.reading.told import told
from fleet.ground.refusal import Refused
from tests.exchange.conftest import as_csv, as_ods, as_xls, as_xlsx

ROWS = [["Nr", "Hersteller", "gekauft"], ["H-1", "Glocke & Sohn", "3.9.2019"], ["H-2", "Müller", "4.9.2019"]]

CONTAINER = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)  # the container of .xls and .doc files [MS-CFB]


def read(data: bytes) -> list[tuple[int, list[str]]]:
    return list(lines_of(io.BytesIO(data), Notes()))


def said(data: bytes) -> list[str]:
    notes = Notes()
    list(lines_of(io.BytesIO(data), notes))
    return [told(*note) for note in notes.sentences]


def refusal(data: bytes) -> str:
    with pytest.raises(Refused) as no:
        read(data)
    return no.value.sentence


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "utf-32"])
def test_a_csv_file_is_read_in_any_letters_and_with_any_separator(delimiter, encoding):
    found = read(as_csv(ROWS, delimiter=delimiter, encoding=encoding))

    assert [cells for _, cells in found] == ROWS


def test_a_comma_in_the_words_does_not_pass_for_the_separator():
    text = "Nr;Bemerkung\r\n1;grün, alt, verbeult\r\n2;schön, neu, teuer\r\n3;ohne\r\n"

    assert read(text.encode())[1] == (2, ["1", "grün, alt, verbeult"])


def test_a_first_line_that_only_names_the_separator_is_no_row():
    assert read(b"sep=|\r\nNr|Maker\r\n1|A;B\r\n")[0] == (1, ["Nr", "Maker"])


def test_quotes_line_ends_and_doubled_quotes_inside_a_cell_are_kept():
    assert read(b'Nr,Notes\r\n1,"two\r\nlines, and ""quotes"""\r\n')[1] == (2, ["1", 'two\r\nlines, and "quotes"'])


@pytest.mark.parametrize("write", [as_csv, as_xlsx, as_ods, as_xls])
def test_blank_lines_and_blanks_around_words_are_left_out_but_rows_keep_their_numbers(write: Any):
    rows = [
        ["Horns of the school", "", ""],
        ["", "", ""],
        ["Nr", " Maker ", ""],
        ["", "", ""],
        ["H-1 ", "\u00a0Bell", "x "],
    ]

    assert read(write(rows)) == [(1, ["Horns of the school"]), (3, ["Nr", "Maker"]), (5, ["H-1", "Bell", "x"])]


def test_a_zip_bomb_that_lies_about_its_size_is_damaged():
    out = io.BytesIO()
    sheet = b"<row>" + b" " * 5_000_000
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        new.writestr("xl/workbook.xml", b"<workbook/>")
        new.writestr("xl/worksheets/sheet1.xml", sheet)
    data = out.getvalue().replace(struct.pack("<L", len(sheet)), struct.pack("<L", 100))

    assert refusal(data) == bounds.DAMAGED


def test_a_million_rows_are_refused_without_being_held():
    text = b"Nr\r\n" + b"1\r\n" * 1_000_000

    assert refusal(text) == bounds.too_long().sentence


def test_a_quotation_mark_that_is_never_closed_swallows_no_rows():
    sentence = refusal(b'Nr,Maker\r\nH-1,"Bell\r\nH-2,Bell\r\nH-3,Bell\r\n')

    assert sentence.startswith("In row 2 a quotation mark is opened and never closed")
    assert read(b'Nr,Maker\r\nH-1,Bell 12" wide\r\nH-2,Bell\r\n')[1] == (2, ["H-1", 'Bell 12" wide'])
    assert read(b'Nr,Maker\r\nH-1,"Bell\r\n"" of 12"\r\n')[1] == (2, ["H-1", 'Bell\r\n" of 12'])


def test_a_web_page_is_refused_whatever_its_name_says():
    assert refusal(b"\xef\xbb\xbf\r\n<html><table><tr><td>Nr</td></tr></table></html>") == bounds.A_WEB_PAGE


def test_too_many_columns_are_refused():
    assert (
        refusal(as_xlsx([["Nr"], [*[""] * 60, "x"]]))
        == "This sheet has more than 60 columns. Take out what does not belong to the list."
    )
    assert (
        refusal(as_csv([[*"x" * 61]]))
        == "This sheet has more than 60 columns. Take out what does not belong to the list."
    )


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "This file is empty."),
        (b"%PDF-1.7 nothing", bounds.NO_SPREADSHEET),
        (b"\x89PNG\r\n\x1a\n" + bytes(50), bounds.NO_SPREADSHEET),
        (bytes(range(256)) * 40, bounds.NO_SPREADSHEET),
        (b"PK\x03\x04 not really", bounds.DAMAGED),
        (CONTAINER, bounds.DAMAGED),
        (CONTAINER + "Root Entry\0WordDocument\0".encode("utf-16-le"), bounds.NO_SPREADSHEET),
        (CONTAINER + "Root Entry\0Workbook\0".encode("utf-16-le"), bounds.DAMAGED),
        (bytes(bounds.LARGEST_FILE + 1), "This file is larger than 10 MB. Cut it into parts."),
    ],
)
def test_what_is_no_spreadsheet_is_refused_with_a_sentence(data, sentence):
    assert refusal(data) == sentence


def test_another_kind_of_archive_is_no_spreadsheet():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as new:
        new.writestr("letter.txt", "hello")

    assert refusal(out.getvalue()) == bounds.NO_SPREADSHEET


@given(st.text(max_size=40))
def test_text_made_safe_never_starts_a_formula_and_comes_back_as_it_was(text):
    out = safe(text)

    assert not out.startswith(("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠"))
    assert plain(out) == text


@pytest.mark.parametrize("text", ["=1+1", "+353 1", "-5", "@x", "\ty", "\rz", "'=1", "''=1", "＝1"])
def test_each_beginning_a_spreadsheet_runs_gets_an_apostrophe(text):
    # OWASP ASVS 5.0, 1.2.10.
    assert safe(text) == f"'{text}"
    assert plain(safe(text)) == text


TODAY = date(2026, 9, 14)


@pytest.mark.parametrize(
    ("text", "day_first", "day"),
    [
        ("2026-03-04", True, date(2026, 3, 4)),
        ("3.4.2026", True, date(2026, 4, 3)),
        ("3/4/2026", True, date(2026, 4, 3)),
        ("3/4/2026", False, date(2026, 3, 4)),
        ("03-04-19", True, date(2019, 4, 3)),
        ("1.2.99", True, date(1999, 2, 1)),
        ("14. März 2019", True, date(2019, 3, 14)),
        ("3 Sept 2019", False, date(2019, 9, 3)),
        ("3-Sep-19", True, date(2019, 9, 3)),
        ("September 3, 2019", True, date(2019, 9, 3)),
        ("1er août 2019", True, date(2019, 8, 1)),
        ("1 août 2019", True, date(2019, 8, 1)),
        # 43711 is 3 September 2019 in the spreadsheet programs' count of days, 1 January 1900 being 1 (ISO 29500).
        ("43711", True, date(2019, 9, 3)),
        ("2019-09-03 00:00:00", True, date(2019, 9, 3)),
        ("31.2.2026", True, None),
        ("soon", True, None),
    ],
)
def test_days_are_read_as_people_write_them(text, day_first, day):
    if day is None:
        with pytest.raises(ValidationError):
            read_day(text, day_first=day_first, today=TODAY)
    else:
        assert read_day(text, day_first=day_first, today=TODAY) == day


def test_a_month_beyond_december_asks_whether_the_order_is_wrong():
    with pytest.raises(ValidationError, match="Is the month before the day in this file"):
        read_day("3/25/2026", day_first=True, today=TODAY)


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("1234.5", "1234.5"), ("1.234,50 €", "1234.50"), ("£1,234.50", "1234.50"), ("1 234,5", "1234.5"),
        ("CHF 1'200.-", "1200"), ("1,234,567", "1234567.0"), ("980", "980"), ("1.234", None), ("1,234", None),
        ("free", None), ("Fr. 900", "900"), ("900 Fr.", "900"), ("ca. 900", None), ("ca 900", None),
        ("about 900", None), ("~ 900", None), ("CAD 900", "900"),
    ],
)  # fmt: skip
def test_amounts_are_read_as_people_write_them_and_refused_when_they_may_mean_two(text, amount):
    if amount is None:
        with pytest.raises(ValidationError):
            read_amount(text)
    else:
        assert str(read_amount(text)) == amount


def test_characters_nobody_sees_are_taken_off():
    assert tidy("\ufeff\u00a0 H-1\u200b ") == "H-1"


def test_as_many_rows_as_are_allowed_are_read(monkeypatch):
    monkeypatch.setattr("fleet.exchange.reading.file.MOST_ROWS", 3)

    assert refusal(b"Nr\r\n1\r\n2\r\n3\r\n") == bounds.too_long().sentence
    assert [cells for _, cells in read(b"Nr\r\n1\r\n2\r\n")] == [["Nr"], ["1"], ["2"]]
