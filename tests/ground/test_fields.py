"""Days and moments as forms take them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django import forms

from fleet.ground.fields import day_as_time, not_to_come
from tests import make


def test_today_is_kept_as_this_moment_and_another_day_as_its_noon():
    assert day_as_time(make.TODAY, make.NOW) == make.NOW
    assert day_as_time(date(2026, 1, 31), make.NOW).astimezone(UTC).date() == date(2026, 1, 31)
    assert day_as_time(date(2026, 1, 31), make.NOW) == datetime(2026, 1, 31, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        (make.TODAY, ""),
        (make.TODAY + timedelta(days=1), "This day has not come yet."),
        (date(1900, 1, 1), ""),
        (date(1899, 12, 31), "This day is too long ago; check the year."),
    ],
)
def test_a_day_that_has_been_lies_between_1900_and_today(day, sentence):
    if not sentence:
        assert not_to_come(day, make.NOW) == day
        return
    with pytest.raises(forms.ValidationError, match=sentence):
        not_to_come(day, make.NOW)
