"""A list of horns on its way to the register."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from fleet.exchange.actions import imports
from fleet.exchange.forms import NOTHING
from fleet.exchange.models import RememberedColumns
from fleet.exchange.queries import imports as imports_queries
from fleet.ground.refusal import Refused
from fleet.register.actions.horns import amend_horn
from fleet.register.models import FormerNumber, Horn, Place
from tests import make
from tests.exchange.conftest import Desk, as_csv, as_ods, as_xlsx, verdicts, wrongs

HEAD = ["Register number", "What it is", "Maker", "Room", "Shelf", "Acquired on", "Price paid", "Notes"]


def test_a_messy_german_list_is_matched_and_written(desk: Desk):
    rows = [
        ["Instrumente der Blaskapelle, Stand 2026", "", "", "", "", ""],
        [],
        ["Hersteller", "Inventarnummer ", "Bezeichnung", "Standort", "Kaufdatum", "Kaufpreis"],
        ["Glocke & Sohn", "H-7", "Doppelhorn F/B", "Musiksaal", "3.9.2019", "1.234,50 €"],
        [],
        [" Müller ", "H-8 ", "Einfachhorn in B, kompakt", "musiksaal", "04.09.19", "980"],
    ]

    written = desk.bring_in(as_csv(rows, delimiter=";", encoding="cp1252"))

    assert written.header_line == 3
    assert written.columns == ["maker", "number", "described_as", "room", "acquired_on", "price"]
    seven, eight = Horn.objects.at(desk.school).order_by("number").select_related("place")
    assert (seven.maker, seven.acquired_on, seven.price) == ("Glocke & Sohn", date(2019, 9, 3), Decimal("1234.50"))
    assert (eight.maker, eight.acquired_on, eight.price) == ("Müller", date(2019, 9, 4), Decimal("980.00"))
    assert seven.place == eight.place == Place.objects.get(school=desk.school)
    assert seven.created_by == desk.head


@pytest.mark.parametrize(
    ("headings", "columns"),
    [
        (
            "Inv.-Nr. | Bezeichnung | Serien-Nr. | Anschaffungsdatum | Anschaffungspreis | Zeitwert | Aufbewahrungsort",
            "number described_as serial_number acquired_on price value room",
        ),
        (
            "N° d’inventaire | Désignation | N° de série | Date d'achat | Prix d’achat | Emplacement | Remarques",
            "number described_as serial_number acquired_on price room notes",
        ),
        (
            "Nº de inventario | Descripción | Número de serie | Fecha de compra | Precio | Ubicación | Observaciones",
            "number described_as serial_number acquired_on price room notes",
        ),
        ("Asset No. | Instrument | S/N | Date acquired | Cost", "number described_as serial_number acquired_on price"),
    ],
)
def test_headings_are_known_as_people_shorten_them(desk: Desk, headings: str, columns: str):
    rows = [headings.split(" | "), ["H-1"] + ["x"] * headings.count("|")]

    assert desk.take_in(as_csv(rows)).columns == columns.split()


def test_the_sum_under_a_list_is_no_horn(desk: Desk):
    imported = desk.looked_over(as_csv([["Nr", "Value"], ["H-1", "100"], ["Gesamt", "100"]]))

    *_, last = [sentence for *_, sentence in wrongs(imported)]
    assert last == "This reads like the sum under a list, not like a horn."


def test_a_cell_that_is_too_long_is_left_empty_and_not_cut(desk: Desk):
    imported = desk.looked_over(as_csv([["Nr", "Notes"], ["H-1", "x" * 4001], ["H-2", "x" * 4000]]))

    assert [(row, sentence) for row, _, _, sentence in wrongs(imported, "noted")] == [
        (2, "Use at most 4000 letters in one cell.")
    ]
    assert [row["after"].get("notes", "") for row in imported.batches.get().rows_that_are("new")] == ["", "x" * 4000]


def test_what_the_list_calls_a_horn_is_a_hint_and_never_a_finding(desk: Desk):
    desk.bring_in(as_csv([HEAD[:2], ["H-7", "double F/Bb"], ["H-8", "compact single"], ["H-9", "mellophone"]]))

    horns = list(Horn.objects.at(desk.school).order_by("number"))
    assert [horn.build for horn in horns] == ["", "", ""]
    assert not any(horn.is_identified for horn in horns)
    assert [horn.perhaps for horn in horns] == [
        "perhaps a full double horn in F and B♭, or a compensating double horn in F and B♭",
        "perhaps a compact single horn in F, or a compact single horn in B♭",
        "perhaps a mellophone in F, or a marching mellophone in F, or a mellophone in E♭",
    ]
    assert Horn.objects.at(desk.school).unidentified().count() == 3


def test_a_horn_that_is_identified_does_not_learn_an_old_lists_words(desk: Desk):
    make.horn(desk.school, number="H-7", build="single-f")

    imported = desk.looked_over(as_csv([HEAD[:2], ["H-7", "double"]]))

    assert verdicts(imported) == ["same"]


def test_the_preview_tells_new_changed_same_and_refused_apart_with_row_column_value_and_reason(desk: Desk):
    make.horn(desk.school, number="H-1", maker="Old Maker", build="")
    make.horn(desk.school, number="H-2", maker="Same Maker", build="")
    rows = [
        HEAD,
        ["h-1", "", "New Maker", "", "", "", "", ""],
        ["H-2", "", "Same Maker", "", "", "", "", ""],
        ["H-3", "", "A Maker", "Room 1", "Top", "3/4/2019", "10", ""],
        ["H-4", "", "", "", "Top", "31.2.2019", "1.234", "=1+1"],
        ["", "", "nobody", "", "", "", "", ""],
        ["H*5", "", "", "", "", "1.1.2030", "-5", ""],
        ["H-3", "", "twice", "", "", "", "", ""],
    ]

    imported = desk.looked_over(as_csv(rows))

    assert verdicts(imported) == ["changed", "same", "new", "new", "refused", "refused", "refused"]
    assert imports_queries.totals(imported) == {"new": 2, "changed": 1, "same": 1, "refused": 3, "noted": 1}
    assert [(row, column, value) for row, column, value, _ in wrongs(imported)] == [
        (6, "Register number", ""), (7, "Register number", "H*5"), (8, "Register number", "H-3"),
    ]  # fmt: skip
    assert [(row, column, value) for row, column, value, _ in wrongs(imported, "noted") if row < 6] == [
        (5, "Acquired on", "31.2.2019"), (5, "Price paid", "1.234"), (5, "Notes", "=1+1"), (5, "Shelf", "Top"),
    ]  # fmt: skip
    assert wrongs(imported)[-1][3] == "Row 4 has this number too."
    assert Horn.objects.at(desk.school).count() == 2


def test_the_order_of_day_and_month_is_the_persons_choice(desk: Desk):
    data = as_csv([["number", "bought"], ["H-1", "3/4/2019"]])

    first, second = (desk.looked_over(data, day_first=choice) for choice in (True, False))

    days = [one.batches.get().rows_that_are("new")[0]["after"]["acquired_on"] for one in (first, second)]
    assert days == ["2019-04-03", "2019-03-04"]


def test_empty_cells_leave_what_is_on_record(desk: Desk):
    make.horn(desk.school, number="H-1", maker="A Maker", notes="dented", build="")

    desk.bring_in(as_csv([HEAD, ["H-1", "", "", "Room 9", "", "", "", ""]]))

    horn = Horn.objects.at(desk.school).get()
    assert (horn.maker, horn.notes, str(horn.place)) == ("A Maker", "dented", "Room 9")


def test_a_number_the_school_once_gave_is_refused(desk: Desk):
    horn = make.horn(desk.school, number="H-1")
    amend_horn(horn=horn, changes={"number": "H-100"}, by=desk.head, at=make.NOW)
    assert FormerNumber.objects.get().number == "H-1"

    imported = desk.looked_over(as_csv([HEAD[:1], ["h-1"]]))

    assert [wrong[3] for wrong in wrongs(imported)] == [
        "This register number is taken. A number stays with its horn for ever."
    ]


@pytest.mark.parametrize("write", [as_csv, as_xlsx, as_ods])
def test_all_three_kinds_of_file_bring_in_the_same(desk: Desk, write):
    desk.bring_in(write([HEAD, ["H-7", "single F", "Bell", "Room 1", "", "2019-09-03", "12.50", "a note"]]))

    horn = Horn.objects.at(desk.school).get()
    assert (horn.described_as, horn.maker, str(horn.place)) == ("single F", "Bell", "Room 1")
    assert (horn.acquired_on, horn.price, horn.notes) == (date(2019, 9, 3), Decimal("12.50"), "a note")


def test_imported_and_amended_horns_are_found_by_the_search(desk: Desk):
    make.horn(desk.school, number="H-1", maker="Oldham", build="")
    desk.bring_in(as_csv([HEAD[:3], ["H-1", "", "Quillfeather"], ["H-2", "mellophone", "Umbelfort"]]))

    def found(words: str) -> list[str]:
        return sorted(horn.number for horn in Horn.objects.having_words(words, school=desk.school))

    assert [found(words) for words in ("quillf", "oldham", "umbel", "mellophone", "h-2")] == [
        ["H-1"], [], ["H-2"], ["H-2"], ["H-2"],
    ]  # fmt: skip


def test_the_matching_is_remembered_for_the_next_list_of_this_kind_and_school_only(desk: Desk):
    rows = [["Zeug", "Was", "Register number"], ["Bell", "single", "H-1"]]
    desk.looked_over(as_csv(rows), columns=["maker", "", "number"], day_first=False)

    again = desk.take_in(as_csv([[*reversed(rows[0])], [*reversed(rows[1])]]))

    assert again.columns == ["number", "", "maker"]
    assert again.day_first is False
    pupils = desk.take_in(as_csv([["Zeug", "Name"], ["a", "b"]]), kind="pupils")
    assert (pupils.columns, pupils.day_first) == (["", "name"], True)
    assert RememberedColumns.objects.count() == 1


def test_two_columns_for_one_thing_and_a_missing_number_are_refused(desk: Desk):
    imported = desk.take_in(as_csv([["a", "b"], ["c", "d"]]))

    for columns, sentence in (
        (["maker", "maker"], "Two columns are taken for “Maker”. Choose one of them."),
        (["maker", ""], "Say which column is “Register number”."),
        (["maker", "nonsense"], "Choose what each column means from the list."),
    ):
        with pytest.raises(Refused) as no:
            imports.match_columns(imported=imported, columns=columns, day_first=True)
        assert no.value.sentence == sentence


def test_a_column_without_a_heading_is_offered_with_what_stands_in_it(desk: Desk, as_):
    imported = desk.take_in(as_csv([["Number", "Maker"], ["A-1", "Bell", "gold"], ["A-2", "Bell"]]))
    page = as_(desk.head).get(f"/s/{desk.school.slug}/exchange/{imported.pk}/columns/").context["form"]

    told = [(field.label, field.help_text, field.initial) for field in page if field.name.startswith("column-")]
    assert told[1:] == [("Maker", "like Bell", "maker"), ("Column 3, without a heading", "like gold", NOTHING)]


def test_another_row_can_be_named_as_the_one_with_the_headings(desk: Desk):
    imported = desk.take_in(as_csv([["number", "maker"], ["Nr", "Bezeichnung"], ["H-1", "single"]]))

    imports.choose_header(imported=imported, line=2)

    imported.refresh_from_db()
    assert (imported.header_line, imported.columns) == (2, ["number", "described_as"])


@pytest.mark.parametrize(
    ("said", "verdict", "kept"),
    [
        ("2019", "same", "3 September 2019"),
        ("9/2019", "same", "3 September 2019"),
        ("2018", "changed", "2018"),
        ("8/2019", "changed", "August 2019"),
        ("4.9.2019", "changed", "4 September 2019"),
    ],
)
def test_a_year_or_month_does_not_take_the_place_of_a_day_in_it(desk: Desk, said: str, verdict: str, kept: str):
    make.horn(desk.school, number="H-1", acquired_on=date(2019, 9, 3), build="")

    imported = desk.looked_over(as_csv([["Nr", "Kaufdatum", "Maker"], ["H-1", said, "Bell"]]))

    assert [{*row["after"]} for row in imported.batches.get().rows if "after" in row] == [
        {"maker"} if verdict == "same" else {"maker", "acquired_on"}
    ]
    desk.write(imported)
    horn = Horn.objects.at(desk.school).get()
    assert (horn.maker, horn.acquired()) == ("Bell", kept)


def test_a_wrap_nobody_looked_at_when_the_list_went_out_erases_none_seen_since(desk: Desk):
    make.horn(desk.school, number="H-7", wrap="compact")

    imported = desk.looked_over(as_csv([["Register number", "Wrap"], ["H-7", "not looked at"]]))

    assert verdicts(imported) == ["same"]
