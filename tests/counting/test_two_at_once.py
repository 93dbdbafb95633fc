"""Several people at one count at the same moment, with real threads and real connections."""

from __future__ import annotations

import json
from collections import Counter
from datetime import timedelta
from functools import partial

import pytest
from django.db import connection, transaction
from django.test import Client

from fleet.counting.actions import counts, sightings
from fleet.counting.models import Count, Find, Line, Sighting
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.register.actions.locking import locked
from tests import make
from tests.at_once import all_at_once

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db(transaction=True)]
PEOPLE = 6
LATER = make.NOW + timedelta(minutes=5)


def set_up(horns: int = 1):
    school = make.school()
    store = make.place(school)
    for _ in range(horns):
        make.horn(school, place=store)
    head = make.staff(Role.HEAD, school)
    count = counts.begin(school=school, places=[], by=head, at=make.NOW)
    return school, store, head, count


def test_a_tap_sent_by_two_tabs_at_once_counts_once():
    school, store, head, count = set_up()
    horn = school.horns.get()
    tap = partial(sightings.see, count=count, horn=horn, place=store, key="the-same-tap", by=head, at=LATER)

    outcomes = all_at_once([tap] * PEOPLE)

    assert set(outcomes) == {Sighting.objects.get()}


def test_people_who_see_a_horn_nobody_expected_at_once_make_one_line_of_it():
    school, store, head, count = set_up()
    horn = make.horn(school, place=store)
    taps = [
        partial(sightings.see, count=count, horn=horn, place=store, key=f"tap-number-{n}", by=head, at=LATER)
        for n in range(PEOPLE)
    ]

    outcomes = all_at_once(taps)

    assert all(isinstance(outcome, Sighting) for outcome in outcomes), outcomes
    assert Line.objects.get(horn=horn).sightings.count() == PEOPLE


def test_a_tap_that_meets_the_end_is_either_counted_or_refused():
    school, store, head, count = set_up(horns=PEOPLE)
    taps = [
        partial(sightings.see, count=count, horn=horn, place=store, key=f"tap-number-{n}", by=head, at=LATER)
        for n, horn in enumerate(school.horns.all())
    ]

    *tapped, ended = all_at_once([*taps, partial(counts.end, count=count, by=head, at=LATER)])

    assert isinstance(ended, Count), ended
    taken = {one.line_id for one in tapped if isinstance(one, Sighting)}
    assert len(taken) + sum(isinstance(one, Refused) for one in tapped) == PEOPLE, tapped
    assert {line.pk for line in Line.objects.filter(outcome="seen")} == taken


def test_two_who_begin_the_same_count_at_once_begin_one():
    school = make.school()
    make.horn(school)
    people = [make.staff(Role.TEACHER, school) for _ in range(PEOPLE)]

    outcomes = all_at_once([partial(counts.begin, school=school, places=[], by=one, at=make.NOW) for one in people])

    assert Count.objects.count() == 1
    assert sum(isinstance(outcome, Refused) for outcome in outcomes) == PEOPLE - 1


def test_two_phones_that_send_the_same_shelf_at_once_lose_and_double_nothing(as_):
    """Each phone sends every letter twice, as one does whose answer was lost; both also found the same unknown case."""
    school, store, _head, count = set_up(horns=20)
    keys = list(school.horns.values_list("pk", flat=True))
    address = f"/s/{school.slug}/counts/{count.pk}/sent/?place={store.pk}"
    phones = {name: as_(make.staff(Role.TEACHER, school, name=name)) for name in ("Tom", "Una")}

    def sends(name: str, some: list[int]) -> set[str]:
        taps = [{"key": f"{name}-tap-{key:06}", "horn": key, "place": store.pk} for key in some]
        taps.append({"key": f"{name}-find-{some[0]:06}", "number": "no label", "place": store.pk})
        browser = Client()
        browser.cookies = phones[name].cookies
        told = browser.post(address, data=json.dumps({"taps": taps}), content_type="application/json").json()
        assert told["refused"] == {}
        return set(told["taken"])

    letters = [partial(sends, name, some) for name in phones for some in (keys[:10], keys[10:]) for _ in range(2)]
    outcomes = all_at_once(letters)

    assert all(isinstance(taken, set) and len(taken) == 11 for taken in outcomes), outcomes
    seen = Counter(Sighting.objects.values_list("line__horn", "by__name"))
    assert seen == {(key, name): 1 for key in keys for name in phones}
    assert Counter(Find.objects.values_list("by__name", flat=True)) == {"Tom": 2, "Una": 2}


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite lets one write at a time, whatever about")
def test_a_count_begins_while_somebody_holds_a_horn_of_its_list():
    school, _, head, count = set_up()
    counts.end(count=count, by=head, at=LATER)

    with transaction.atomic():
        locked(school.horns.get())
        begun = all_at_once([partial(counts.begin, school=school, places=[], by=head, at=LATER)])

    # To wait for each other for ever takes one more who holds what the other wants: the school of the count.
    assert [type(outcome) for outcome in begun] == [Count]
