"""Rows of several sorts are read by two statements, as many queries would read them."""

import pytest
from django.db.models import BigIntegerField, F, OuterRef

from fleet.register.models import Horn
from fleet.register.queries import at_once
from fleet.register.queries.at_once import AtOnce
from fleet.workshop.models import ConditionCheck
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.both_engines]


@pytest.fixture
def horns():
    """One with two checks, of which one came in later than it was made, and one with none."""
    school, by = make.school(), make.user()
    checked, other = make.horn(school, place=make.place(school)), make.horn(school)
    make.check(checked, by, received_at=make.NOW)
    make.check(checked, by)
    return [checked, other]


def asked() -> AtOnce:
    checks = ConditionCheck.objects.filter(horn=OuterRef("pk")).order_by("pk").annotate(came_at=F("received_at"))
    return AtOnce(Horn.objects.order_by("pk").select_related("place"), {"checks": checks, "none": checks.none()}, 2)


def test_what_hangs_on_rows_is_told_with_what_is_annotated_and_fetched_along(horns, django_assert_num_queries):
    ask, keys = asked(), [horn.pk for horn in horns]

    with django_assert_num_queries(2):
        (checked, with_it), (other, without) = ask(keys)
        places = [checked.place, other.place]

    assert ([checked, other], places) == (horns, [horns[0].place, None])
    assert [one.came_at for one in with_it["checks"]] == [make.NOW, None]
    assert (with_it["none"], without) == ([], {"checks": [], "none": []})


@pytest.mark.parametrize("beyond", [0, 1])
def test_a_key_that_no_engine_can_hold_is_no_rows(horns, beyond):
    largest = BigIntegerField.MAX_BIGINT

    assert [horn for horn, _ in asked()([horns[0].pk, largest + beyond])] == horns[:1]


def test_what_goes_between_the_two_statements_is_left_out(horns, monkeypatch):
    ask, fetched = asked(), at_once.fetched

    def gone_after(sql, given):
        told = fetched(sql, given)
        ConditionCheck.objects.filter(received_at=None).delete()
        return told

    monkeypatch.setattr(at_once, "fetched", gone_after)

    [(_, told), _] = ask([horn.pk for horn in horns])

    assert [one.received_at for one in told["checks"]] == [make.NOW]
