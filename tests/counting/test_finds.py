"""What is found on a shelf that the register does not know: kept, identified, registered, settled."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.counting.actions import counts
from fleet.counting.actions.finds import keep_find, settle_find
from fleet.counting.models import Find, Sighting
from fleet.counting.queries.facts import of_count
from fleet.counting.queries.shelves import estimate, numbers
from fleet.ground.refusal import Refused
from fleet.register.models import FormerNumber
from fleet.register.queries.asked_for import horn_told
from tests import make
from tests.pages import on_paper

pytestmark = pytest.mark.django_db
KEY = "0f3c8a1e-7777-4c1f-9d59-000000000001"


@pytest.fixture
def at(cupboard):
    return f"/s/{cupboard.school.slug}/counts/"


@pytest.fixture
def found(cupboard):
    """`found("no label")` keeps a find of Tom Teacher in the store; the count has one horn, A-1."""
    make.horn(cupboard.school, number="A-1", place=cupboard.store)
    count = cupboard.begin()

    def find(words="no label", *, key="", minutes=5, by=None):
        at = make.NOW + timedelta(minutes=minutes)
        key = key or f"key-{next(cupboard.keys):06d}"
        return keep_find(count=count, words=words, place=cupboard.store, key=key, by=by or cupboard.teacher, at=at)

    return find


def settle(cupboard, find, resolution, horn=None, reason="Looked at it"):
    at = make.NOW + timedelta(minutes=70)
    return settle_find(find=find, resolution=resolution, horn=horn, reason=reason, by=cupboard.head, at=at)


def test_a_number_nobody_has_on_record_is_kept_with_its_place_and_finder(as_, cupboard, at):
    make.horn(cupboard.school, number="A-1", place=cupboard.store)
    count = counts.begin(school=cupboard.school, places=[], by=cupboard.head, at=timezone.now())
    shelf = f"{at}{count.pk}/shelf/?place={cupboard.store.pk}"
    browser = as_(cupboard.technician)

    answer = browser.post(shelf, {"key": KEY, "number": " Z-9 "})
    page = browser.get(answer.url).content.decode()

    assert list(Find.objects.values_list("words", "place_words", "by__name")) == [("Z-9", "Store, top", "Ann Reed")]
    assert "“Z-9” is not in the register. It is kept as found here" in page
    assert "Take back" in page
    assert not Sighting.objects.exists()


def test_another_schools_number_is_as_unknown_as_any(as_, cupboard, at):
    make.horn(cupboard.school, number="A-1", place=cupboard.store)
    count = counts.begin(school=cupboard.school, places=[], by=cupboard.head, at=timezone.now())
    browser = as_(cupboard.teacher)

    for number in ("STRANGE-1", f"https://horns.example.org/h/{cupboard.strange.label_code}/"):
        browser.post(f"{at}{count.pk}/shelf/", {"key": KEY, "number": number})

    assert Find.objects.count() == 2
    assert {find.count.school_id for find in Find.objects.all()} == {cupboard.school.pk}


def test_two_numbers_typed_on_one_page_are_two_and_one_sent_twice_is_one(as_, cupboard, at):
    make.horn(cupboard.school, number="A-1", place=cupboard.store)
    count = counts.begin(school=cupboard.school, places=[], by=cupboard.head, at=timezone.now())
    browser = as_(cupboard.teacher)

    for number in ("no label", "no label", "Z-9"):
        browser.post(f"{at}{count.pk}/shelf/", {"key": KEY, "number": number})

    assert sorted(Find.objects.values_list("words", flat=True)) == ["Z-9", "no label"]


def test_a_number_registered_before_it_is_sent_again_stays_the_find_it_was(cupboard, found):
    find = found("HN-77", key="the-same-tap")
    horn = make.horn(cupboard.school, number="HN-77")

    again = cupboard.see(find.count, horn, cupboard.store, key="the-same-tap")

    assert again == find
    assert not Sighting.objects.exists()


def test_a_phone_that_waited_longer_than_the_count_runs_found_it_when_the_count_began(cupboard, found):
    count = found().count
    at = make.NOW + timedelta(minutes=9)

    find = keep_find(
        count=count, words="x", place=None, key="b" * 9, waited=timedelta(days=300), by=cupboard.teacher, at=at
    )

    assert (find.seen_at, find.received_at) == (make.NOW, at)


def test_what_was_misread_is_taken_back_and_asks_nothing_more(as_, cupboard, at, found):
    find = found("A-l")

    answer = as_(cupboard.technician).post(f"{at}finds/{find.pk}/undo/")
    cupboard.end(find.count)

    find.refresh_from_db()
    assert answer.url == f"{at}{find.count_id}/shelf/?place={cupboard.store.pk}"
    assert find.undone_by == cupboard.technician
    with pytest.raises(Refused, match="taken back"):
        settle(cupboard, find, "nothing")


def test_a_find_is_identified_registered_and_named_in_the_count(as_, cupboard, at, found):
    find = found("no label, 4 valves")
    cupboard.end(find.count)
    head = as_(cupboard.head)
    assert "no label, 4 valves" in head.get(f"{at}{find.count_id}/").content.decode()
    page = head.get(f"{at}finds/{find.pk}/").content.decode()
    assert f"/horns/new/?place={cupboard.store.pk}" in page
    assert "/identify/" in page

    new = make.horn(cupboard.school, number="A-2", place=cupboard.store)
    answer = head.post(f"{at}finds/{find.pk}/", {"resolution": "horn", "number": "a-2", "reason": "Registered today"})

    find.refresh_from_db()
    assert answer.url == f"{at}{find.count_id}/"
    assert (find.horn, find.resolved_by, find.reason) == (new, cupboard.head, "Registered today")
    story = head.get(f"/s/{cupboard.school.slug}/horns/{new.pk}/").content.decode()
    assert "Found while counting at Store, top as “no label, 4 valves”." in story


def test_a_find_registered_meanwhile_under_its_own_number_is_proposed(as_, cupboard, at, found):
    find = found("z-9")
    make.horn(cupboard.school, number="Z-9", place=cupboard.store)

    form = as_(cupboard.head).get(f"{at}finds/{find.pk}/").context["form"]

    assert (form["resolution"].value(), form["number"].value()) == ("horn", "Z-9")


def test_a_find_that_was_the_missed_horn_leads_on_to_its_difference(as_, cupboard, at, found):
    find = found("A 1")
    cupboard.end(find.count)
    line = find.count.lines.get(number="A-1")

    answer = as_(cupboard.head).post(
        f"{at}finds/{find.pk}/", {"resolution": "horn", "number": "A-1", "reason": "The label was misread"}
    )

    assert answer.url == f"{at}lines/{line.pk}/"


@pytest.mark.parametrize("lent", [True, False])
def test_a_find_that_is_a_horn_with_a_family_says_so(as_, cupboard, at, found, lent):
    find = found("no label")
    horn = make.horn(cupboard.school, number="A-2", place=cupboard.store)
    if lent:
        make.loan(horn, make.pupil(cupboard.school, name="Ada"), cupboard.head)

    given = {"resolution": "horn", "number": "A-2", "reason": "Its serial number"}
    page = as_(cupboard.head).post(f"{at}finds/{find.pk}/", given, follow=True).content.decode()

    assert ("A-2 was seen here, and the register says: with Ada. See to it on its page." in page) == lent


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"resolution": "horn", "reason": "x"}, "number"),
        ({"resolution": "horn", "number": "STRANGE-1", "reason": "x"}, "number"),
        ({"resolution": "not-ours", "reason": " "}, "reason"),
        ({"resolution": "not-ours", "reason": "x" * 301}, "reason"),
        ({"reason": "x"}, "resolution"),
    ],
)
def test_a_find_is_not_settled_without_saying_what_it_is_and_how_one_knows(as_, cupboard, at, found, given, field):
    find = found()

    answer = as_(cupboard.head).post(f"{at}finds/{find.pk}/", given)

    find.refresh_from_db()
    assert list(answer.context["form"].errors) == [field]
    assert not re.search("This field|Ensure|Select a valid", answer.content.decode())
    assert find.resolution == ""


def test_a_count_is_not_signed_before_every_find_is_settled_nor_by_who_found_one(cupboard, found):
    find = found(by=cupboard.head)
    cupboard.see(find.count, find.count.lines.get().horn, cupboard.store)
    cupboard.end(find.count)

    with pytest.raises(Refused, match="1 difference is not resolved yet"):
        cupboard.sign(find.count)
    settle(cupboard, find, "not-ours", reason="Left here by the town band")
    for counted in (cupboard.head, cupboard.teacher):
        with pytest.raises(Refused, match="You counted here yourself"):
            cupboard.sign(find.count, by=counted)
    assert cupboard.sign(find.count, by=cupboard.technician).signed_by == cupboard.technician


def test_a_find_is_settled_once_and_nothing_of_a_signed_count_can_be_saved(cupboard, found):
    find = found()
    count = find.count
    horn = count.lines.get().horn
    seen = cupboard.see(count, horn, cupboard.store)
    cupboard.end(count)
    settle(cupboard, find, "nothing")
    with pytest.raises(Refused, match="resolved already"):
        settle(cupboard, find, "not-ours")
    cupboard.sign(count)

    for row in (Find.objects.get(), Sighting.objects.get(pk=seen.pk), count.lines.get()):
        with pytest.raises(ValidationError, match="kept as it is"):
            row.save()
        with pytest.raises(ValidationError, match="kept as it is"):
            row.delete()


def test_the_database_refuses_a_find_that_says_it_is_a_horn_and_not_which(found):
    find = found()
    told = {"reason": "x", "resolved_at": make.NOW, "resolved_by": find.by}

    for wrong in ({"resolution": "horn", **told}, {"resolution": "nothing"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Find.objects.filter(pk=find.pk).update(**wrong)


def test_a_sample_keeps_a_find_and_its_estimate_does_not_change(cupboard):
    horn = make.horn(cupboard.school, number="A-1", place=cupboard.store)
    count = counts.begin_sample(
        school=cupboard.school, confidence=95, margin=10, by=cupboard.teacher, at=make.NOW, seed=1
    )
    cupboard.see(count, horn, cupboard.store)
    at = make.NOW + timedelta(minutes=5)
    keep_find(count=count, words="no label", place=cupboard.store, key="a" * 9, by=cupboard.teacher, at=at)
    cupboard.end(count)

    told = estimate(count, numbers(count))
    assert told is not None
    assert (told.hits, told.looked_at) == (1, 1)


def test_the_report_tells_what_was_found_and_what_it_was(as_, cupboard, found):
    find = found("no label")
    cupboard.end(find.count)
    settle(cupboard, find, "not-ours", reason="Left here by the town band")

    answer = as_(cupboard.technician).get(f"/s/{cupboard.school.slug}/prints/counts/{find.count_id}/report.pdf")
    said = " ".join(on_paper(answer.content))

    assert "Found, not in the register" in said
    assert "no label Store, top, Tom Teacher not the school’s: Left here by the town band (Hana Head)" in said
    assert "Counted by Tom Teacher." in said


def test_the_report_of_a_count_tells_nothing_of_another(cupboard):
    missed, seen = (make.horn(cupboard.school, number=number, place=cupboard.store) for number in ("A-1", "A-2"))
    first = cupboard.begin()
    cupboard.see(first, seen, cupboard.store, note="water key drips")
    at = make.NOW + timedelta(minutes=5)
    keep_find(count=first, words="no label", place=cupboard.store, key="a" * 9, by=cupboard.teacher, at=at)
    cupboard.end(first)
    second = cupboard.begin(minutes=90)
    for horn in (missed, seen):
        cupboard.see(second, horn, cupboard.store, minutes=95)
    cupboard.end(second, minutes=100)

    told, other = of_count(first), of_count(second)

    assert [len(some) for some in (told.differences, told.finds, told.noted)] == [1, 1, 1]
    assert (other.differences, other.finds, other.noted) == ([], [], [])


@pytest.mark.parametrize("typed", ["hn 42", "HN42", "hn-0042", "OLD-7", "old 7x"])
def test_a_number_is_understood_with_other_spacing_and_by_the_old_label(cupboard, typed):
    horn = make.horn(cupboard.school, number="HN-0042")
    FormerNumber.objects.create(school=cupboard.school, horn=horn, number="OLD-7", at=make.NOW, by=cupboard.head)
    make.horn(cupboard.school, number="HX-42")
    make.horn(cupboard.other, number="HN-42")

    assert horn_told(cupboard.school, typed) == (None if typed == "old 7x" else horn)


def test_a_number_that_could_mean_two_horns_means_neither(cupboard):
    make.horn(cupboard.school, number="HN-42")
    make.horn(cupboard.school, number="HN.42")

    assert horn_told(cupboard.school, "hn 42") is None
    assert str(horn_told(cupboard.school, "hn.42")) == "HN.42"
