"""A name of a list is asked about once, and what is answered holds however its capitals are written."""

from __future__ import annotations

from fleet.exchange.actions import imports
from fleet.exchange.models import Import
from fleet.register.models import Horn, Place
from tests import make
from tests.exchange.conftest import Desk, as_csv


def answered(desk: Desk, imported: Import) -> Import:
    imports.settle_names(imported=imported, answers=imported.questions)
    imported.refresh_from_db()
    return desk.look_over(imported)


def test_a_room_is_asked_about_once_whatever_its_capitals(desk: Desk):
    music = make.place(desk.school, room="Music room")
    rows = [["Nr", "Raum"], ["H-1", "Musik Room"], ["H-2", "musik room"], ["H-3", "MUSIK ROOM"]]
    imported = desk.looked_over(as_csv(rows))
    assert imported.questions == [[["Musik Room", ""], ["Music room", ""]]]

    imported = answered(desk, imported)

    assert imported.questions == []
    desk.write(imported)
    assert list(Horn.objects.at(desk.school).values_list("place", flat=True)) == [music.pk] * 3


def test_a_misspelt_room_is_asked_about_whatever_its_shelves(desk: Desk):
    make.place(desk.school, room="Instrumentenraum", shelf="unten")
    rows = [["Nr", "Raum", "Fach"], ["H-1", "Instrumentenraun", "oben"], ["H-2", "instrumentenraun", "links"]]
    imported = desk.looked_over(as_csv([*rows, ["H-3", "Hauskeller", "A"], ["H-4", "Hauskellar", "B"]]))
    assert imported.questions == [
        [["Instrumentenraun", ""], ["Instrumentenraum", ""]],
        [["Hauskellar", ""], ["Hauskeller", ""]],
    ]

    imported = answered(desk, imported)

    # That there is such a shelf in that room is asked as of any other.
    imports.settle_names(imported=imported, answers=[(said, said) for said, _ in imported.questions])
    imported.refresh_from_db()
    imported = desk.look_over(imported)
    assert imported.questions == []
    desk.write(imported)
    kept = Horn.objects.at(desk.school).order_by("number").values_list("place__room", "place__shelf")
    assert list(kept) == [
        ("Instrumentenraum", "oben"), ("Instrumentenraum", "links"), ("Hauskeller", "A"), ("Hauskeller", "B"),
    ]  # fmt: skip


def test_another_room_with_a_shelf_is_not_asked_about(desk: Desk):
    make.place(desk.school, room="Instrumentenraum", shelf="unten")

    imported = desk.looked_over(as_csv([["Nr", "Raum", "Fach"], ["H-1", "Aula", "unten"], ["H-2", "Aula", "oben"]]))

    assert imported.questions == []


def test_what_is_answered_about_a_room_as_it_is_kept_holds_for_the_list_in_other_capitals(desk: Desk):
    there = make.place(desk.school, room="Music room", shelf="top left")
    make.horn(desk.school, number="H-1", place=make.place(desk.school, room="Music room"), build="")
    imported = desk.looked_over(as_csv([["Nr", "Raum", "Fach"], ["H-1", "MUSIC ROOM", "top-left"]]))
    assert imported.questions == [[["Music room", "top-left"], ["Music room", "top left"]]]

    imported = answered(desk, imported)

    assert imported.questions == []
    desk.write(imported)
    assert Horn.objects.at(desk.school).get().place == there
    assert Place.objects.filter(school=desk.school).count() == 2


def test_classes_differ_by_their_capitals_and_so_do_the_answers(desk: Desk):
    make.pupil(desk.school, name="There", group="Bläserklasse 5b")
    rows = [["Name", "Klasse"], ["Ada", "Blaeserklasse 5b"], ["Ben", "blaeserklasse 5b"]]
    imported = desk.looked_over(as_csv(rows), kind="pupils")
    first, second = imported.questions

    imports.settle_names(imported=imported, answers=[first])
    imported.refresh_from_db()
    imported = desk.look_over(imported)

    assert imported.questions == [second]
