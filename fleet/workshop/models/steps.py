"""What the steps of a job say: kept in English, whoever acts, and told again in the language of the page."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import date
from decimal import Decimal
from functools import lru_cache

from django.utils.dates import MONTHS
from django.utils.formats import date_format
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.badges import money
from fleet.ground.languages.known import kept_in_english
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.workshop.models.faults import catalogue
from fleet.workshop.models.fitted import NOUN, PLACES, in_words
from fleet.workshop.models.jobs import RepairJob
from fleet.workshop.models.works import works

# As the actions write them, one after another. What was typed stays as it was kept.
SAID = (
    *RepairJob.State.labels,
    *RepairJob.Verdict.labels,
    _s_lazy("opened"),
    _s_lazy("opened by a condition check"),
    _s_lazy("opened for a family’s report"),
    _s_lazy("technician %(what)s"),
    _s_lazy("no technician"),
    _s_lazy("minutes left open"),
    _s_lazy("parts noted"),
    _s_lazy("cost noted"),
    _s_lazy("work ordered"),
    _s_lazy("notes changed"),
    _s_lazy("reasons noted"),
    _s_lazy("no verdict"),
    _s_lazy("brought for repair"),
    _s_lazy("its loan goes on"),
    _s_lazy("fetched"),
    _s_lazy("it is with who has it on loan"),
    _s_lazy("with %(what)s"),
    _s_lazy("no repairer"),
    _s_lazy("taken in"),
    _s_lazy("%(what)s done"),
    _s_lazy("%(what)s open again"),
    _s_lazy("%(what)s mended on the spot"),
    _s_lazy("%(what)s ordered"),
    _s_lazy("%(what)s not ordered any more"),
    _s_lazy("%(what)s went out in its place"),
    _s_lazy("the family brings it on %(day)s"),
    _s_lazy("order sent to %(what)s"),
    _s_lazy("invoice over %(amount)s kept"),
    _s_lazy("invoice over %(amount)s removed"),
    _s_lazy("invoice %(what)s over %(amount)s kept"),
    _s_lazy("invoice %(what)s over %(amount)s removed"),
    _s_lazy("took the quote of %(amount)s from %(what)s"),
    _s_lazy("removed the quote of %(amount)s from %(what)s"),
    _s_lazy("quote of %(amount)s from %(what)s"),
    _s_lazy("quote of %(amount)s approved"),
    _s_lazy("cost of %(amount)s approved"),
    _s_lazy("quote %(amount)s"),
    _s_lazy("no quote"),
    _s_lazy("sent %(day)s"),
    _s_lazy("not sent"),
    _s_lazy("expected back %(day)s"),
    _s_lazy("no day expected"),
    _s_lazy("back %(day)s"),
    _s_lazy("not back"),
    _s_lazy("used %(what)s"),
    _s_lazy("put back %(what)s"),
)


def told_again(words: str) -> str:
    """What a step says in English, in the language of the page; parts that are none of `SAID` as they are."""
    said, left_out, why = words.partition(" not done: ")
    told = "".join(_again(part) for part in re.split(r"([,;:] )", _known().sub(_name_again, said)))
    return _s("%(what)s not done: %(why)s") % {"what": told, "why": why} if left_out else told


def _name_again(found: re.Match[str]) -> str:
    """A fault with where it is, as `Finding` tells itself, or a work."""
    what, where = gettext(found["what"]), found["where"]
    return f"{what} ({_where_again(where)})" if where else what


def _where_again(where: str) -> str:
    if many := re.fullmatch(r"(\d+) of them", where):
        return gettext("%(count)d of them") % {"count": int(many[1])}
    for at, names in PLACES.items():
        codes = {name: code for code, name in names.items()}
        found = re.split(", | and ", where.removesuffix(f" {NOUN[at]}"))
        if where.endswith(NOUN[at]) and codes.keys() >= {*found}:
            return in_words(at, [codes[name] for name in found])
    return where


def _again(part: str) -> str:
    for pattern, said in _patterns():
        if found := pattern.fullmatch(part):
            return str(said) % {name: AGAIN.get(name, str)(what) for name, what in found.groupdict().items()}
    return part


def _amount_again(kept: str) -> str:
    return money(Decimal(kept)) if re.fullmatch(r"\d+\.\d\d", kept) else kept


def _day_again(kept: str) -> str:
    """`27 September` or `27 September 2026`; a leap year stands in for one that is not said."""
    with suppress(KeyError, ValueError):
        on, month, *year = kept.split()
        when = date(int(" ".join(year) or 2000), _months()[month], int(on))
        return day(when) if year else date_format(when, "MONTH_DAY_FORMAT")
    return kept


AGAIN = {"amount": _amount_again, "day": _day_again}


@lru_cache(maxsize=1)
@kept_in_english()
def _months() -> dict[str, int]:
    return {str(name): number for number, name in MONTHS.items()}


@lru_cache(maxsize=1)
def _known() -> re.Pattern[str]:
    words = {fault.words for fault in catalogue().by_code.values()} | {work.words for work in works().values()}
    longest_first = "|".join(map(re.escape, sorted(words, key=len, reverse=True)))
    return re.compile(rf"(?:^|(?<=[,;:] ))(?P<what>{longest_first})(?: \((?P<where>[^()]+)\))?(?!\w)")


@lru_cache(maxsize=1)
@kept_in_english()
def _patterns() -> list[tuple[re.Pattern[str], str]]:
    return [(re.compile(re.sub(r"%\\\((\w+)\\\)s", r"(?P<\1>.+)", re.escape(str(one)))), one) for one in SAID]
