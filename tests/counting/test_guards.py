"""What the actions of a count refuse when they are called outright, and what they answer at the edges."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.utils.translation import override

from fleet.counting.actions import counts, finds
from fleet.counting.models import Count, Line
from fleet.counting.queries.outcomes import resolutions_for
from fleet.counting.queries.sampling import Estimate, deviate, sample_size
from fleet.counting.queries.shelves import estimate
from fleet.counting.queries.told import STORY
from fleet.ground.refusal import Refused
from fleet.register.models import Horn
from tests import make
from tests.reading import story_of


def sample(cupboard, seconds=0):
    said = {"confidence": 95, "margin": 10, "by": cupboard.teacher, "at": make.NOW + timedelta(seconds=seconds)}
    return counts.begin_sample(school=cupboard.school, **said)


def test_no_sample_is_drawn_where_nothing_should_be_on_a_shelf(cupboard):
    with pytest.raises(Refused, match="nothing to draw a sample from"):
        sample(cupboard)


def test_a_sample_asked_for_twice_in_a_moment_is_one(cupboard):
    make.horn(cupboard.school, place=cupboard.store)
    first = sample(cupboard)

    assert sample(cupboard, seconds=15) == first
    with pytest.raises(Refused, match="still open"):
        sample(cupboard, seconds=16)


@pytest.fixture
def found(cupboard):
    cupboard.horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    said = {"words": "no label", "place": cupboard.store, "key": "a-key-of-the-find", "by": cupboard.teacher}
    return finds.keep_find(count=count, at=make.NOW, **said)


def settle(cupboard, find, **said):
    how = {"resolution": "not-ours", "reason": "A guest's", "by": cupboard.head, "at": make.NOW}
    return finds.settle_find(find=find, **{**how, **said})


def test_a_find_is_not_kept_once_the_count_has_ended_nor_said_what_it_is_once_it_is_signed(cupboard, found):
    count = found.count
    cupboard.see(count, cupboard.horn, cupboard.store)
    cupboard.end(count)
    with pytest.raises(Refused, match="was ended"):
        finds.keep_find(
            count=count, words="another", place=None, key="another-key-123", by=cupboard.teacher, at=make.NOW
        )
    settle(cupboard, found)
    assert cupboard.sign(count).state == "signed"
    with pytest.raises(Refused, match="kept as it is"):
        settle(cupboard, found)


@pytest.mark.parametrize(
    ("said", "sentence"),
    [({"reason": "  "}, "Give the reason"), ({"resolution": "horn"}, "Say which horn of the register it is")],
)
def test_a_find_is_settled_with_a_reason_and_with_a_horn_where_it_is_one(cupboard, found, said, sentence):
    with pytest.raises(Refused, match=sentence):
        settle(cupboard, found, **said)


def test_a_horn_named_where_it_is_said_to_be_none_is_refused(cupboard, found):
    with pytest.raises(Refused, match="Say which horn"):
        settle(cupboard, found, horn=make.horn(cupboard.school))


@pytest.mark.parametrize(
    ("where", "offered"),
    [
        (Horn.Where.NOT_FOUND, ["found", "explained"]),
        (Horn.Where.WORKSHOP, ["put-back", "explained"]),
        (Horn.Where.IN_PLACE, ["moved", "put-back", "explained"]),
    ],
)
def test_what_may_be_said_of_a_horn_nobody_expected_hangs_on_where_it_is_now(where, offered):
    line = Line(outcome=Line.Outcome.NOT_EXPECTED)

    assert [one.value for one in resolutions_for(line, where)] == offered


@pytest.mark.parametrize("confidence", [0, 1])
def test_a_confidence_lies_between_nothing_and_certainty(confidence):
    with pytest.raises(ValueError, match="between 0 and 1"):
        deviate(confidence)


@pytest.mark.parametrize(("population", "margin"), [(-1, 0.1), (5, 0), (5, 1)])
def test_a_sample_has_a_population_and_a_margin(population, margin):
    with pytest.raises(ValueError, match="not negative"):
        sample_size(population, confidence=0.95, margin=margin)


def test_of_nothing_nothing_is_looked_at():
    assert sample_size(0, confidence=0.95, margin=0.1) == 0


def test_a_sample_of_which_every_horn_went_out_meanwhile_tells_nothing():
    sample = Count(kind=Count.Kind.SAMPLE, population=9, confidence=95)
    outcome = Line.Outcome
    assert estimate(sample, Counter({outcome.WENT: 2, outcome.AWAY: 1})) is None
    told = estimate(sample, Counter({outcome.WENT: 2, outcome.SEEN: 3, outcome.NOT_FOUND: 1}))
    assert told == Estimate(3, 4, 7, 0.95)


def test_a_horn_tells_how_its_difference_was_resolved(cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.end(count)
    cupboard.resolve(count, horn, "explained")

    [line] = story_of(horn, STORY).told()
    assert line.sentence.startswith("Counted, not found")
    assert line.sentence.endswith("Looked again")


def test_a_count_that_has_ended_shows_its_own_finds_only(cupboard, found, as_):
    cupboard.end(found.count)
    other = cupboard.begin(minutes=90)
    said = {"words": "of the next count", "place": None, "key": "the-next-key-1", "by": cupboard.teacher}
    finds.keep_find(count=other, at=make.NOW + timedelta(minutes=95), **said)

    page = as_(cupboard.head).get(f"/s/{cupboard.school.slug}/counts/{found.count.pk}/")

    assert page.context["facts"].finds == [found]


@pytest.mark.parametrize(
    ("fields", "title", "in_german"),
    [
        ({"kind": Count.Kind.EVERYTHING}, "Count of everything", "Inventur von allem"),
        ({"kind": Count.Kind.PLACES}, "Count of Room 3; Loft", "Inventur: Room 3; Loft"),
        ({"kind": Count.Kind.SAMPLE, "population": 9}, "Sample of 4 from 9 horns", "Stichprobe: 4 von 9 Hörnern"),
        ({"kind": Count.Kind.SAMPLE, "population": 1}, "Sample of 1 from 1 horn", "Stichprobe: 1 von 1 Horn"),
    ],
)
def test_what_a_count_of_an_older_file_is_of_is_told_in_the_readers_language(fields, title: str, in_german: str):
    count = Count(title=title, **fields)
    count.complete()

    assert count.in_words == str(count) == title
    with override("de"):
        assert (count.in_words, str(count)) == (in_german, title)


def test_what_a_count_is_of_is_kept_in_columns_and_its_title_in_english(cupboard):
    place = make.place(cupboard.school, room="Count of 9 horns")
    make.horn(cupboard.school, place=place)
    with override("de"):
        count = cupboard.begin(place)
        assert count.in_words == "Inventur: Count of 9 horns"
    assert (count.place_words, count.title) == ("Count of 9 horns", "Count of Count of 9 horns")
    cupboard.end(count)

    with override("de"):
        drawn = sample(cupboard)
        assert drawn.in_words == "Stichprobe: 1 von 1 Horn"
    assert (drawn.drawn, drawn.title) == (1, "Sample of 1 from 1 horn")


@pytest.mark.parametrize(("shelf", "told"), [("shelf", ", shelf"), ("shelf2", ", shel…")])
def test_a_title_names_as_many_places_as_it_has_room_for(cupboard, shelf, told):
    places = [make.place(cupboard.school, room=letter * 60) for letter in "ab"]
    places.append(make.place(cupboard.school, room="c" * 60, shelf=shelf))
    make.horn(cupboard.school, place=places[0])

    count = cupboard.begin(*places)

    assert count.place_words.endswith(f"c{told}")
    assert len(count.title) == 200


def test_counts_begun_before_there_were_these_columns_get_them(cupboard):
    make.horn(cupboard.school, place=cupboard.store)
    placed = cupboard.begin(cupboard.store)
    cupboard.end(placed)
    drawn = sample(cupboard)
    Count.objects.update(place_words="", drawn=None)
    assert str(Count.objects.get(pk=placed.pk).in_words) == "Count of Store, top"

    import_module("fleet.counting.migrations.0005_what_was_counted").fill(apps, None)

    assert list(Count.objects.order_by("pk").values_list("place_words", "drawn")) == [("Store, top", None), ("", 1)]
    assert Count.objects.get(pk=drawn.pk).in_words == "Sample of 1 from 1 horn"
