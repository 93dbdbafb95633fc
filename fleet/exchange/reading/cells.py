"""Cells of a spreadsheet as text: made safe on the way out, read as people write them on the way in."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from decimal import Decimal, InvalidOperation
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _s

from fleet.ground.wording import plain_words

# What a spreadsheet takes for the start of a formula: OWASP ASVS 5.0, 1.2.10, with the line feed and the full-width
# forms of OWASP's page on CSV injection. One apostrophe before it makes it words; a second one keeps an apostrophe
# that was there, so that reading the file back gives what was written.
_STARTS = "=+\\-@\t\r\n\0＝＋－＠"
_DANGEROUS = re.compile(f"'*[{_STARTS}]")
_ESCAPED = re.compile(f"''*[{_STARTS}]")
EXCEL_BEGINS = date(1899, 12, 30)


def safe(text: str) -> str:
    """Text that no spreadsheet runs as a formula; `plain` gives it back as it was."""
    return f"'{text}" if _DANGEROUS.match(text) else text


def plain(text: str) -> str:
    """Text as it was before `safe`."""
    return text[1:] if _ESCAPED.match(text) else text


def as_text(value: Any) -> str:
    """A cell's value as the text the rest works with: days as 2026-09-14, whole numbers without a point."""
    if value is None:
        return ""
    if isinstance(value, str):
        return tidy(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ", "minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    return str(value)


def tidy(text: str) -> str:
    """Without blanks at the ends, non-breaking ones and characters nobody sees included."""
    for unseen in "\ufeff\u200b\u200e\u200f\u2060\0":
        text = text.replace(unseen, "")
    return text.replace("\u00a0", " ").replace("\u202f", " ").strip()


# Words that stand beside the figure under a list, in English, German, French, Spanish, Italian and Dutch.
_SUMS = {
    "sum", "total", "totals", "subtotal", "grand", "summe", "summen", "gesamt", "gesamtsumme", "insgesamt", "zusammen",
    "anzahl", "somme", "totale", "totaux", "totaal", "suma",
}  # fmt: skip


def reads_like_a_sum(text: str) -> bool:
    """Whether this is the line under a list: `Total`, `31 Summe`, `Gesamt: 31`."""
    words = plain_words(text).split()
    return not _SUMS.isdisjoint(words) and all(word in _SUMS or word.isdigit() for word in words)


_THREE = re.compile(r"^(\d{1,4})\s*[-./ ]\s*(\d{1,2})\s*[-./ ]\s*(\d{1,4})\.?$")
_NAMED = re.compile(r"^(\d{1,2})(?:st|nd|rd|th|er|re|e)?\.?[-\s]*([^\W\d_]{3,})\.?,?[-\s]*(\d{2,4})$")
_NAMED_FIRST = re.compile(r"^([^\W\d_]{3,})\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{2,4})$")
_CLOCK = re.compile(r"[T ]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:?\d{2})?$")
# The beginnings of month names in English, German, French, Spanish, Italian and Dutch, accents taken off.
_MONTHS = (
    ("jan", "janv", "ene", "gen"), ("feb", "fev"), ("mar", "maa", "mrt"), ("apr", "avr", "abr"),
    ("may", "mai", "mag", "mei"), ("jun", "juin", "giu"), ("jul", "juil", "lug"), ("aug", "aou", "ago"),
    ("sep", "set"), ("oct", "okt", "ott"), ("nov",), ("dec", "dez", "dic"),
)  # fmt: skip


def read_day(text: str, *, day_first: bool, today: date) -> date:
    """A day as people write it: 2026-09-14, 14.9.26, 14/09/2026, 14 Sept 2026, or a spreadsheet's count of days.

    `day_first` says what 3/4/2026 means. Raises ValidationError.
    """
    words = _CLOCK.sub("", text.strip())
    if words.isascii() and words.isdigit() and len(words) == 5:
        return EXCEL_BEGINS + timedelta(days=int(words))
    if match := _THREE.match(words):
        first, second, third = match.groups()
        if len(first) > 2:
            return _day(int(first), int(second), int(third), text)
        year = _year(third, today)
        day, month = (first, second) if day_first else (second, first)
        return _day(year, int(month), int(day), text)
    if match := _NAMED.match(words):
        return _day(_year(match[3], today), _month(match[2], text), int(match[1]), text)
    if match := _NAMED_FIRST.match(words):
        return _day(_year(match[3], today), _month(match[1], text), int(match[2]), text)
    raise ValidationError(_s("This is no day we can read. Write it like 2026-09-14."))


_YEAR = re.compile(r"^\d{4}$")
_YEAR_AND_MONTH = re.compile(r"^(\d{4})[-./](\d{1,2})$")
_MONTH_AND_YEAR = re.compile(r"^(?:([^\W\d_]{3,})\.?,?[-\s]*|(\d{1,2})[-./])(\d{4})$")


def read_month_or_year(text: str) -> str | None:
    """`2017` of a year alone, `2018-09` of a month and a year (Sept. 2018, 9/2018, 2018-09); None for anything else.

    Raises ValidationError for a month there is not.
    """
    words = text.strip()
    if _YEAR.match(words):
        return words
    if match := _YEAR_AND_MONTH.match(words):
        year, month = match[1], int(match[2])
    elif match := _MONTH_AND_YEAR.match(words):
        name, number, year = match.groups()
        month = _month(name, text) if name else int(number)
    else:
        return None
    if not 1 <= month <= 12:
        raise ValidationError(_s("There is no such month as %(text)s."), params={"text": text})
    return f"{year}-{month:02}"


def _year(text: str, today: date) -> int:
    year = int(text)
    if len(text) <= 2:
        # Two digits are a year of the last hundred: 29 in 2026 was 1929.
        century = today.year // 100 * 100
        year += century if century + year <= today.year else century - 100
    return year


def _month(name: str, text: str) -> int:
    start = plain_words(name)
    for number, beginnings in enumerate(_MONTHS, start=1):
        if start.startswith(beginnings):
            return number
    raise ValidationError(
        _s("“%(text)s” names no month we know. Write the day like 2026-09-14."), params={"text": text}
    )


def _day(year: int, month: int, day: int, text: str) -> date:
    try:
        return date(year, month, day)
    except ValueError as wrong:
        turned = _s("There is no such day as %(text)s. Is the month before the day in this file?")
        sentence = turned if month > 12 >= day else _s("There is no such day as %(text)s.")
        raise ValidationError(sentence, params={"text": text}) from wrong


def read_amount(text: str) -> Decimal:
    """A price as people write it, with or without a currency: 1.234,50 €, £1,234.50, 1 234,5.

    Raises ValidationError, also for what may mean two things, such as 1.234.
    """
    if re.match(r"\s*(?:[~≈]|(?:ca|circa|about|approx|etwa|env|environ)\b)", text.lower()):
        raise ValidationError(_s("This is a rough amount. Write it like 1234.50, if it is good enough."))
    # The point behind a word (Fr. 900) belongs to the word.
    figures = re.sub(r"[^\d.,'\-]", "", re.sub(r"[^\W\d]+\.", "", text)).replace("'", "").rstrip(".,-")
    if not re.search(r"\d", figures):
        raise ValidationError(_s("This is no amount. Write it like 1234.50."))
    separators = [c for c in figures if c in ".,"]
    if separators:
        last = separators[-1]
        whole, _, part = figures.rpartition(last)
        if len(part) == 3 and len(set(separators)) == 1:
            if len(separators) == 1:
                raise ValidationError(
                    _s("%(text)s may mean two amounts. Write it like 1234.50."), params={"text": text}
                )
            whole, part = figures, "0"
        figures = f"{re.sub('[.,]', '', whole)}.{part}"
    try:
        return Decimal(figures)
    except InvalidOperation as wrong:
        raise ValidationError(_s("This is no amount. Write it like 1234.50.")) from wrong
