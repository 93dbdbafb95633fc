"""The page of who waits for a horn."""

from __future__ import annotations

import re

import pytest

from fleet.ground.access import Role
from fleet.lending.queries.wishes import waiting_for
from fleet.people.models import Pupil
from tests import make

pytestmark = pytest.mark.usefixtures("at_noon")


@pytest.mark.parametrize("more", [0, 2])
def test_the_list_takes_as_many_queries_for_three_as_for_one(client, lending, more, django_assert_num_queries):
    for _ in range(more + 1):
        make.wish(make.pupil(lending.school), lending.teacher)
        make.check(make.horn(lending.school, build="single-f", stands_in="F"), lending.teacher)
    client.get(f"/s/{lending.school.slug}/loans/wishes/")
    with django_assert_num_queries(12):
        client.get(f"/s/{lending.school.slug}/loans/wishes/")


@pytest.mark.both_engines
@pytest.mark.parametrize(
    ("counted_to", "ready", "words"),
    [
        (1, 3, "AA-1, AA-2 and 1 more<"),
        (1, 4, "AA-1, AA-2 and more than 1 more<"),
        (1, 9, "AA-1, AA-2 and more than 1 more<"),
        (1000, 9, "AA-1, AA-2 and 7 more<"),
    ],
)
def test_of_the_horns_that_would_do_the_first_are_named_and_the_rest_counted_no_further_than_lists_are(
    client, lending, monkeypatch, counted_to, ready, words
):
    monkeypatch.setattr("fleet.ground.paging.COUNTED_TO", counted_to)
    monkeypatch.setattr("fleet.ground.paging._KEPT", {})
    for n in range(1, ready):
        horn = make.horn(lending.school, number=f"AA-{n}", build="single-f", stands_in="F")
        make.check(horn, lending.teacher)
    make.check(make.horn(lending.school, build="double-full", stands_in="F"), lending.teacher)
    make.wish(make.pupil(lending.school), lending.teacher, kind="single")

    page = client.get(f"/s/{lending.school.slug}/loans/wishes/").content.decode()

    assert words in re.sub("</?a[^>]*>", "", page)


def test_whom_a_horn_is_kept_for_does_not_wait_for_such_a_one_besides(lending):
    waits = make.wish(make.pupil(lending.school), lending.teacher)
    make.wish(make.pupil(lending.school), lending.teacher, horn=lending.horn, reserved_until=make.TODAY)
    named = make.wish(make.pupil(lending.school), lending.teacher, horn=lending.horn)

    assert waiting_for(lending.horn, make.TODAY, 6) == [waits, named]


def test_a_technician_does_not_read_who_waits(as_, lending):
    make.wish(make.pupil(lending.school), lending.teacher)
    bench = as_(make.staff(Role.TECHNICIAN, lending.school))

    assert bench.get(f"/s/{lending.school.slug}/loans/wishes/").status_code == 403
    assert "Who waits" not in bench.get(f"/s/{lending.school.slug}/horns/{lending.horn.pk}/").content.decode()


@pytest.mark.parametrize("many", [25, 26])
def test_twenty_five_wishes_stand_on_a_page_and_the_rest_on_the_next(lending, client, many):
    names = [f"Waiter {n:02}" for n in range(many)]
    pupils = Pupil.objects.bulk_create(Pupil(school=lending.school, name=name) for name in names)
    for pupil in pupils:
        make.wish(pupil, lending.teacher, family="horn")
    address = f"/s/{lending.school.slug}/loans/wishes/"

    first, second = (client.get(address, {"page": page}).content.decode() for page in (1, 2))

    assert ("Waiter 24" in first, "Waiter 25" in first) == (True, False)
    assert ('rel="next"' in first, "Waiter 25" in second) == (many == 26, many == 26)
