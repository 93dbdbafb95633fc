"""The pages of a count, by the people who use them."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from fleet.counting.actions import counts, sightings
from fleet.counting.models import Count, Find, Line, Sighting
from tests import make
from tests.pages import folded, on_paper

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]
KEY = "0f3c8a1e-7777-4c1f-9d59-000000000001"


def printed(answer: Any) -> str:
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return " ".join(on_paper(answer.content))


@pytest.fixture
def at(cupboard):
    return f"/s/{cupboard.school.slug}/counts/"


def started(cupboard, *places) -> Count:
    """A count begun just now by the clock of the pages."""
    return counts.begin(school=cupboard.school, places=places, by=cupboard.head, at=timezone.now())


def test_a_count_from_the_first_page_to_the_signature(as_, cupboard, at):
    here = make.horn(cupboard.school, number="A-1", place=cupboard.store)
    missing = make.horn(cupboard.school, number="A-2", place=cupboard.store)
    teacher, head = as_(cupboard.teacher), as_(cupboard.head)

    begun = teacher.post(f"{at}new/", {"kind": "everything"})
    count = Count.objects.get()
    assert begun.url == f"{at}{count.pk}/"
    shelf = f"{at}{count.pk}/shelf/?place={cupboard.store.pk}"
    assert "0 of 2 seen" in teacher.get(begun.url).content.decode()
    seen = teacher.post(shelf, {"key": KEY, "horn": here.pk, f"note-{here.pk}": "water key drips"})
    assert seen.url == shelf
    assert "1 of 2 seen" in teacher.get(begun.url).content.decode()
    teacher.post(f"{at}{count.pk}/end/")
    line = Line.objects.get(horn=missing)
    assert "A-2: not found" in folded(head.get(begun.url))
    answer = head.post(f"{at}lines/{line.pk}/", {"resolution": "missing", "reason": "Searched everywhere"})
    assert answer.url == begun.url
    head.post(f"{at}{count.pk}/sign/")

    count.refresh_from_db()
    missing.refresh_from_db()
    assert (count.signed_by, missing.where) == (cupboard.head, "not-found")
    report = printed(head.get(f"/s/{cupboard.school.slug}/prints/counts/{count.pk}/report.pdf"))
    for words in (
        "Counted by Tom Teacher.",
        "Signed by Hana Head, who did not count",
        "A-2 not found Store, top recorded as not found: Searched everywhere (Hana Head)",
        "A-1 water key drips Tom Teacher",
    ):
        assert words in report
    assert "STRANGE-1" not in report


def test_who_counted_is_not_offered_the_signature(as_, cupboard, at):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.see(count, horn, cupboard.store)
    cupboard.end(count)

    assert "Sign this count" in folded(as_(cupboard.head).get(f"{at}{count.pk}/"))
    mine = as_(cupboard.teacher).get(f"{at}{count.pk}/").content.decode()
    assert "You counted here yourself" in mine
    assert "Sign this count" not in mine
    as_(cupboard.teacher).post(f"{at}{count.pk}/sign/")
    assert Count.objects.get().signed_at is None


@pytest.mark.parametrize("how", ["number", "address", "code"])
def test_a_number_or_a_label_is_typed_or_scanned(as_, cupboard, at, how):
    horn = make.horn(cupboard.school, number="HN-0042", place=cupboard.store)
    count = started(cupboard)
    written = {
        "number": "hn-0042",
        "address": f"https://horns.example.org/h/{horn.label_code}/",
        "code": horn.label_code.lower(),
    }[how]

    as_(cupboard.teacher).post(f"{at}{count.pk}/shelf/?place={cupboard.store.pk}", {"key": KEY, "number": written})

    assert Sighting.objects.get().line.horn == horn


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"key": KEY, "horn": "999999"}, "This horn is not in this school’s register."),
        ({"key": KEY, "number": " "}, "Type the register number, or tap a horn."),
        ({"key": "x", "number": "A-1"}, "What was sent cannot be read."),
        ({"key": KEY, "horn": "9" * 30}, "What was sent cannot be read."),
    ],
)
def test_what_cannot_be_taken_is_said_and_what_was_typed_stays(as_, cupboard, at, sent, sentence):
    make.horn(cupboard.school, number="A-1", place=cupboard.store)
    count = started(cupboard)

    page = as_(cupboard.teacher).post(f"{at}{count.pk}/shelf/", sent).content.decode()

    assert sentence in page
    assert not Sighting.objects.exists()


def test_a_button_tapped_twice_is_one_sighting(as_, cupboard, at):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = started(cupboard)
    browser = as_(cupboard.teacher)

    for _ in range(2):
        browser.post(f"{at}{count.pk}/shelf/?place={cupboard.store.pk}", {"key": KEY, "horn": horn.pk})

    assert Sighting.objects.count() == 1


def letter(*taps: dict[str, Any]) -> dict[str, Any]:
    return {"data": json.dumps({"taps": taps}), "content_type": "application/json"}


def test_a_phone_sends_what_it_kept_and_hears_what_was_taken(as_, cupboard, at):
    horn, other = (make.horn(cupboard.school, number=number, place=cupboard.store) for number in ("A-1", "A-2"))
    count = started(cupboard)
    good = {"key": "a" * 32, "horn": horn.pk, "place": cupboard.store.pk, "note": "dented", "waited": 5}
    typed = {"key": "b" * 32, "number": "a-1", "place": cupboard.store.pk}
    unknown = {"key": "c" * 32, "number": "STRANGE-1", "place": cupboard.store.pk}
    away = {"key": "e" * 32, "horn": other.pk, "place": cupboard.music_room.pk}
    elsewhere = {"key": "d" * 32, "horn": horn.pk, "place": make.place(cupboard.other).pk}
    address = f"{at}{count.pk}/sent/?place={cupboard.store.pk}"

    for _ in range(2):
        told = as_(cupboard.teacher).post(address, **letter(good, typed, unknown, elsewhere, away)).json()

    find = Find.objects.get()
    undo = f"{at}finds/{find.pk}/undo/"
    assert told == {
        "taken": {"a" * 32: "A-1", "b" * 32: "A-1", "c" * 32: "STRANGE-1", "e" * 32: "A-2"},
        "unknown": ["c" * 32],
        "refused": {"d" * 32: "There is no such place at this school."},
        "seen": [horn.pk],
        "finds": [{"words": "STRANGE-1", "by": "Tom Teacher", "undo": undo}],
        "open": True,
    }
    noted = sorted(Sighting.objects.values_list("key", "note"))
    assert noted == [("a" * 32, "dented"), ("b" * 32, ""), ("e" * 32, "")]


@pytest.mark.parametrize(
    "body",
    [
        "",
        "[]",
        '{"taps": 3}',
        '{"taps": [1]}',
        '{"taps": [{"key": "short"}]}',
        json.dumps({"taps": [{"key": "a" * 32, "number": "A-1"}] * 101}),
        '{"taps": [{"key": "' + "a" * 32 + '", "number": "x", "waited": "NaN"}]}',
        "[" * 100_000,
    ],
)
def test_a_letter_that_makes_no_sense_is_refused_whole(as_, cupboard, at, body):
    make.horn(cupboard.school, number="A-1")
    count = started(cupboard)

    answer = as_(cupboard.teacher).post(f"{at}{count.pk}/sent/", data=body, content_type="application/json")

    assert (answer.status_code, answer.json()) == (422, {"sentence": "What was sent cannot be read."})
    assert not Sighting.objects.exists()


def test_a_letter_that_comes_after_the_end_is_refused_with_the_reason(as_, cupboard, at):
    horn = make.horn(cupboard.school)
    count = cupboard.begin()
    cupboard.end(count)

    told = as_(cupboard.teacher).post(f"{at}{count.pk}/sent/", **letter({"key": "a" * 32, "horn": horn.pk})).json()

    assert (told["taken"], told["open"]) == ({}, False)
    assert told["refused"]["a" * 32].startswith("This count was ended")


def test_a_label_scanned_in_the_middle_of_a_count_leads_to_the_shelf_of_the_last_tap(as_, cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = started(cupboard)
    browser = as_(cupboard.teacher)
    other = make.horn(cupboard.school, place=cupboard.store)
    for place, key in ((cupboard.music_room, "b" * 32), (cupboard.store, KEY)):
        sightings.see(count=count, horn=other, place=place, key=key, by=cupboard.teacher, at=timezone.now())

    led = browser.get(f"/h/{horn.label_code}/").url

    assert led == (
        f"/s/{cupboard.school.slug}/counts/{count.pk}/shelf/?place={cupboard.store.pk}&label={horn.label_code}"
    )
    assert f'name="horn" value="{horn.pk}">I see it here' in folded(browser.get(led))


def test_a_label_belongs_to_the_shelf_whose_page_was_opened_last(as_, cupboard, at):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = started(cupboard)
    browser = as_(cupboard.technician)
    for place in (cupboard.music_room, cupboard.store):
        browser.get(f"{at}{count.pk}/shelf/?place={place.pk}")
        led = browser.get(f"/h/{horn.label_code}/").url
        assert led == f"{at}{count.pk}/shelf/?place={place.pk}&label={horn.label_code}"

    counts.end(count=count, by=cupboard.head, at=timezone.now())

    assert browser.get(f"/h/{horn.label_code}/").url == f"/s/{cupboard.school.slug}/horns/{horn.pk}/"


def test_who_scans_before_saying_where_they_stand_is_asked_that_first(as_, cupboard, at):
    horn = make.horn(cupboard.school, place=cupboard.store)
    not_listed = make.horn(cupboard.school, place=cupboard.music_room)
    count = started(cupboard, cupboard.store)
    browser = as_(cupboard.teacher)

    led = browser.get(f"/h/{horn.label_code}/").url

    assert led == f"{at}{count.pk}/?label={horn.label_code}"
    assert f"?place={cupboard.store.pk}&amp;label={horn.label_code}" in browser.get(led).content.decode()
    assert "/counts/" not in browser.get(f"/h/{not_listed.label_code}/").url
    old = timezone.now() - timedelta(hours=25)
    Count.objects.update(started_at=old)
    assert "/counts/" not in browser.get(f"/h/{horn.label_code}/").url


def test_nothing_is_written_by_looking(as_, cupboard, at):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = started(cupboard)
    browser = as_(cupboard.head)

    for address in ("", "shelf/?label=" + horn.label_code, "sent/", "end/", "sign/"):
        browser.get(f"{at}{count.pk}/{address}")

    count.refresh_from_db()
    assert (Sighting.objects.count(), count.ended_at) == (0, None)


@pytest.mark.parametrize("horns", [1, 3])
def test_the_pages_take_the_same_queries_for_one_horn_and_for_three(
    as_, cupboard, at, django_assert_num_queries, horns
):
    for _ in range(horns):
        cupboard_horn = make.horn(cupboard.school, place=cupboard.store)
        make.horn(cupboard.school, place=cupboard.store)
    count = started(cupboard)
    for number, line in enumerate(list(count.lines.all())[::2]):
        now = timezone.now()
        sightings.see(
            count=count,
            horn=line.horn,
            place=cupboard.store,
            key=f"key-{number:08}",
            note="x",
            by=cupboard.head,
            at=now,
        )
    browser = as_(cupboard.teacher)
    # Where somebody stands is noted when they come there, not with every page.
    browser.get(f"{at}{count.pk}/shelf/?place={cupboard.store.pk}")

    # Session, account, seat, then: the counts and how many.
    with django_assert_num_queries(5):
        browser.get(at)
    # The count, its shelves.
    with django_assert_num_queries(5):
        browser.get(f"{at}{count.pk}/")
    # The count, the place, its lines, their sightings, its finds, the places.
    with django_assert_num_queries(9):
        browser.get(f"{at}{count.pk}/shelf/?place={cupboard.store.pk}")
    counts.end(count=count, by=cupboard.head, at=timezone.now())
    # The count, its numbers, the differences and their sightings, what was found and noted, who counted.
    with django_assert_num_queries(10):
        browser.get(f"{at}{count.pk}/")
    assert cupboard_horn.place == cupboard.store


def test_the_count_sheet_lists_every_place_with_boxes_and_no_pupil(as_, cupboard):
    make.horn(cupboard.school, number="A-1", place=cupboard.store, holder_name="Bo Li")
    make.horn(cupboard.school, number="A-2", place=cupboard.music_room)
    count = cupboard.begin()

    prints = f"/s/{cupboard.school.slug}/prints/counts/{count.pk}"
    said = printed(as_(cupboard.technician).get(f"{prints}/sheet.pdf"))

    assert "not seen yet 1" in printed(as_(cupboard.technician).get(f"{prints}/report.pdf"))
    assert "counted by: signature, name" in said
    assert "Music room" in said
    assert "A-1 single horn in F out on loan" in said
    assert said.index("A-2") < said.index("A-1")
    assert "Bo Li" not in said


def test_a_sample_count_says_what_it_stands_for(as_, cupboard, at):
    for _ in range(40):
        make.horn(cupboard.school, place=cupboard.store)
    teacher = as_(cupboard.teacher)
    teacher.post(f"{at}new/", {"kind": "sample", "confidence": "90", "margin": "15"})
    count = Count.objects.get()
    lines = list(count.lines.all())
    for number, line in enumerate(lines[1:]):
        now = timezone.now()
        sightings.see(
            count=count, horn=line.horn, place=cupboard.store, key=f"key-{number:08}", by=cupboard.teacher, at=now
        )
    teacher.post(f"{at}{count.pk}/end/")

    page = teacher.get(f"{at}{count.pk}/").content.decode()

    # 30.06 / (1 + 29.06 / 40) = 17.4
    assert len(lines) == 18
    # scipy 1.17: binomtest(17, 18).proportion_ci(0.9, "wilson") = (0.7852, 0.9875)
    assert "17 of 18 horns looked at are where the register has them: 94.4%" in page
    assert "between 78.5% and 98.8%, that is 32 to 39 horns" in page
    assert f"seed {count.seed} from 40 horns" in page


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"kind": "places"}, "places"),
        ({"kind": "sample", "margin": "5"}, "confidence"),
        ({"kind": "sample", "confidence": "95", "margin": "0"}, "margin"),
        ({"kind": ""}, "kind"),
    ],
)
def test_a_count_is_not_begun_without_what_it_needs(as_, cupboard, at, given, field):
    make.horn(cupboard.school, place=cupboard.store)

    answer = as_(cupboard.teacher).post(f"{at}new/", given)

    assert list(answer.context["form"].errors) == [field]
    assert not Count.objects.exists()


def test_a_count_left_open_for_months_stands_on_today(as_, cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    counts.begin(school=cupboard.school, places=[], by=cupboard.head, at=timezone.now() - timedelta(days=93))

    page = as_(cupboard.teacher).get(f"/s/{cupboard.school.slug}/").content.decode()

    assert "open for 93 days: end it, its list grows old" in page
    assert horn.number in page


def test_what_was_noted_in_passing_stands_in_the_horns_story(as_, cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.see(count, horn, cupboard.store, note="bell rim bent")

    page = as_(cupboard.technician).get(f"/s/{cupboard.school.slug}/horns/{horn.pk}/").content.decode()

    assert "Noted while counting at Store, top: bell rim bent" in page


def test_the_shelf_says_which_horns_went_and_which_came_back_since_the_count_began(as_, cupboard, at):
    pupil = make.pupil(cupboard.school, make.guardian(cupboard.school))
    went = make.horn(cupboard.school, number="WENT", place=cupboard.store)
    back = make.horn(cupboard.school, number="BACK", place=cupboard.store, holder_name="Bo Li")
    count = started(cupboard)
    make.loan(went, pupil, cupboard.teacher)
    back.holder_name = ""
    back.save(update_fields=["holder_name"])

    page = as_(cupboard.teacher).get(f"{at}{count.pk}/shelf/?place={cupboard.store.pk}").content.decode()

    of_went, of_back = (page[page.index(f'data-number="{n}"') :].split("</p>")[0] for n in ("WENT", "BACK"))
    assert "out on loan" in of_went
    assert ">since the count began<" in of_went
    assert "out on loan" not in of_back
    assert ">back since the count began<" in of_back
    assert pupil.name not in page


@pytest.mark.parametrize(("days", "said"), [(30, False), (31, True)])
def test_a_count_left_open_for_more_than_a_month_says_that_its_list_has_grown_old(as_, cupboard, at, days, said):
    make.horn(cupboard.school, number="A-1", place=cupboard.store)
    count = started(cupboard)
    Count.objects.filter(pk=count.pk).update(started_at=timezone.now() - timedelta(days=days))

    page, listed = (folded(as_(cupboard.teacher).get(address)) for address in (f"{at}{count.pk}/", at))

    assert ("Its list has grown old" in page, '<li class="late">' in listed) == (said, said)


def test_who_may_not_resolve_a_difference_reads_who_does(as_, cupboard, at):
    make.horn(cupboard.school, number="A-1", place=cupboard.store)
    count = started(cupboard)
    counts.end(count=count, by=cupboard.head, at=timezone.now())

    assert "1 difference to resolve: choose one." in folded(as_(cupboard.head).get(f"{at}{count.pk}/"))
    assert "to resolve; a department head does that." in folded(as_(cupboard.teacher).get(f"{at}{count.pk}/"))
