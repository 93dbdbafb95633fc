"""Spreadsheets: what is read of them, and what is refused before it is read."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date
from typing import Any

import pytest

from fleet.exchange.reading import bounds
from fleet.exchange.reading.looks import SheetLook, look_at_ods, look_at_xlsx
from tests.exchange.conftest import as_ods, as_xls, as_xlsx
from tests.exchange.test_reading import CONTAINER, ROWS, read, refusal, said


@pytest.mark.parametrize("write", [as_xlsx, as_ods, as_xls])
def test_days_and_numbers_of_a_spreadsheet_become_plain_text(write: Any):
    rows = [["Nr", "Day", "Price"], [42, date(2019, 9, 3), 1234.5]]

    assert read(write(rows))[1] == (2, ["42", "2019-09-03", "1234.5"])


@pytest.mark.parametrize("write", [as_xlsx, as_xls])
def test_a_ticked_cell_says_yes_and_one_that_is_not_no(write: Any):
    assert read(write([["Nr", "Ours", "Old"], ["H-1", True, False]]))[1] == (2, ["H-1", "yes", "no"])


def test_a_merged_title_stands_in_one_cell():
    data = as_xlsx([["Inventory 2026", None, None], ["Nr", "Maker", "Model"], [1, "A", "B"]], merged="A1:C1")

    assert read(data) == [(1, ["Inventory 2026"]), (2, ["Nr", "Maker", "Model"]), (3, ["1", "A", "B"])]


def test_the_first_sheet_with_anything_in_it_is_read_and_that_is_said():
    assert said(as_xlsx([["Nr"], ["1"]], more_sheets=2)) == ["The file has 3 sheets; “Sheet” was read."]


def test_an_old_spreadsheet_is_read_and_what_is_not_told_of_it_is_said():
    assert said(as_xls(ROWS, more_sheets=1)) == [
        "In an old .xls file formulas are not told from other cells: the values it was saved with are taken.",
        "The file has 2 sheets; “Sheet” was read.",
    ]
    assert [cells for _, cells in read(as_xls(ROWS))] == ROWS


def test_an_old_spreadsheet_with_macros_or_too_large_to_be_looked_at_is_refused():
    macros = as_xls(ROWS) + "_VBA_PROJECT_CUR\0".encode("utf-16-le")

    assert refusal(macros) == "This file carries macros. Save it as .xlsx, without them, and send that."
    assert refusal(as_xls(ROWS) + bytes(bounds.LARGEST_OLD_FILE)) == (
        "This old .xls file is larger than 2 MB. Save it as .xlsx."
    )


def test_a_spreadsheet_with_a_password_is_refused():
    # An encrypted .xlsx is a container of streams [MS-OFFCRYPTO 2.3.4.4]; an encrypted .ods says so in its manifest.
    locked = CONTAINER + "Root Entry\0EncryptedPackage\0".encode("utf-16-le")
    ods = rewritten(
        as_ods(ROWS), "META-INF/manifest.xml", lambda xml: xml.replace(b"</", b"<manifest:encryption-data/></", 1)
    )

    assert refusal(locked) == refusal(ods) == "This file has a password. Save it without one."


def test_a_formula_is_never_computed_and_shows_as_one():
    data = as_xlsx([["Nr", "Value"], ["H-1", "=1+1"], ["H-2", 3]])

    assert read(data) == [(1, ["Nr", "Value"]), (2, ["H-1", "="]), (3, ["H-2", "3"])]
    assert said(data) == ["Cells with a formula: 1. None was run: the value the file was saved with is taken."]


def test_a_formula_saved_with_its_value_gives_that_value():
    data = as_xlsx([["Nr", "Value"], ["H-1", "=1+1"]])
    data = rewritten(
        data,
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(b"<v></v>", b"<v>2</v>").replace(b"<v />", b"<v>2</v>"),
    )

    assert read(data)[1] == (2, ["H-1", "2"])


def test_a_formula_without_a_value_shows_at_the_end_of_the_sheet_and_in_an_open_document():
    assert read(as_xlsx([["Nr", "Value"], ["H-1"], [None, "=A1", "=B1"]]))[2] == (3, ["", "=", "="])

    data = rewritten(
        as_ods(ROWS),
        "content.xml",
        lambda xml: xml.replace(b"</table:table>", FORMULAS + b"</table:table>"),
    )
    assert read(data)[3] == (4, ["=", "2", "#N/A"])
    assert said(data) == ["Cells with a formula: 3. None was run: the value the file was saved with is taken."]


FORMULAS = (
    b"<table:table-row>"
    b'<table:table-cell table:formula="of:=1"/>'
    b'<table:table-cell table:formula="of:=2" office:value-type="float" office:value="2"><text:p>2</text:p>'
    b'</table:table-cell><table:table-cell table:formula="of:=NA()" office:value-type="string" '
    b'office:string-value="" xmlns:calcext="urn:x" calcext:value-type="error"><text:p>#N/A</text:p></table:table-cell>'
    b"</table:table-row>"
)


def test_rows_and_cells_that_do_not_say_where_they_stand_follow_one_another():
    data = rewritten(
        as_xlsx([["Nr", "Value"], ["H-1", 3], [None, "=A1"]]),
        "xl/worksheets/sheet1.xml",
        lambda xml: re.sub(rb' r="\w+"', b"", xml),
    )

    assert read(data) == [(1, ["Nr", "Value"]), (2, ["H-1", "3"]), (3, ["="])]


def test_a_sheet_is_measured_by_its_rows_its_farthest_cell_and_its_text():
    xlsx = (
        b'<s><row r="2"><c r="A2"><v>12</v></c><c t="s"><v>1</v></c></row><row><c r="B7"><f>1</f><v>3</v></c></row></s>'
    )
    cells = b'<table:table-cell/><table:table-cell table:number-columns-repeated="2"><text:p>ab</text:p>'
    ods = (
        b'<d xmlns:table="t" xmlns:text="x"><table:table table:name="One"><table:table-row/>'
        b'<table:table-row table:number-rows-repeated="3">' + cells + b"</table:table-cell></table:table-row>"
        b"</table:table></d>"
    )

    assert look_at_xlsx(xlsx, [5, 9]) == SheetLook(rows=2, last=7, width=2, text=2 + 9 + 1, formulas=1)
    assert look_at_ods(ods) == {"One": SheetLook(rows=3, last=4, width=3, text=3 * 2 * 2)}


def test_an_error_in_a_cell_is_shown_and_not_left_blank():
    data = rewritten(
        as_xlsx(ROWS),
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(b"</sheetData>", b'<row r="4"><c r="B4" t="e"><v>#REF!</v></c></row></sheetData>'),
    )

    assert read(data)[3] == (4, ["", "#REF!"])


def test_blanks_and_line_ends_in_an_open_document_are_kept_and_its_remarks_left_out():
    data = rewritten(
        as_ods([["Nr"], ["word"]]),
        "content.xml",
        lambda xml: xml.replace(
            b"<text:p>word</text:p>",
            b'<office:annotation><text:p>a remark</text:p></office:annotation><text:p>a<text:s text:c="2"/>b '
            b"<text:span>c</text:span></text:p><text:p>d</text:p>",
        ),
    )

    assert read(data)[1] == (2, ["a  b c\nd"])


def rewritten(data: bytes, part: str, change: Any, *, add: dict[str, bytes] | None = None) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(old.read(name)) if name == part else old.read(name))
        for name, content in (add or {}).items():
            new.writestr(name, content)
    return out.getvalue()


def test_macros_are_refused():
    data = rewritten(as_xlsx(ROWS), "", None, add={"xl/vbaProject.bin": b"\xd0\xcf"})

    assert refusal(data) == "This file carries macros. Save it as .xlsx, without them, and send that."


def test_entities_that_grow_are_refused_before_they_are_read():
    bomb = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]>'
    for data, part in ((as_xlsx(ROWS), "xl/worksheets/sheet1.xml"), (as_ods(ROWS), "content.xml")):
        changed = rewritten(
            data, part, lambda xml: bomb + xml.partition(b"?>")[2] if xml.startswith(b"<?xml") else bomb + xml
        )
        assert refusal(changed) == bounds.NO_SPREADSHEET


def test_a_zip_bomb_is_refused_by_what_it_unpacks_to():
    data = rewritten(as_xlsx(ROWS), "", None, add={"xl/media/image1.bin": bytes(bounds.LARGEST_UNPACKED + 1)})
    assert len(data) < 200_000

    assert refusal(data) == bounds.unpacks_too_large().sentence


def test_a_sheet_filled_with_a_million_equal_rows_is_refused():
    data = rewritten(
        as_ods(ROWS),
        "content.xml",
        lambda xml: xml.replace(b"<table:table-row>", b'<table:table-row table:number-rows-repeated="1048576">'),
    )

    assert refusal(data) == bounds.too_long().sentence


def test_one_cell_in_the_farthest_corner_is_not_given_a_sheet_full_of_room():
    # 1,048,576 rows of 16,384 columns, which the library holds one and all.
    for attributes in (b'r="XFD1048576"', b"s='1' r='XFD1048576'"):
        data = rewritten(
            as_xlsx(ROWS),
            "xl/worksheets/sheet1.xml",
            lambda xml, said=attributes: xml.replace(
                b"</sheetData>", b'<row r="1048576"><c ' + said + b"><v>1</v></c></row></sheetData>"
            ),
        )
        assert refusal(data) == bounds.unpacks_too_large().sentence


def test_a_long_text_that_a_million_cells_share_is_refused():
    cells = b"".join(b'<c r="%c%d" t="s"><v>0</v></c>' % (65 + n % 26, n // 26 + 1) for n in range(20_000))
    relation = (
        b'<Relationship Id="s" Target="sharedStrings.xml" Type="http://schemas.openxmlformats.org/officeDocument/2006/'
        b'relationships/sharedStrings"/></Relationships>'
    )
    data = rewritten(
        as_xlsx(ROWS),
        "xl/_rels/workbook.xml.rels",
        lambda xml: xml.replace(b"</Relationships>", relation),
    )
    data = rewritten(
        data,
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(b"</sheetData>", b"<row>" + cells + b"</row></sheetData>"),
        add={"xl/sharedStrings.xml": b"<sst><si><t>" + b"x" * 30_000 + b"</t></si></sst>"},
    )
    assert len(data) < 200_000

    assert refusal(data) == bounds.unpacks_too_large().sentence


def test_an_open_document_filled_to_its_end_with_nothing_is_read():
    # As the spreadsheet programs write it: the rest of the sheet as one empty row, repeated.
    rest = (
        b'<table:table-row table:number-rows-repeated="1048573">'
        b'<table:table-cell table:number-columns-repeated="16384"/>'
        b"</table:table-row></table:table>"
    )
    data = rewritten(as_ods(ROWS), "content.xml", lambda xml: xml.replace(b"</table:table>", rest))

    assert [cells[0] for _, cells in read(data)] == ["Nr", "H-1", "H-2"]


def test_a_million_empty_rows_below_the_list_do_no_harm():
    data = rewritten(
        as_xlsx(ROWS),
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(b"</sheetData>", b'<row r="1048576"><c r="A1048576" /></row></sheetData>'),
    )

    assert [cells[0] for _, cells in read(data)] == ["Nr", "H-1", "H-2"]


def test_rows_formatted_to_the_end_of_the_sheet_are_not_all_walked_through():
    down = "".join(f'<row r="{n}"><c r="A{n}" s="0"/></row>' for n in range(4, 9000))
    data = rewritten(
        as_xlsx(ROWS),
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(
            b"</sheetData>", f'{down}<row r="9001"><c r="A9001"><v>1</v></c></row>'.encode() + b"</sheetData>"
        ),
    )

    assert [cells[0] for _, cells in read(data)] == ["Nr", "H-1", "H-2"]
    assert said(data) == ["Below row 3 come 2000 blank rows; what may follow them was not read."]


@pytest.mark.parametrize("write", [as_xlsx, as_ods, as_xls])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_a_file_that_was_cut_off_is_damaged(write: Any, share: float):
    data = write(ROWS)

    assert refusal(data[: int(len(data) * share)]) == bounds.DAMAGED
