"""The page on which a school says how much each rule matters, and what its classes play on and where."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from fleet.matching.models import ClassPlan, MatchingRules
from fleet.matching.queries.wishes import weights_of
from fleet.matching.solving.rows import MUST, Weights
from tests import make

pytestmark = pytest.mark.usefixtures("at_noon")


def test_the_schools_rules_are_kept_and_go_for_every_proposal(client, page, band, elsewhere):
    answer = client.post(
        f"{page}rules/",
        {
            "keep": 0,
            "stand": 3,
            "wrap": MUST,
            "better": 9,
            "carry": 1,
            "class-0-group": "Band",
            "class-0-stands_in": "Bb",
            "class-0-room": "",
        },
    )

    assert answer.status_code == 302
    assert weights_of(band.school) == Weights(keep=0, stand=3, wrap=MUST, better=9, carry=1)
    assert weights_of(elsewhere.school) == Weights()
    assert ClassPlan.objects.get(school=band.school).stands_in == "Bb"
    assert client.get(page, {"class": "Band"}).context["asked"].weights.better == 9


def test_a_rule_with_no_such_level_is_told_beside_its_field_and_nothing_is_kept(client, page, band):
    answer = client.post(f"{page}rules/", {"keep": 5, "stand": 3, "wrap": 3, "better": 9, "carry": 99})

    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"keep", "carry"}
    assert MatchingRules.objects.count() == 0


def test_the_database_refuses_a_weight_that_is_none(band):
    with pytest.raises(IntegrityError), transaction.atomic():
        MatchingRules.objects.create(school=band.school, keep=2)


def test_the_rules_page_offers_the_weights_that_were_tried(client, page, band):
    answer = client.get(f"{page}rules/", {"better": "9"})

    assert answer.context["form"]["better"].value() == 9


@pytest.mark.parametrize("more", [0, 2, 29])
def test_the_rules_page_takes_as_many_queries_for_thirty_classes_as_for_one(
    client, page, band, more, django_assert_num_queries
):
    for n in range(more):
        make.pupil(band.school, group=f"Class {n}")
        ClassPlan.objects.create(school=band.school, group=f"Class {n}", stands_in="F")

    with django_assert_num_queries(7):
        client.get(f"{page}rules/")


def test_of_more_than_twenty_five_classes_the_next_page_has_the_rest_and_keeps_them_alone(client, page, band):
    for n in range(25):
        make.pupil(band.school, group=f"Class {n:02}")
    ClassPlan.objects.create(school=band.school, group="Band", stands_in="F")

    first = [form.group for form in client.get(f"{page}rules/").context["plans"]]
    answer = client.get(f"{page}rules/?page=2")
    [last] = answer.context["plans"]

    assert (len(first), first[0], last.group, last.prefix) == (25, "Band", "Class 24", "class-25")
    assert "Keep these before you go" in answer.content.decode()
    rules = {"keep": 0, "stand": 3, "wrap": MUST, "better": 9, "carry": 1}
    sent = {"class-25-group": "Class 24", "class-25-stands_in": "Bb", "class-25-room": ""}
    assert client.post(f"{page}rules/?page=2", {**rules, **sent}).status_code == 302
    assert dict(ClassPlan.objects.values_list("group", "stands_in")) == {"Band": "F", "Class 24": "Bb"}
