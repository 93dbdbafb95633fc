"""Form fields for days and money, as people type them, how inputs and selects are drawn, and what lists narrow by."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any, ClassVar

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.forms.renderers import TemplatesSetting
from django.utils import timezone
from django.utils.html import conditional_escape
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _s

from fleet.ground.files.pdfs import kept_paper
from fleet.ground.languages.marks import _s_lazy


def day_as_time(day: date, now: datetime) -> datetime:
    """A day as a moment to keep: now for today, else noon of that day, so that no time zone moves it."""
    if day == timezone.localdate(now):
        return now
    return datetime.combine(day, time(12), tzinfo=timezone.get_current_timezone()).astimezone(UTC)


def not_to_come(day: date, now: datetime) -> date:
    if day > timezone.localdate(now):
        raise forms.ValidationError(_s_lazy("This day has not come yet."))
    return not_too_long_ago(day)


def not_too_long_ago(day: date) -> date:
    if day.year < 1900:
        raise forms.ValidationError(_s_lazy("This day is too long ago; check the year."))
    return day


LONGEST_WAIT = timedelta(days=7)


def alike(one: Any) -> Any:
    """Another one with the same things on it: `copy`, which asks first how that is done, takes four times as long."""
    other = object.__new__(type(one))
    other.__dict__.update(one.__dict__)
    return other


class Declared(dict[str, Any]):
    """What a class of a library declares, each of which it copies for every request with all that hangs on it, a tenth
    of a list page. Here the things themselves are copied, for what is set on them."""

    def __deepcopy__(self, memo: dict[int, Any]) -> dict[str, Any]:
        return {name: alike(one) for name, one in self.items()}


class NarrowedBy(django_filters.FilterSet):
    """What a list of a school is narrowed by. The library makes the form's class anew for every request, of the same
    fields.

    The widgets of the fields are those of all requests.
    """

    _form_class: ClassVar[type[forms.Form] | None] = None

    def __init__(self, data: Mapping[str, Any], *, school: Any, request: Any = None) -> None:
        super().__init__(data, self._meta.model.objects.none(), request=request)
        self.school = school
        for one in self.filters.values():
            if one.method is not None:
                # A way of its own belongs to the filter it was set on: set anew, to the copy.
                one.method = one.method

    @cached_property
    def of_school(self) -> Any:
        """What there is to narrow."""
        return self._meta.model.objects.at(self.school)

    @cached_property
    def qs(self) -> Any:
        """What is left of it."""
        self.form.is_valid()
        return self.filter_queryset(self.of_school)

    @property
    def nonsense(self) -> list[str]:
        """What of the address makes no sense, and is left out."""
        return list(self.form.errors)

    @classmethod
    def get_filters(cls) -> Declared:
        return Declared(super().get_filters())

    def get_form_class(self) -> type[forms.Form]:
        of = type(self)
        if of._form_class is None:
            made: Any = super().get_form_class()
            made.base_fields = Declared(made.base_fields)
            of._form_class = made
        return of._form_class


class KeptForm(forms.Form):
    """What the browser may have kept for want of a connection. It is sent under one id however often, with its `age`:
    the seconds since it was done, by that device's own clock."""

    sent_as = forms.UUIDField(required=False, widget=forms.HiddenInput)
    age = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)

    @property
    def waited(self) -> timedelta:
        """How long ago it was done; a week at most."""
        return timedelta(seconds=min(self.cleaned_data.get("age") or 0, LONGEST_WAIT.total_seconds()))

    def done_at(self, now: datetime) -> datetime:
        return now - self.waited

    def received_at(self, now: datetime) -> datetime | None:
        """When the site had it, where it waited before."""
        return now if self.cleaned_data.get("age") else None


def tick_after(form: forms.BaseForm, after: str, name: str, label: str, near: str) -> None:
    """A tick right after a field, that what is typed there is another than `near`, which is there already."""
    wrong = {"required": _s("%(near)s is there already: write it so, or tick this.") % {"near": near}}
    form.fields[name] = forms.BooleanField(label=label, error_messages=wrong)
    order = list(form.fields)
    order.insert(order.index(after) + 1, order.pop())
    form.order_fields(order)


class PaperField(forms.FileField):
    """A photograph or a PDF of a paper. Gives the file as it is to be kept, None for none."""

    widget = forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp,application/pdf"})

    def clean(self, data: Any, initial: Any = None) -> ContentFile[bytes] | None:
        upload = super().clean(data, initial)
        return kept_paper(upload) if upload else None


