"""Days, hours and counts in words."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import timezone
from django.utils.dateformat import format as dated


def spoken_time(at: datetime) -> str:
    return dated(timezone.localtime(at), "H:i, j F")


def day(when: date) -> str:
    """A date as it stands in sentences: `3 May 2027`."""
    return dated(when, "j F Y")
