"""Days, hours and counts in words."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import timezone
from django.utils.dateformat import format as dated


def spoken_time(at: datetime) -> str:
    return dated(timezone.localtime(at), "H:i, j F Y")


def day(when: date) -> str:
    """A date as it stands in sentences: `3 May 2027`."""
    return dated(when, "j F Y")


def short_day(when: date, today: date) -> str:
    """A date where there is little room: `3 May`, of another year than this `3 May 2027`, in short months."""
    return dated(when, "j M" if when.year == today.year else "j M Y")


def days(count: int) -> str:
    """`1 day`, `6 days`."""
    return f"{count} day{'' if count == 1 else 's'}"


def shortened(words: str, most: int = 70) -> str:
    """At most so many letters of what somebody wrote, with a sign that more was cut."""
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"