MOST_COST = Decimal("9999999.99")


def amount(below: str) -> forms.DecimalField:
    """A sum of money, with what to say to one that is negative or absurd."""
    absurd = _s_lazy("That is more than any repair costs. Look at the figure again.")
    return forms.DecimalField(
        required=False,
        min_value=Decimal(0),
        max_value=MOST_COST,
        decimal_places=2,
        error_messages={
            "min_value": below,
            "max_value": absurd,
            "max_decimal_places": _s_lazy("Give the cost with at most two decimals."),
        },
    )


class DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **attributes: Any) -> None:
        super().__init__(format="%Y-%m-%d", attrs=attributes)


def date_field(label: str, **options: Any) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=DateInput(),
        error_messages={"invalid": _s_lazy("Write the day like 2027-06-30."), "required": _s_lazy("Give a day.")},
        **options,
    )


def days_in(words: str) -> list[int]:
    """`14, 3` as [3, 14]. Raises ValidationError for anything but up to six whole numbers from 1 to 365."""
    parts = [part for part in words.replace(";", ",").replace(" ", ",").split(",") if part]
    if any(not part.isascii() or not part.isdigit() or not 1 <= int(part[:5]) <= 365 for part in parts):
        raise ValidationError(_s_lazy("Write numbers of days from 1 to 365 with commas between, like: 14, 3."))
    if len(parts) > 6:
        raise ValidationError(_s_lazy("Six letters are enough."))
    return sorted({int(part) for part in parts})


def check_days(words: str) -> None:
    days_in(words)


class PlainWidgets(TemplatesSetting):
    """Draws inputs and selects as Django's templates do, without a template for each option and each attribute: those
    took most of the time of a page with a long choice."""

    def render(self, template_name: str, context: dict[str, Any], request: Any = None) -> str:
        draw = DRAWN.get(template_name)
        if draw is None:
            return super().render(template_name, context, request)
        # Every value in it went through `escape`.
        return mark_safe(draw(context["widget"]))  # noqa: S308


def _attributes(said: Mapping[str, Any]) -> str:
    told = ((name, value) for name, value in said.items() if value is not False)
    return "".join(f" {_str(name)}" if value is True else f' {_str(name)}="{_str(value)}"' for name, value in told)


def _str(value: Any) -> SafeString:
    return conditional_escape(value if isinstance(value, str) else str(value))


def _input(widget: Mapping[str, Any]) -> str:
    value = "" if widget["value"] is None else f' value="{_str(widget["value"])}"'
    kind, name = _str(widget["type"]), _str(widget["name"])
    return f'<input type="{kind}" name="{name}"{value}{_attributes(widget["attrs"])}>'


def _select(widget: Mapping[str, Any]) -> str:
    drawn = [f'<select name="{_str(widget["name"])}"{_attributes(widget["attrs"])}>']
    for group, options, _ in widget["optgroups"]:
        if group:
            drawn.append(f'<optgroup label="{_str(group)}">')
        drawn += [
            f'<option value="{_str(one["value"])}"{_attributes(one["attrs"])}>{_str(one["label"])}</option>'
            for one in options
        ]
        if group:
            drawn.append("</optgroup>")
    drawn.append("</select>")
    return "".join(drawn)


def _choices(widget: Mapping[str, Any]) -> str:
    said = widget["attrs"]
    kept = {name: said[name] for name in ("id", "class") if said.get(name)}
    drawn = [f"<div{_attributes(kept)}>"]
    for group, options, _ in widget["optgroups"]:
        if group:
            drawn.append(f"<div><label>{_str(group)}</label>")
        drawn += [f"<div>{_choice(one)}</div>" for one in options]
        if group:
            drawn.append("</div>")
    drawn.append("</div>")
    return "".join(drawn)


def _choice(option: Mapping[str, Any]) -> str:
    named = {"for": option["attrs"]["id"]} if option["attrs"].get("id") else {}
    box = _input(option)
    return f"<label{_attributes(named)}>{box} {_str(option['label'])}</label>" if option["wrap_label"] else box


_INPUTS = ("checkbox", "date", "datetime", "email", "hidden", "input", "number", "text", "time", "url")
DRAWN: dict[str, Callable[[Mapping[str, Any]], str]] = {
    "django/forms/widgets/select.html": _select,
    "django/forms/widgets/checkbox_select.html": _choices,
    "django/forms/widgets/radio.html": _choices,
    **{f"django/forms/widgets/{name}.html": _input for name in _INPUTS},
}
