"""Two at once leave nothing behind, even where one of them waits for ever."""

from __future__ import annotations

import threading

import pytest
from django.db import connection, transaction

from fleet.people.models import School
from tests import make
from tests.at_once import all_at_once


@pytest.mark.django_db(transaction=True)
def test_what_each_gave_or_raised_comes_in_their_order():
    def refuse() -> None:
        raise ValueError("no")

    gave, raised = all_at_once([School.objects.count, refuse])

    assert (gave, type(raised)) == (0, ValueError)


@pytest.mark.django_db(transaction=True)
def test_an_act_that_waits_for_ever_is_broken_off_and_keeps_no_connection():
    if connection.vendor != "postgresql":
        pytest.skip("on SQLite nobody waits for a row")
    school, before = make.school(), threading.active_count()

    with transaction.atomic():
        School.objects.select_for_update().get(pk=school.pk)
        (outcome,) = all_at_once([lambda: School.objects.filter(pk=school.pk).update(name="Another")], patience=0.2)

    assert isinstance(outcome, TimeoutError)
    # Who has ended has closed what they had opened.
    assert threading.active_count() == before
