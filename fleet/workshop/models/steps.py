"""What the steps of a job say: kept in English, whoever acts, and told again in the language of the page."""

from __future__ import annotations

import re
from functools import lru_cache

from fleet.ground.languages.known import kept_in_english
from fleet.ground.languages.marks import _s_lazy
from fleet.workshop.models.jobs import RepairJob

# As the actions write them, one after another. What names a fault, or was typed, stays as it was kept.
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
    _s_lazy("quote of %(what)s approved"),
    _s_lazy("cost of %(what)s approved"),
    _s_lazy("quote %(what)s"),
    _s_lazy("no quote"),
    _s_lazy("sent %(what)s"),
    _s_lazy("not sent"),
    _s_lazy("expected back %(what)s"),
    _s_lazy("no day expected"),
    _s_lazy("back %(what)s"),
    _s_lazy("not back"),
    _s_lazy("used %(what)s"),
    _s_lazy("put back %(what)s"),
)


def told_again(words: str) -> str:
    """What a step says in English, in the language of the page; parts that are none of `SAID` as they are."""
    if " not done: " in words:
        return words
    return "".join(_again(part) for part in re.split(r"([,;:] )", words))


def _again(part: str) -> str:
    for pattern, said in _patterns():
        if found := pattern.fullmatch(part):
            return str(said) % found.groupdict() if found.groupdict() else str(said)
    return part


@lru_cache(maxsize=1)
@kept_in_english()
def _patterns() -> list[tuple[re.Pattern[str], str]]:
    return [(re.compile(re.escape(str(one)).replace(r"%\(what\)s", "(?P<what>.+)")), one) for one in SAID]
