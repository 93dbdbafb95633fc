"""A count from its frozen list to its signature."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import override

from fleet.counting.actions import counts, sightings
from fleet.counting.models import Count, Line, Sighting
from fleet.ground.refusal import Refused
from fleet.register.actions.horns import amend_horn
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn
from tests import make

pytestmark = pytest.mark.django_db


def outcomes(count: Count) -> dict[str, str]:
    return dict(Line.objects.filter(count=count).values_list("number", "outcome"))


def test_the_list_is_frozen_when_the_count_begins(cupboard):
    horn = make.horn(cupboard.school, number="A-1", place=cupboard.store)
    make.horn(cupboard.school, number="A-2", withdrawn_on=date(2026, 1, 1))
    count = cupboard.begin()

    make.horn(cupboard.school, number="A-3", place=cupboard.store)
    amend_horn(horn=horn, changes={"number": "B-1", "place": cupboard.music_room}, by=cupboard.head, at=make.NOW)

    [line] = Line.objects.filter(count=count)
    assert (line.number, line.place, line.place_words, line.kind) == (
        "A-1",
        cupboard.store,
        "Store, top",
        "single horn in F",
    )


def test_the_list_is_kept_in_english_whoever_begins_the_count(cupboard):
    make.horn(cupboard.school, build="double-full", stands_in="Bb", place=cupboard.store)
    with override("de"):
        count = cupboard.begin()

    assert Line.objects.get(count=count).kind == "full double horn in F and B♭, stands in B♭"


def test_each_horn_ends_as_what_was_seen_of_it(cupboard):
    school, store, room = cupboard.school, cupboard.store, cupboard.music_room
    seen = make.horn(school, number="SEEN", place=store)
    elsewhere = make.horn(school, number="ELSEWHERE", place=store)
    twice = make.horn(school, number="TWICE", place=store)
    make.horn(school, number="MISSING", place=store)
    make.horn(school, number="LENT", place=store, holder_name="Bo Li")
    on_shelf = make.horn(school, number="LENT-ON-SHELF", place=store, holder_name="Bo Li")
    make.horn(school, number="BENCH", place=store, on_bench=True)
    make.horn(school, number="LOST-BEFORE", place=store, not_found_on=date(2026, 1, 1))
    found = make.horn(school, number="LOST-FOUND", place=store, not_found_on=date(2026, 1, 1))
    withdrawn = make.horn(school, number="WITHDRAWN", withdrawn_on=date(2026, 1, 1))
    placeless = make.horn(school, number="PLACELESS")
    count = cupboard.begin()

    for horn, place in (
        (seen, store),
        (seen, store),
        (elsewhere, room),
        (twice, store),
        (twice, room),
        (on_shelf, store),
        (found, store),
        (withdrawn, store),
        (placeless, room),
    ):
        cupboard.see(count, horn, place)
    cupboard.end(count)

    assert outcomes(count) == {
        "SEEN": "seen",
        "ELSEWHERE": "elsewhere",
        "TWICE": "twice",
        "MISSING": "not-found",
        "LENT": "away",
        "LENT-ON-SHELF": "not-expected",
        "BENCH": "away",
        "LOST-BEFORE": "away",
        "LOST-FOUND": "not-expected",
        "WITHDRAWN": "not-expected",
        "PLACELESS": "elsewhere",
    }


def test_a_count_is_ended_once_by_who_ended_it_first(cupboard):
    make.horn(cupboard.school)
    count = cupboard.begin()
    counts.end(count=count, by=cupboard.teacher, at=make.NOW + timedelta(minutes=1))
    again = counts.end(count=count, by=cupboard.head, at=make.NOW + timedelta(minutes=2))

    assert (again.ended_by, again.ended_at) == (cupboard.teacher, make.NOW + timedelta(minutes=1))


def test_horns_lent_and_brought_back_during_the_count_are_accounted_for(cupboard):
    school, store = cupboard.school, cupboard.store
    pupil = make.pupil(school, make.guardian(school))
    seen_then_lent = make.horn(school, number="SEEN-LENT", place=store)
    lent = make.horn(school, number="LENT", place=store)
    back_seen = make.horn(school, number="BACK-SEEN", place=store, holder_name="Bo Li")
    back_unseen = make.horn(school, number="BACK-UNSEEN", place=store, holder_name="Bo Li")
    count = cupboard.begin()

    cupboard.see(count, seen_then_lent, store)
    for horn in (seen_then_lent, lent):
        make.loan(horn, pupil, cupboard.teacher)
    for horn in (back_seen, back_unseen):
        horn.holder_name = ""
        horn.save(update_fields=["holder_name"])
    cupboard.see(count, back_seen, store)
    cupboard.end(count)

    assert outcomes(count) == {
        "SEEN-LENT": "seen",
        "LENT": "went",
        "BACK-SEEN": "seen",
        "BACK-UNSEEN": "not-found",
    }


def test_a_tap_sent_again_counts_once(cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()

    first = cupboard.see(count, horn, cupboard.store, key="the-same-tap", minutes=1)
    again = cupboard.see(count, horn, cupboard.store, key="the-same-tap", minutes=9)

    assert first == again
    assert Sighting.objects.get().received_at == make.NOW + timedelta(minutes=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Sighting.objects.create(
            count=count,
            line=first.line,
            key="the-same-tap",
            seen_at=make.NOW,
            received_at=make.NOW,
            by=cupboard.teacher,
        )


def test_a_tap_sent_again_after_the_end_is_known_while_a_new_one_is_refused(cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    first = cupboard.see(count, horn, cupboard.store, key="the-same-tap")
    cupboard.end(count)

    assert cupboard.see(count, horn, cupboard.store, key="the-same-tap", minutes=90) == first
    with pytest.raises(Refused, match="This count was ended"):
        cupboard.see(count, horn, cupboard.store, minutes=90)


@pytest.mark.parametrize(
    ("waited", "seen"),
    [
        (timedelta(minutes=3), timedelta(minutes=7)),
        (timedelta(days=40), timedelta(0)),  # a clock that jumped: not before the count began
        (timedelta(minutes=-5), timedelta(minutes=10)),  # nor after it arrived
    ],
)
def test_when_a_horn_was_seen_comes_from_the_servers_clock(cupboard, waited, seen):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()

    made = cupboard.see(count, horn, cupboard.store, minutes=10, waited=waited)

    assert made.seen_at == make.NOW + seen


def test_a_tap_taken_back_no_longer_counts_and_stays_on_record(cupboard):
    horn = make.horn(cupboard.school, number="A-1", place=cupboard.store)
    stray = make.horn(cupboard.school, number="A-2", withdrawn_on=date(2026, 1, 1))
    count = cupboard.begin()
    for one in (horn, stray):
        sighting = cupboard.see(count, one, cupboard.store)
        sightings.undo(sighting=sighting, by=cupboard.teacher, at=make.NOW + timedelta(minutes=6))

    cupboard.end(count)

    assert outcomes(count) == {"A-1": "not-found", "A-2": "away"}
    assert Sighting.objects.filter(undone_by=cupboard.teacher).count() == 2


def test_a_missing_horn_is_recorded_in_the_register_where_the_resolver_says_so(cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.end(count)

    cupboard.resolve(count, horn, "missing", reason="Searched the whole corridor")

    horn.refresh_from_db()
    assert horn.where == Horn.Where.NOT_FOUND
    assert horn.standings.get().reason == "Searched the whole corridor"


def test_a_horn_that_was_lost_is_found_and_one_seen_elsewhere_gets_its_new_place(cupboard):
    lost = make.horn(cupboard.school, place=cupboard.store, not_found_on=date(2026, 1, 1))
    moved = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.see(count, lost, cupboard.store)
    cupboard.see(count, moved, cupboard.music_room)
    cupboard.end(count)

    cupboard.resolve(count, lost, "found")
    with pytest.raises(Refused, match="Say which place"):
        cupboard.resolve(count, moved, "moved")
    cupboard.resolve(count, moved, "moved", place=cupboard.music_room)

    lost.refresh_from_db()
    moved.refresh_from_db()
    assert (lost.where, moved.place) == (Horn.Where.IN_PLACE, cupboard.music_room)


def test_a_difference_is_resolved_once_with_a_reason_and_only_in_ways_that_fit(cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    fine = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.see(count, fine, cupboard.store)
    with pytest.raises(Refused, match="still open"):
        cupboard.resolve(count, horn, "explained")
    cupboard.end(count)

    with pytest.raises(Refused, match="Give the reason"):
        cupboard.resolve(count, horn, "explained", reason="  ")
    with pytest.raises(Refused, match="cannot be said"):
        cupboard.resolve(count, horn, "found")
    with pytest.raises(Refused, match="nothing to resolve"):
        cupboard.resolve(count, fine, "explained")
    cupboard.resolve(count, horn, "explained")
    with pytest.raises(Refused, match="resolved already"):
        cupboard.resolve(count, horn, "missing")


def test_a_horn_lent_between_the_end_and_the_answer_is_not_recorded_as_missing(cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.end(count)
    make.loan(horn, make.pupil(cupboard.school, make.guardian(cupboard.school)), cupboard.teacher)

    with pytest.raises(Refused, match="cannot be said"):
        cupboard.resolve(count, horn, "missing")

    assert cupboard.resolve(count, horn, "explained").resolution == "explained"


def test_only_somebody_who_did_not_count_signs_and_only_when_nothing_is_left(cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.see(count, make.horn(cupboard.school, place=cupboard.store), cupboard.store, by=cupboard.teacher)
    with pytest.raises(Refused, match="still open"):
        cupboard.sign(count)
    cupboard.end(count)
    with pytest.raises(Refused, match="2 differences are not resolved"):
        cupboard.sign(count)
    for line in Line.objects.filter(count=count):
        cupboard.resolve(count, line.horn, "explained")

    with pytest.raises(Refused, match="You counted here yourself"):
        cupboard.sign(count, by=cupboard.teacher)
    assert cupboard.sign(count).signed_by == cupboard.head
    # A second tap of the same person is no second signature; another person's is one too many at once.
    assert cupboard.sign(count).signed_by == cupboard.head
    with pytest.raises(Refused, match="kept as it is"):
        cupboard.sign(count, by=cupboard.technician)
    with pytest.raises(Refused, match="kept as it is"):
        cupboard.sign(count, by=cupboard.technician, minutes=90)
    assert horn.where == Horn.Where.IN_PLACE


def test_a_signed_count_cannot_be_changed(cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    sighting = cupboard.see(count, horn, cupboard.store, by=cupboard.technician)
    cupboard.end(count)
    cupboard.sign(count)

    for refused in (
        lambda: cupboard.see(count, horn, cupboard.store, minutes=99),
        lambda: sightings.undo(sighting=sighting, by=cupboard.head, at=make.NOW),
        lambda: cupboard.resolve(count, horn, "explained"),
    ):
        with pytest.raises(Refused):
            refused()
    for kept in (count, sighting, count.lines.get()):
        with pytest.raises(ValidationError, match="kept as it is"):
            kept.delete()
        with pytest.raises(ValidationError, match="kept as it is"):
            type(kept).objects.filter(pk=kept.pk).delete()
    count.title = "Another"
    with pytest.raises(ValidationError, match="kept as it is"):
        count.save()


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({"signed_at": make.NOW}, "count_ended_before_signed"),
        ({"ended_at": make.NOW - timedelta(days=1)}, "count_ends_after_it_began"),
        ({"seed": 5}, "count_sample_says_how_drawn"),
    ],
)
def test_the_database_holds_the_order_of_a_count(cupboard, fields, name):
    make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    people = {column.replace("_at", "_by"): cupboard.head for column in fields if column.endswith("_at")}

    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        Count.objects.filter(pk=count.pk).update(**fields, **people)


@pytest.mark.parametrize("fields", [{"resolution": "explained"}, {"reason": "because"}, {"resolved_at": make.NOW}])
def test_the_database_holds_a_resolution_together(cupboard, fields):
    make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.end(count)

    with pytest.raises(IntegrityError, match="line_resolved_with_reason"), transaction.atomic():
        Line.objects.filter(count=count).update(**fields)


def test_two_open_counts_never_share_a_horn_and_a_button_tapped_twice_begins_one(cupboard):
    make.horn(cupboard.school, number="A-1", place=cupboard.store)
    make.horn(cupboard.school, number="A-2", place=cupboard.music_room)
    count = cupboard.begin(cupboard.store)

    assert cupboard.begin(cupboard.store) == count
    assert cupboard.begin(cupboard.music_room) != count
    with pytest.raises(Refused, match="A-1 and 1 more are on the list of a count"):
        cupboard.begin()
    with pytest.raises(Refused, match="nothing to count"):
        cupboard.begin(make.place(cupboard.school))


def test_a_sample_is_drawn_again_from_its_seed_and_takes_no_other_horn(cupboard):
    horns = [make.horn(cupboard.school, place=cupboard.store) for _ in range(30)]
    make.horn(cupboard.school, holder_name="Bo Li")
    given = {"school": cupboard.school, "confidence": 90, "margin": 15, "by": cupboard.teacher}

    first = counts.begin_sample(**given, at=make.NOW, seed=7)
    cupboard.end(first)
    again = counts.begin_sample(**given, at=make.NOW + timedelta(days=1), seed=7)

    chosen = [line.horn for line in first.lines.all()]
    assert (first.population, first.seed, len(chosen)) == (30, 7, 16)
    assert chosen == [line.horn for line in again.lines.all()]
    other = next(horn for horn in horns if horn not in chosen)
    with pytest.raises(Refused, match="not in this sample"):
        cupboard.see(again, other, cupboard.store, minutes=2000)


def test_a_horn_found_missing_by_hand_meanwhile_needs_no_second_record(cupboard):
    horn = make.horn(cupboard.school, place=cupboard.store)
    count = cupboard.begin()
    cupboard.end(count)
    change_standing(horn=horn, kind="not-found", reason="x", by=cupboard.head, at=make.NOW)

    with pytest.raises(Refused, match="cannot be said"):
        cupboard.resolve(count, horn, "missing")
