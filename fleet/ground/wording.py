"""Days, hours and counts in words, words made alike for looking up, and names most probably meant as one."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import lru_cache

from django.utils import timezone
from django.utils.dateformat import format as dated
from django.utils.formats import date_format, get_format
from django.utils.html import urlize
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext, ngettext
from django.utils.translation import gettext as _s

# Letters that Unicode does not take apart into one of a to z and a mark.
_AS_TYPED = str.maketrans(
    {"♭": "b", "♯": "#", "đ": "d", "ð": "d", "ø": "o", "ł": "l", "ħ": "h", "ŧ": "t", "ı": "i", "æ": "ae", "œ": "oe"}
    | {"þ": "th", "’": "'", "ʼ": "'"}
)


# A number to be dialled begins with + or 0 (ITU-T E.123); a date in figures and a register number do not read so.
_TELEPHONE = re.compile(r"(?<![\w./-])(?!\d\d?/\d\d?/\d)(?:\+\d|\(?0)(?:[ ()/–-]{0,3}\d){5,15}(?![\w.-]*\d)")


def folded(words: str) -> str:
    """Without case and accents, with a typewriter's apostrophes: `Ömer O’Đặng` and `OMER O'DANG` are `omer o'dang`."""
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
    here = timezone.localtime(at)
    return f"{here:%H:%M}, {day(here)}"


def moment(at: datetime) -> str:
    """A day and the hour: `3 May 2027, 10:30`, in German `3. Mai 2027 10:30`."""
    return date_format(timezone.localtime(at), "DATETIME_FORMAT")


def day(when: date) -> str:
    """A date as it stands in sentences: `3 May 2027`, in German `3. Mai 2027`."""
    return _written(when.date() if isinstance(when, datetime) else when, get_format("DATE_FORMAT"), get_language())


def short_day(when: date, today: date) -> str:
    """A date where there is little room: `3 May`, of another year than this `3 May 2027`, in short months; in German
    `03.05.`."""
    form = get_format("SHORT_DATE_FORMAT")
    form = form.replace("Y", "").rstrip(" /-") if when.year == today.year else form
    return _written(when, form, get_language())


# The days of a list are those of the lists before.
@lru_cache(maxsize=4096)
def _written(when: date, form: str, _language: str | None) -> str:
    return dated(when, form)


def long_day(when: date) -> str:
    """With the day of the week: `Monday, 3 May 2027`."""
    return f"{date_format(when, 'l')}, {day(when)}"


def either(words: Sequence[str]) -> str:
    return _s(" or ").join(words)


def with_commas(words: Iterable[object] | None) -> str:
    """One after another, by the comma of the language: Arabic has its own; what is empty is left out."""
    return gettext(", ").join(str(one) for one in words or () if one)


def in_a_row(*sentences: str) -> str:
    """Whole sentences, one after another; what is empty is left out."""
    return " ".join(filter(None, sentences))


def days(count: int) -> str:
    """`1 day`, `6 days`."""
    return ngettext("%(count)d day", "%(count)d days", count) % {"count": count}


def minutes(count: object) -> str:
    """`15 min`."""
    return _s("%(minutes)s min") % {"minutes": count}


def with_article(words: str) -> str:
    """`an alto horn`, `a baritone`."""
    return f"{'an' if words[:1].lower() in set('aeiou') else 'a'} {words}"


def shortened(words: str, most: int = 70) -> str:
    """At most so many letters of what somebody wrote, with a sign that more was cut."""
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def reachable(words: str) -> SafeString:
    """What a school says of how it is reached, as HTML: addresses, e-mail and telephone numbers in it are links."""
    linked = str(urlize(words, autoescape=True))
    # Only between the links, in which digits are part of an address.
    parts = re.split(r"(<a .*?</a>)", linked)
    told = (part if part.startswith("<a ") else _TELEPHONE.sub(_dialled, part) for part in parts)
    return mark_safe("".join(told))  # noqa: S308 (urlize escaped it)


def _dialled(found: re.Match[str]) -> str:
    said = found.group()
    number = re.sub(r"\(0\)|[^\d+]", "", said)
    return f'<a href="tel:{number}" dir="ltr">{said}</a>' if 7 <= len(number) <= 16 else said


@lru_cache(maxsize=4096)
def plain_words(text: str) -> str:
    """For comparing: without case, accents and punctuation, single blanks."""
    return " ".join(re.sub(r"[^\w#]+", " ", folded(text)).replace("_", " ").split())


# ---- names of rooms and classes written in two ways ----

ALIKE = 0.85
Name = tuple[str, ...]


@lru_cache(maxsize=4096)
def _parts(name: Name) -> tuple[str, str]:
    """Figures and single letters, which tell 5a from 5b, and the words beside them."""
    text = plain_words(" ".join(name))
    for spelled, letter in (("ae", "a"), ("oe", "o"), ("ue", "u")):
        text = text.replace(spelled, letter)
    marks = [word for word in text.split() if len(word) == 1 or any(letter.isdigit() for letter in word)]
    return "".join(marks), " ".join(word for word in text.split() if word not in marks)


def likeness(one: Name, other: Name) -> float:
    """From 0 to 1: 0 where their figures differ; two that differ by a word beside a figure are alike enough. Of two
    names in parts each part is held to its own: another shelf of the same room is another place."""
    if len(one) > 1 and all(one) and all(other):
        return min(likeness((part,), (its,)) for part, its in zip(one, other, strict=True))
    (marks, words), (others, beside) = _parts(one), _parts(other)
    if marks != others or not (marks or words):
        return 0.0
    if marks and not (words and beside):
        return 1.0 if words == beside else ALIKE
    return difflib.SequenceMatcher(None, words, beside).ratio()


def closest(name: Name, known: Sequence[Name]) -> Name | None:
    """The known name that this one is most probably meant as, if any is near enough."""
    best = max(known, key=lambda one: likeness(name, one), default=None)
    return best if best is not None and likeness(name, best) >= ALIKE else None
