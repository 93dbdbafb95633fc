"""What the address of a matching says: classes, weights to try, what was changed by hand. Nothing of it is stored."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from django.http import QueryDict

from fleet.ground.addresses import whole
from fleet.matching.solving.rows import RULES, Weights

# Servers take a request line of about 4,000 characters; more changes by hand than this would not fit.
MOST = 120


@dataclass(frozen=True)
class MatchingAsked:
    """`fixed` are (pupil key, horn key); `leave` pupils and `without` horns are no part of the matching.

    `kept` are the school's own weights and `weights` those to go by; `choose` is the pupil whose horn is looked for.
    """

    kept: Weights
    weights: Weights
    groups: tuple[str, ...] = ()
    fixed: tuple[tuple[int, int], ...] = ()
    without: tuple[int, ...] = ()
    leave: tuple[int, ...] = ()
    choose: int | None = None
    everybody: bool = field(default=False)

    def query(self, **changes: Any) -> str:
        """The address's query with some of it changed, and no pupil being chosen for unless that is said."""
        asked = replace(self, **{"choose": None, **changes})
        said = QueryDict(mutable=True)
        if asked.everybody:
            said["all"] = "1"
        else:
            said.setlist("class", list(asked.groups))
        for name, level in asked.weights.as_dict().items():
            if level != getattr(asked.kept, name):
                said[name] = str(level)
        said.setlist("fix", [f"{pupil}.{horn}" for pupil, horn in asked.fixed])
        said.setlist("without", [str(key) for key in asked.without])
        said.setlist("leave", [str(key) for key in asked.leave])
        if asked.choose is not None:
            said["choose"] = str(asked.choose)
        return said.urlencode()

    def fixing(self, pupil: int, horn: int) -> str:
        """The address with this pair fixed; whatever else these two were fixed to is let go."""
        others = tuple(pair for pair in self.fixed if pair[0] != pupil and pair[1] != horn)
        return self.query(fixed=(*others, (pupil, horn)))

    def letting_go(self, pupil: int) -> str:
        return self.query(fixed=tuple(pair for pair in self.fixed if pair[0] != pupil))

    @property
    def hidden(self) -> list[tuple[str, str]]:
        """Everything but the weights, for a form that changes those."""
        said = QueryDict(self.query(weights=self.kept))
        return [(name, value) for name, values in said.lists() for value in values]

    @property
    def by_hand(self) -> bool:
        return bool(self.fixed or self.without or self.leave)


def asked_from(said: QueryDict, kept: Weights, known: list[tuple[str, int]]) -> MatchingAsked:
    """Read the address. What is no number, no level or no class of `known` is as if it had not been said."""
    everybody = said.get("all") == "1"
    wanted = set(said.getlist("class"))
    return MatchingAsked(
        kept=kept,
        weights=_weights(said, kept),
        groups=tuple(group for group, _ in known if everybody or group in wanted),
        fixed=tuple(pair for pair in map(_pair, said.getlist("fix")[:MOST]) if pair),
        without=tuple(_numbers(said.getlist("without"))),
        leave=tuple(_numbers(said.getlist("leave"))),
        choose=next(iter(_numbers([said.get("choose", "")])), None),
        everybody=everybody,
    )


def _numbers(said: list[str]) -> list[int]:
    return list(dict.fromkeys(key for key in map(whole, said[:MOST]) if key is not None))


def _pair(said: str) -> tuple[int, int] | None:
    pupil, _, horn = said.partition(".")
    keys = whole(pupil), whole(horn)
    return (keys[0], keys[1]) if keys[0] is not None and keys[1] is not None else None


def _weights(said: QueryDict, kept: Weights) -> Weights:
    levels = {rule.name: whole(said.get(rule.name, "")) for rule in RULES}
    may = {rule.name: {level for level, _ in rule.levels} for rule in RULES}
    return replace(kept, **{name: level for name, level in levels.items() if level in may[name]})
