"""Days and moments as forms take them, and how inputs are drawn."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django import forms
from django.forms.renderers import TemplatesSetting
from django.utils.safestring import mark_safe
from django.utils.translation import gettext_lazy

from fleet.ground.fields import DateInput, PlainWidgets, day_as_time, not_to_come
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


ODD = "<b>&'\"é"


@pytest.mark.parametrize(
    ("widget", "value"),
    [
        (forms.TextInput({"class": ODD, "required": True, "disabled": False}), ODD),
        (DateInput(), make.TODAY),
        (forms.NumberInput(), 1234567),
        (forms.HiddenInput(), None),
        (forms.TextInput(), mark_safe("&amp;")),
        (forms.CheckboxInput(), True),
        (forms.CheckboxInput(), False),
        (forms.Select(choices=[("", "none"), (1, ODD), ("group", [(ODD, gettext_lazy("Yes")), (None, 3)])]), "1"),
        (forms.SelectMultiple(choices=[(ODD, "a"), (2, "b")]), [ODD, 2]),
        (forms.DateTimeInput(), None),
        (forms.RadioSelect(choices=[(ODD, ODD), ("group", [(1, gettext_lazy("Yes"))])]), ODD),
        (forms.CheckboxSelectMultiple({"class": ODD, "required": True}, choices=[(1, "a"), (2, ODD)]), [2]),
    ],
)
def test_inputs_and_selects_are_drawn_as_by_djangos_own_templates(widget, value):
    context = widget.get_context("a name", value, {"id": "id_x"})

    drawn, own = (one().render(widget.template_name, context) for one in (PlainWidgets, TemplatesSetting))

    assert drawn == re.sub(r">\s+<", "><", own.strip()).replace(">\n", ">")
