"""Days, hours and counts in words, and words made alike for looking up."""

from __future__ import annotations

import re
import unicodedata
from datetime import date, datetime

from django.utils import timezone
from django.utils.dateformat import format as dated
from django.utils.formats import date_format
from django.utils.translation import ngettext

# Letters that Unicode does not take apart into one of a to z and a mark.
_AS_TYPED = str.maketrans(
    {"♭": "b", "♯": "#", "đ": "d", "ð": "d", "ø": "o", "ł": "l", "ħ": "h", "ŧ": "t", "ı": "i", "æ": "ae", "œ": "oe"}
    | {"þ": "th"}
)


def folded(words: str) -> str:
    """Without case and accents: `Ömer Đặng` and `OMER DANG` are both `omer dang`."""
    small = words.casefold()
    if small.isascii():
        return small
    apart = unicodedata.normalize("NFKD", small.translate(_AS_TYPED))
    return "".join(c for c in apart if not unicodedata.combining(c))


def in_reading_order(*words: str) -> str:
    """What names of places, classes and years are sorted by: numbers as numbers, `room 2` before `room 10`.

    Letters and figures only, without case and accents. A 0 stands between the words: it comes before the letters in
    every collation, while blanks and signs do not count in some.
    """
    return "0".join(
        one.zfill(9) if one.isdecimal() else one for each in words for one in re.findall(r"\d+|[^\W\d_]+", folded(each))
    )


def spoken_time(at: datetime) -> str:
    return dated(timezone.localtime(at), "H:i, j F Y")


def day(when: date) -> str:
    """A date as it stands in sentences: `3 May 2027`, in German `3. Mai 2027`."""
    return date_format(when, "DATE_FORMAT")


def short_day(when: date, today: date) -> str:
    """A date where there is little room: `3 May`, of another year than this `3 May 2027`, in short months."""
    return dated(when, "j M" if when.year == today.year else "j M Y")


def days(count: int) -> str:
    """`1 day`, `6 days`."""
    return ngettext("%(count)d day", "%(count)d days", count) % {"count": count}


def with_article(words: str) -> str:
    """`an alto horn`, `a baritone`."""
    return f"{'an' if words[:1].lower() in set('aeiou') else 'a'} {words}"


def shortened(words: str, most: int = 70) -> str:
    """At most so many letters of what somebody wrote, with a sign that more was cut."""
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"
