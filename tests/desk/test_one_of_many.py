"""Places and classes on pages: to select from up to a number, of more found by their words."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.translation import override

from fleet.counting.models import Count
from fleet.ground.access import Role
from fleet.matching import forms as matching
from fleet.people.forms import classes, one_of_many
from fleet.people.models import Pupil
from fleet.register.models import Place
from fleet.register.queries import listing
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(school, as_):
    return as_(make.staff(Role.HEAD, school))


def rooms(school, many):
    return Place.objects.bulk_create(Place(school=school, room=f"Room {n}", shelf="top") for n in range(many))


def test_places_are_selected_up_to_a_hundred_and_typed_beyond_and_the_one_chosen_shows_its_name(school, browser):
    places = rooms(school, one_of_many.MOST_OPTIONS)
    horn = make.horn(school, place=places[41])
    count = Count.objects.create(school=school, started_by=make.staff(Role.HEAD, school), started_at=make.NOW)
    pages = {
        f"places/{places[0].pk}/twice/": ("into", 100, ""),
        f"horns/{horn.pk}/place/": ("place", 101, "Room 41, top"),
        f"horns/{horn.pk}/edit/": ("place", 101, "Room 41, top"),
        f"horns/new/?place={places[5].pk}": ("place", 101, "Room 5, top"),
        f"several/place/?horn={horn.pk}": ("place", 101, ""),
        f"counts/{count.pk}/shelf/?place={places[5].pk}": ("place", 100, ""),
        f"prints/?place={places[5].pk}": ("place", 101, "Room 5, top"),
        f"horns/?place={places[41].pk}": ("place", 101, "Room 41, top"),
    }
    asked = {}
    for page, (name, options, said) in pages.items():
        with CaptureQueriesContext(connection) as queries:
            text = folded(browser.get(f"/s/{school.slug}/{page}"))
        asked[page] = len(queries)
        inside = text.partition(f'<select name="{name}"')[2] or text.partition(f' name="{name}">')[2]
        assert inside.partition("</select>")[0].count("<option") == options, page
        assert f'name="{name}-words"' not in text, page
        if said:
            assert f"selected>{said}</option>" in text, page

    make.place(school, room="Attic")
    make.place(school, room="Attic", shelf="low")
    for page, (name, _, said) in pages.items():
        with CaptureQueriesContext(connection) as queries:
            text = folded(browser.get(f"/s/{school.slug}/{page}"))
        assert len(queries) - asked[page] <= bool(said), page
        value = f' value="{said}"' if said else ""
        assert f'<input type="text" name="{name}-words"{value}' in text, page
        assert "Room 77" not in text, page


def test_words_find_the_place_and_what_fits_several_is_chosen_with_nothing_lost(school, browser, monkeypatch):
    monkeypatch.setattr(one_of_many, "MOST_OPTIONS", 2)
    places = rooms(school, 3)
    make.place(make.school(), room="Room 1 of another school")
    horn = make.horn(school, place=places[0], maker="Alder")
    page = f"/s/{school.slug}/horns/{horn.pk}/edit/"
    form = browser.get(page).context["form"]
    said = {f"initial-{name}": value or "" for name, value in form.initial.items()}
    said |= {name.removeprefix("initial-"): value for name, value in said.items()}
    del said["place"]

    unclear = browser.post(page, {**said, "maker": "Bell", "place-words": "ROOM top"})
    text = folded(unclear)
    assert unclear.status_code == 422
    assert "Several have “ROOM top” in their names: choose one of them." in text
    assert ('name="place-words" value="ROOM top"' in text, 'value="Bell"' in text) == (True, True)
    assert '<select name="place-one" aria-label="Those that have these words">' in text
    assert text.partition('name="place-one"')[2].partition("</select>")[0].count("<option") == 4
    assert "Nothing here has “attic” in its name." in folded(browser.post(page, {**said, "place-words": "attic"}))
    none = browser.post(page, {**said, "place-words": "another school"})
    assert none.status_code == 422
    assert browser.post(page, {**said, "place-words": "x", "place-one": "x"}).status_code == 422

    chosen = {"place-words": "ROOM top", "place-one": places[2].pk}
    assert browser.post(page, {**said, "maker": "Bell", **chosen}).status_code == 302
    horn.refresh_from_db()
    assert (horn.place, horn.maker) == (places[2], "Bell")
    alone = f"/s/{school.slug}/horns/{horn.pk}/place/"
    for typed, place in (("1 room", places[1]), ("Room 0, top", places[0]), ("", None)):
        assert browser.post(alone, {"place-words": typed, "seen": horn.place_id}).status_code == 302
        horn.refresh_from_db()
        assert horn.place == place


def test_who_counts_goes_elsewhere_by_words_and_stays_where_they_fit_several(school, browser, monkeypatch):
    monkeypatch.setattr(one_of_many, "MOST_OPTIONS", 2)
    places = rooms(school, 3)
    count = Count.objects.create(school=school, started_by=make.staff(Role.HEAD, school), started_at=make.NOW)
    shelf, here = f"/s/{school.slug}/counts/{count.pk}/shelf/", {"place": places[0].pk}

    assert f'<input type="hidden" name="place" value="{places[0].pk}">' in folded(browser.get(shelf, here))
    assert browser.get(shelf, {**here, "place-words": "room 2"}).context["place"] == places[2]
    several = browser.get(shelf, {**here, "place-words": "room"})
    assert (several.context["place"], "Several have “room” in their names" in folded(several)) == (places[0], True)
    assert browser.get(shelf, {**here, "place-words": "room", "place-one": places[1].pk}).context["place"] == places[1]


def test_the_list_of_horns_is_narrowed_by_words_of_a_place_or_class(school, browser, monkeypatch):
    for module in (one_of_many, listing):
        monkeypatch.setattr(module, "MOST_OPTIONS", 1)
    teacher, places = make.staff(Role.TEACHER, school), rooms(school, 2)
    for n, place in enumerate(places):
        make.loan(make.horn(school, number=f"HN-{n}", place=place), make.pupil(school, group=f"Class {n}"), teacher)
    page = f"/s/{school.slug}/horns/"

    for asked in ({"place-words": "room 1"}, {"group-words": "1 class"}, {"group": "Class 1"}):
        answer = browser.get(page, asked)
        assert [horn.number for horn in answer.context["page"].rows] == ["HN-1"], asked
    assert 'name="group-words" value="Class 1"' in folded(answer)
    text = folded(browser.get(page, {"place-words": "room", "group-words": "brass"}))
    assert ("Several have “room” in their names" in text, "has “brass” in its name" in text) == (True, True)
    assert ("made no sense" in text, '<details class="fold unfolds" open>' in text) == (False, True)
    typed = browser.get(page, {"place-words": "room"}, headers={"HX-Request": "true", "HX-Target": "found"})
    assert "Several have “room” in their names: choose one of them. Until then horns of every place" in folded(typed)


def test_what_is_typed_for_a_print_comes_back_with_those_that_have_the_words(school, browser, monkeypatch):
    monkeypatch.setattr(one_of_many, "MOST_OPTIONS", 1)
    rooms(school, 2)
    for n in range(2):
        make.pupil(school, group=f"Class {n}")
    at = f"/s/{school.slug}/prints"

    for name in ("class-list", "loan-sheets"):
        assert browser.get(f"{at}/{name}.pdf", {"group-words": "class 1"})["Content-Type"] == "application/pdf"
        back = browser.get(f"{at}/{name}.pdf", {"group-words": "class"}, follow=True)
        assert back.redirect_chain == [(f"{at}/?group-words=class", 302)]
        assert '<select name="group-one"' in folded(back)
    for name in ("labels", "handover"):
        back = browser.get(f"{at}/{name}.pdf", {"place-words": "room", "found": "1"}, follow=True)
        assert back.redirect_chain == [(f"{at}/?place-words=room&found=1#horns", 302)]
        assert ('<select name="place-one"' in folded(back), "no horn to print" in folded(back)) == (True, False)


def test_horns_that_play_together_are_narrowed_by_words_of_a_class_and_rooms_are_proposed(school, browser, monkeypatch):
    teacher = make.staff(Role.TEACHER, school)
    for n in range(2):
        make.place(school, room=f"Room {n}")
        horn = make.horn(school, number=f"HN-{n}", build="single-f", stands_in="F")
        make.loan(horn, make.pupil(school, group=f"Class {n}"), teacher)
    here, rules = f"/s/{school.slug}/together/", f"/s/{school.slug}/matching/rules/"
    assert '<option value="Class 1" selected>' in folded(browser.get(here, {"group": "Class 1"}))
    assert '<option value="Room 1">' in folded(browser.get(rules))

    for module in (one_of_many, matching):
        monkeypatch.setattr(module, "MOST_OPTIONS", 1)
    for asked, numbers in (
        ({"group-words": "1"}, (False, True)),
        ({"group-words": "class"}, (True, True)),
        ({}, (True, True)),
    ):
        text = folded(browser.get(here, asked))
        assert ("HN-0" in text, "HN-1" in text, 'name="group-words"' in text) == (*numbers, True), asked
    assert "Room 1" not in folded(browser.get(rules))


def test_a_whole_class_is_taken_back_by_its_words(school, browser, monkeypatch):
    monkeypatch.setattr(one_of_many, "MOST_OPTIONS", 1)
    teacher = make.staff(Role.TEACHER, school)
    for n in (0, 1, 10):
        make.loan(make.horn(school, number=f"HN-{n}"), make.pupil(school, group=f"Class {n}"), teacher)
    page = f"/s/{school.slug}/loans/back/"

    several = browser.post(page, {"do": "class", "group-words": "class"})
    assert (several.status_code, '<details class="fold" open>' in folded(several)) == (422, True)
    assert "Choose a class." in folded(browser.post(page, {"do": "class"}))
    listed = browser.post(page, {"do": "class", "group-words": "class", "group-one": "Class 1"}, follow=True)
    assert [loan.horn.number for loan, *_ in listed.context["rows"]] == ["HN-1"]
    again = browser.post(page, {"do": "class", "group-words": "class 1"}, follow=True)
    assert [loan.horn.number for loan, *_ in again.context["rows"]] == ["HN-1"]
    assert "Nobody else of Class 1 has a horn." in folded(again)


@pytest.mark.parametrize("many", [classes.MOST_OPTIONS, classes.MOST_OPTIONS + 1])
def test_beyond_a_hundred_classes_none_is_offered_while_typing_and_a_part_of_a_name_asked_about(school, browser, many):
    Pupil.objects.bulk_create(Pupil(school=school, name=f"Bo {n}", group=f"{n} brass") for n in range(many))
    page = f"/s/{school.slug}/pupils/new/"

    assert ('<datalist id="groups">' in folded(browser.get(page))) == (many == 100)
    asked = browser.post(page, {"name": "Bo Lindgren", "group": "7 Br"})
    assert (asked.status_code, "7 Br is another class than 7 brass" in folded(asked)) == (
        (302, False) if many == 100 else (422, True)
    )


@pytest.mark.parametrize("many", [50, 51])
def test_beyond_fifty_classes_others_to_match_are_found_and_what_is_ticked_stays(school, browser, many):
    Pupil.objects.bulk_create(Pupil(school=school, name=f"Bo {n}", group=f"Class {n}") for n in range(many))
    page = f"/s/{school.slug}/matching/"

    opened = folded(browser.get(page))
    assert (opened.count('name="class"'), 'name="find"' in opened) == (50, many > 50)
    found = folded(browser.get(page, {"class": "Class 3", "find": "12", "do": "find"}))
    assert [part[:30].partition('"')[0] for part in found.split('name="class" value="')[1:]] == ["Class 3", "Class 12"]
    assert 'value="Class 3" checked>' in found
    assert "No other class has these words." in folded(browser.get(page, {"find": "choir", "do": "find"}))


def test_what_is_said_of_words_is_said_in_german(school):
    with override("de"):
        assert one_of_many.meant("Dach", []).sentence == "Nichts hier hat „Dach“ im Namen. Schreiben Sie andere Wörter."


def test_words_written_anew_count_and_not_what_was_chosen_of_those_before(school, browser, monkeypatch):
    monkeypatch.setattr(one_of_many, "MOST_OPTIONS", 2)
    places = rooms(school, 3)
    horn = make.horn(school, place=places[0])

    said = {"place-words": "room 1", "place-one": places[2].pk, "seen": horn.place_id}
    assert browser.post(f"/s/{school.slug}/horns/{horn.pk}/place/", said).status_code == 302
    horn.refresh_from_db()
    assert horn.place == places[1]


def test_words_that_do_not_tell_are_in_sight_where_nothing_above_says_so(school, browser, monkeypatch):
    monkeypatch.setattr(one_of_many, "MOST_OPTIONS", 1)
    places, teacher = rooms(school, 2), make.staff(Role.TEACHER, school)
    for n, place in enumerate(places):
        make.loan(make.horn(school, number=f"HN-{n}", place=place), make.pupil(school, group=f"Class {n}"), teacher)
    count = Count.objects.create(school=school, started_by=teacher, started_at=make.NOW)
    shelf, back = f"/s/{school.slug}/counts/{count.pk}/shelf/?place={places[0].pk}", f"/s/{school.slug}/loans/back/"

    def focused(page):
        tags = [tag for tag in folded(page).split("<") if " autofocus" in tag]
        return [tag.partition(' name="')[2].partition('"')[0] for tag in tags]

    assert focused(browser.get(shelf)) == []
    assert focused(browser.get(f"{shelf}&place-words=room")) == ["place-words"]
    assert focused(browser.get(back)) == ["numbers"]
    assert focused(browser.post(back, {"do": "class", "group-words": "class"})) == ["group-words"]
    assert focused(browser.post(back, {"do": "class"})) == []


def test_who_stands_at_one_of_many_places_writes_the_other_into_an_empty_field(school, browser, monkeypatch):
    places = rooms(school, 2)
    count = Count.objects.create(school=school, started_by=make.staff(Role.HEAD, school), started_at=make.NOW)
    shelf = f"/s/{school.slug}/counts/{count.pk}/shelf/?place={places[1].pk}"

    assert "selected>Room 1, top</option>" in folded(browser.get(shelf))
    monkeypatch.setattr(one_of_many, "MOST_OPTIONS", 1)
    assert '<input type="text" name="place-words" maxlength' in folded(browser.get(shelf))
