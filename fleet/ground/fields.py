"""Form fields for days and money, as people type them."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.utils import timezone

from fleet.ground.files.pdfs import kept_paper


def day_as_time(day: date, now: datetime) -> datetime:
    """A day as a moment to keep: now for today, else noon of that day, so that no time zone moves it."""
    if day == timezone.localdate(now):
        return now
    return datetime.combine(day, time(12), tzinfo=timezone.get_current_timezone()).astimezone(UTC)


def not_to_come(day: date, now: datetime) -> date:
    if day > timezone.localdate(now):
        raise forms.ValidationError("This day has not come yet.")
    return not_too_long_ago(day)


def not_too_long_ago(day: date) -> date:
    if day.year < 1900:
        raise forms.ValidationError("This day is too long ago; check the year.")
    return day


LONGEST_WAIT = timedelta(days=7)


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


class PaperField(forms.FileField):
    """A photograph or a PDF of a paper. Gives the file as it is to be kept, None for none."""

    widget = forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp,application/pdf"})

    def clean(self, data: Any, initial: Any = None) -> ContentFile[bytes] | None:
        upload = super().clean(data, initial)
        return kept_paper(upload) if upload else None


MOST_COST = Decimal("9999999.99")


def amount(below: str) -> forms.DecimalField:
    """A sum of money, with what to say to one that is negative or absurd."""
    absurd = "That is more than any repair costs. Look at the figure again."
    return forms.DecimalField(
        required=False,
        min_value=Decimal(0),
        max_value=MOST_COST,
        decimal_places=2,
        error_messages={
            "min_value": below,
            "max_value": absurd,
            "max_decimal_places": "Give the cost with at most two decimals.",
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
        error_messages={"invalid": "Write the day like 2027-06-30.", "required": "Give a day."},
        **options,
    )


def days_in(words: str) -> list[int]:
    """`14, 3` as [3, 14]. Raises ValidationError for anything but up to six whole numbers from 1 to 365."""
    parts = [part for part in words.replace(";", ",").replace(" ", ",").split(",") if part]
    if any(not part.isascii() or not part.isdigit() or not 1 <= int(part[:5]) <= 365 for part in parts):
        raise ValidationError("Write numbers of days from 1 to 365 with commas between, like: 14, 3.")
    if len(parts) > 6:
        raise ValidationError("Six letters are enough.")
    return sorted({int(part) for part in parts})


def check_days(words: str) -> None:
    days_in(words)
