"""Lists as schools have them: years instead of days, sums below, names written in two ways."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from fleet.exchange.actions import imports
from fleet.exchange.actions.lists.base import Reading, a_day_or_year
from fleet.exchange.models import Import
from fleet.exchange.queries.close_names import MOST_NAMES
from fleet.exchange.reading.cells import read_month_or_year, reads_like_a_sum
from fleet.ground.refusal import Refused
from fleet.ground.wording import closest, likeness
from fleet.people.models import Pupil, School
from fleet.register.actions.horns import amend_horn
from fleet.register.forms.horns import HornForm
from fleet.register.models import Horn, Place
from tests import make
from tests.exchange.conftest import Desk, as_csv, verdicts, wrongs
from tests.pages import folded

READ = Reading(school=School(), day_first=True, today=date(2026, 9, 14))


@pytest.mark.either_engine
@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("2017", "2017"),
        ("2026", "2026"),
        ("2027", "This has not come yet."),
        ("1850", "1850"),
        ("1849", "This is too long ago; check the year."),
        ("Sept. 2018", "2018-09"),
        ("09/2018", "2018-09"),
        ("9.2026", "2026-09"),
        ("10/2026", "This has not come yet."),
        ("12/2018", "2018-12"),
        ("13/2018", "There is no such month as 13/2018."),
        ("1/2018", "2018-01"),
        ("0/2018", "There is no such month as 0/2018."),
        ("2018-09", "2018-09"),
        ("2018/9", "2018-09"),
        ("2018.12", "2018-12"),
        ("2026-10", "This has not come yet."),
        ("2018-13", "There is no such month as 2018-13."),
        ("3.9.2019", "2019-09-03"),
        ("ca. 2017", "This is no day we can read. Write it like 2026-09-14."),
    ],
)
def test_a_year_alone_is_a_year_and_a_month_with_its_year_that_month(text: str, kept: str):
    clean = a_day_or_year(HornForm, "acquired_on")
    if kept[0].isdigit():
        assert clean(text, READ) == kept
    else:
        with pytest.raises(ValidationError) as no:
            clean(text, READ)
        assert no.value.messages == [kept]


@pytest.mark.either_engine
def test_figures_without_a_year_are_no_year():
    assert [read_month_or_year(text) for text in ("201", "20170", "9/18", "3.9.2019", "")] == [None] * 5


def test_a_year_alone_stays_a_year_on_the_horn_in_words_and_on_its_way_out(desk: Desk, as_):
    rows = [["Nr", "Kaufdatum"], ["H-1", "2017"], ["H-2", "Sept. 2018"], ["H-3", "3.9.2019"], ["H-4", "früher"]]
    desk.bring_in(as_csv(rows))

    horns = list(Horn.objects.at(desk.school).order_by("number"))
    assert [(horn.acquired_on, horn.acquired(), horn.acquired("j M Y")) for horn in horns] == [
        (date(2017, 1, 1), "2017", "2017"),
        (date(2018, 9, 1), "September 2018", "Sep 2018"),
        (date(2019, 9, 3), "3 September 2019", "3 Sep 2019"),
        (None, "", ""),
    ]
    out = as_(desk.head).get(reverse("exchange:horns-out", args=[desk.school.slug]), {"as": "csv"})
    again = b"".join(out.streaming_content)
    looked_over = desk.looked_over(again)
    assert verdicts(looked_over) == ["same"] * 4
    assert wrongs(looked_over, "noted") == []
    exact = desk.bring_in(as_csv([rows[0], ["H-1", "5.6.2017"]]))
    assert Horn.objects.get(pk=horns[0].pk).acquired() == "5 June 2017"
    imports.undo(imported=exact, by=exact.by, at=make.NOW)
    assert Horn.objects.get(pk=horns[0].pk).acquired() == "2017"


def test_a_day_typed_by_hand_takes_the_place_of_a_year(desk: Desk):
    horn = make.horn(desk.school, acquired_on=date(2017, 1, 1), acquired_within="year")

    amend_horn(horn=horn, changes={"maker": "Bell"}, by=desk.head, at=make.NOW)
    horn.refresh_from_db()
    assert horn.acquired() == "2017"
    amend_horn(horn=horn, changes={"acquired_on": date(2017, 5, 2)}, by=desk.head, at=make.NOW)
    horn.refresh_from_db()
    assert horn.acquired() == "2 May 2017"


def test_one_cell_that_cannot_be_read_costs_the_cell_and_not_the_horn(desk: Desk, as_):
    rows = [["Nr", "Kaufdatum", "Kaufpreis", "Zeitwert"], ["H-1", "ca. 1998", "ca. 500", "450"], ["H-2", "", "20", ""]]
    imported = desk.looked_over(as_csv(rows))

    assert verdicts(imported) == ["new", "new"]
    assert [(row, column, value) for row, column, value, _ in wrongs(imported, "noted")] == [
        (2, "Acquired on", "ca. 1998"),
        (2, "Price paid", "ca. 500"),
    ]
    page = as_(desk.head).get(reverse("exchange:import", args=[desk.school.slug, imported.pk]))
    shown = folded(page)
    assert not any(column.orderable for column in page.context["noted_rows"].columns)
    assert "In 1 row a cell is missing or cannot be taken: what is done instead stands below." in shown
    assert "This is a rough amount. Write it like 1234.50, if it is good enough." in shown
    desk.write(imported)
    one, two = Horn.objects.at(desk.school).order_by("number")
    assert (one.acquired_on, one.price, one.value) == (None, None, Decimal("450.00"))
    assert (one.insured, two.insured) == ((Decimal("450.00"), False), (Decimal("20.00"), True))


def test_a_cell_that_says_whom_a_row_is_about_or_when_is_never_left_empty(desk: Desk):
    rows = [["Name", "Pupil id", "Left on"], ["Ada", "9" * 41, ""], ["Bea", "", "some day"], ["Cy", "1", ""]]

    imported = desk.looked_over(as_csv(rows), kind="pupils")

    assert verdicts(imported) == ["refused", "refused", "new"]


@pytest.mark.either_engine
@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("31 Summe", True), ("Summe: 31", True), ("Total", True), ("GRAND TOTAL", True), ("Gesamt 12 ", True),
        ("31", False), ("Ada Suma", False), ("", False), ("Summer", False), ("Total-1a", False),
    ],
)  # fmt: skip
def test_the_line_under_a_list_is_known(text: str, is_one: bool):
    assert reads_like_a_sum(text) is is_one


def test_the_sum_under_a_list_becomes_no_pupil(desk: Desk):
    rows = [["Nachname", "Vorname"], ["Quill", "Ada"], ["Summe", "31"], ["Summe 31", ""]]

    imported = desk.looked_over(as_csv(rows), kind="pupils")

    assert verdicts(imported) == ["new", "refused", "refused"]
    assert wrongs(imported)[0][1:] == ("Name", "31 Summe", "This reads like the sum under a list, not like a pupil.")


def test_a_list_of_horns_comes_in_as_a_list_of_the_pupils_who_have_them(desk: Desk):
    rows = [["No", "Lent to", "E-mail"], ["H-1", "Ada Quill", ""], ["H-2", "", ""], ["", "2", ""], ["", "", "a@x.org"]]

    imported = desk.looked_over(as_csv(rows), kind="pupils")

    assert imported.columns == ["", "name", "guardian_email"]
    assert verdicts(imported) == ["new", "same", "refused", "refused"]
    assert [why for *_, why in wrongs(imported)] == ["This is a number, not a name.", "It is missing."]


def test_every_row_can_be_seen_before(desk: Desk, as_):
    make.horn(desk.school, number="H-0", build="")
    rows = [["Nr", "Preis"], ["H-0", ""], *[[f"H-{n}", "x" if n == 7 else ""] for n in range(1, 53)], ["H*", ""]]
    imported = desk.looked_over(as_csv(rows))
    head, address = as_(desk.head), reverse("exchange:rows", args=[desk.school.slug, imported.pk])

    def lines(**asked: str) -> list[str]:
        table = head.get(address, asked).context["table"]
        return [str(row["line"]) for row in table.data]

    assert "52 new" in folded(head.get(reverse("exchange:import", args=[desk.school.slug, imported.pk])))
    assert lines() == [str(n) for n in range(3, 53)]
    assert lines(page="2") == ["53", "54"]
    assert [lines(are=kind) for kind in ("same", "noted", "refused", "changed")] == [["2"], ["9"], ["55"], []]
    assert lines(are="nonsense", page="99") == ["53", "54"]
    desk.write(imported)
    assert head.get(address).url == reverse("exchange:import", args=[desk.school.slug, imported.pk])


def test_every_row_begins_with_the_first_kind_that_there_is(desk: Desk, as_):
    make.horn(desk.school, number="H-0", build="")
    imported = desk.looked_over(as_csv([["Nr", "Maker"], ["H-0", "Bell"], ["H*", ""]]))
    address = reverse("exchange:rows", args=[desk.school.slug, imported.pk])

    shown = as_(desk.head).get(address)

    assert shown.context["are"] == "Changed"
    assert [row["after"] for row in shown.context["table"].data] == ["Bell"]
    assert as_(desk.head).get(address, {"are": "new"}).context["are"] == "New"


def test_rows_are_seen_across_the_batches_of_a_long_list(desk: Desk, as_, monkeypatch):
    monkeypatch.setattr(imports, "BATCH", 20)
    imported = desk.looked_over(as_csv([["Nr"], *[[f"H-{n}"] for n in range(110)]]))
    address = reverse("exchange:rows", args=[desk.school.slug, imported.pk])

    seen = [row["line"] for page in "123" for row in as_(desk.head).get(address, {"page": page}).context["table"].data]

    assert imported.batches.count() == 6
    assert seen == list(range(2, 112))


@pytest.mark.either_engine
@pytest.mark.parametrize(
    ("one", "other", "close"),
    [
        (("Blaeserklasse 5b",), ("Bläserklasse 5b",), True),
        (("Blaeserklasse 5a",), ("Bläserklasse 5b",), False),
        (("5 b",), ("5b",), True),
        (("Class 5b",), ("5b",), True),
        (("Instrumentenraum, oben", ""), ("Instrumentenraum", "oben"), True),
        (("Cupboard A", ""), ("Cupboard B", ""), False),
        (("Music room", ""), ("Musik room", ""), True),
        (("Music room", ""), ("Main hall", ""), False),
        (("Room 1", ""), ("Room 1", "Top"), False),
        (("Music room", "top left"), ("Music room", "top right"), False),
        (("Musik room", "top"), ("Music room", "Top"), True),
        (("Musik room", "top"), ("Music room", "bottom"), False),
        (("!",), ("?",), False),
        # Six letters of seven are alike, and five of six are not.
        (("quartet",), ("quartef",), True),
        (("quarte",), ("quartx",), False),
    ],
)
def test_two_names_are_close_where_only_the_writing_differs(one, other, close: bool):
    assert (closest(one, [("Elsewhere", ""), other]) == other) is close


@pytest.mark.either_engine
def test_the_closest_of_several_names_is_meant():
    assert closest(("Brass band 1",), [("Brass bond 1",), ("Brass bands 1",)]) == ("Brass bands 1",)
    assert closest(("Brass",), []) is None
    assert likeness(("ab",), ("ab",)) == 1


def test_a_class_close_to_one_there_is_asked_about_and_not_made(desk: Desk, as_):
    make.pupil(desk.school, name="There", group="Bläserklasse 5b")
    rows = [["Name", "Klasse"], ["Ada", "Blaeserklasse 5b"], ["Ben", "Bläserklasse 5b"], ["Cy", "6a"], ["Di", "6 A"]]
    imported = desk.looked_over(as_csv(rows), kind="pupils")

    assert imported.questions == [[["Blaeserklasse 5b"], ["Bläserklasse 5b"]], [["6 A"], ["6a"]]]
    with pytest.raises(Refused, match="Say first what the names mean"):
        imports.begin_writing(imported=imported)
    head, address = as_(desk.head), reverse("exchange:import", args=[desk.school.slug, imported.pk])
    shown = folded(head.get(address))
    assert "“Blaeserklasse 5b” is" in shown
    assert 'value="write"' not in shown
    assert head.post(address, {"act": "names", "name-0": "same"}).status_code == 422

    head.post(address, {"act": "names", "name-0": "same", "name-1": "new"})
    imported.refresh_from_db()
    assert (imported.state, imported.questions) == (Import.State.CHECKING, [])
    imported = desk.look_over(imported)
    assert imported.questions == []
    desk.write(imported)

    groups = dict(Pupil.objects.filter(school=desk.school).values_list("name", "group"))
    assert groups == {
        "There": "Bläserklasse 5b", "Ada": "Bläserklasse 5b", "Ben": "Bläserklasse 5b", "Cy": "6a", "Di": "6 A",
    }  # fmt: skip


def test_a_place_close_to_one_there_is_asked_about_and_not_made(desk: Desk):
    there = make.place(desk.school, room="Instrumentenraum", shelf="oben")
    make.place(desk.other, room="Musiksaal", shelf="")
    rows = [["Nr", "Raum", "Fach"], ["H-1", "Instrumentenraum, oben", ""], ["H-2", "INSTRUMENTENRAUM", "Oben"]]
    imported = desk.looked_over(as_csv([*rows, ["H-3", "Musiksaal ", ""]]))

    assert imported.questions == [[["Instrumentenraum, oben", ""], ["Instrumentenraum", "oben"]]]
    imports.settle_names(imported=imported, answers=imported.questions)
    imported.refresh_from_db()
    desk.write(desk.look_over(imported))

    assert list(Horn.objects.filter(place=there).order_by("number").values_list("number", flat=True)) == ["H-1", "H-2"]
    assert Place.objects.filter(school=desk.school).count() == 2


def test_a_room_written_in_another_way_is_meant_as_that_room_and_a_new_shelf_of_a_room_is_not_asked_about(desk: Desk):
    make.place(desk.school, room="Horn cupboard", shelf="top")
    rows = [["H-1", "Horn cuboard", ""], ["H-2", "horn cupboard", ""], ["H-3", "Horn cupboard", "left"]]

    imported = desk.looked_over(as_csv([["Nr", "Raum", "Fach"], *rows]))

    assert imported.questions == [[["Horn cuboard", ""], ["Horn cupboard", ""]]]


def test_a_column_of_names_that_are_all_different_is_not_asked_about_for_ever(desk: Desk):
    rows = [["Name", "Klasse"], *[[f"Pupil {n}", f"class number {n}"] for n in range(MOST_NAMES)]]
    near = ["Last", "clas number 1"]

    assert len(desk.looked_over(as_csv([*rows[:-1], near]), kind="pupils").questions) == 1
    assert desk.looked_over(as_csv([*rows, near]), kind="pupils").questions == []


def test_matching_the_columns_again_asks_again_about_what_is_open_only(desk: Desk):
    make.place(desk.school, room="Music room")
    imported = desk.looked_over(as_csv([["Nr", "Raum"], ["H-1", "Musik room"], ["H-2", "Musics room"]]))
    first, second = imported.questions
    imports.settle_names(imported=imported, answers=[first])
    imported.refresh_from_db()
    imported = desk.look_over(imported)

    assert imported.questions == [second]
    imports.settle_names(imported=imported, answers=[(first[0], first[0])])
    imported.refresh_from_db()
    assert imported.answers == [[first[0], first[0]]]
