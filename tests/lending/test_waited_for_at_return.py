"""Taking several horns back says who waits for each, as taking back one does."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.lending.pages.taking_back import NAMED
from fleet.lending.queries.wishes import who_waits
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.usefixtures("at_noon")
DAY = timedelta(days=1)


def out(lending, number, build="double-full"):
    horn = make.horn(lending.school, number=number, build=build, stands_in="F")
    make.loan(horn, make.pupil(lending.school, make.guardian(lending.school)), lending.teacher)
    return horn


def test_each_horn_is_told_with_who_waits_for_it_or_has_it_kept(lending, django_assert_num_queries):
    school = lending.school
    first, second = (make.pupil(school, name=name) for name in ("Ada", "Ben"))
    kept, single, double = out(lending, "B-1"), out(lending, "B-2", "single-f"), out(lending, "B-3")
    make.wish(first, lending.teacher, kind="double", since=make.TODAY - DAY)
    make.wish(second, lending.teacher, kind="double")
    make.wish(second, lending.teacher, horn=kept, reserved_until=make.TODAY)

    with django_assert_num_queries(2):
        told = who_waits([kept, single, double], school, make.TODAY)

    assert told == {
        kept.pk: "It is kept for Ben until 14 September 2026.",
        double.pk: "Ada waits for such a horn, and 1 more.",
    }
    with django_assert_num_queries(0):
        assert who_waits([], school, make.TODAY) == {}


@pytest.mark.parametrize("many", [NAMED, NAMED + 1])
def test_the_list_names_each_and_the_message_the_first(lending, as_, many):
    make.wish(make.pupil(lending.school, name="Ada"), lending.teacher, kind="double")
    numbers = [out(lending, f"B-{n}").number for n in range(many)]
    page, client = reverse("loans:back", args=[lending.school.slug]), as_(lending.teacher)
    listed = client.post(page, {"do": "add", "numbers": ", ".join(numbers)}, follow=True)
    assert folded(listed).count("Ada waits for such a horn.") == many

    done = folded(client.post(page, {"do": "take", "looked": "yes"}, follow=True))

    assert f"{many} horns taken back. B-0: Ada waits for such a horn. B-1:" in done
    assert done.count("Ada waits for such a horn.") == NAMED
    assert ("Today names the rest." in done) is (many > NAMED)
