"""Simulated walks: a horn is drawn, an observer answers check after check and errs as a model of mistakes
says.

Used to measure whether verdicts are right as often as they say; see `identifying`.
"""

from bisect import bisect
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from operator import attrgetter
from random import Random

import numpy as np

from identify.core.reasoning.assumed import Key, table_of
from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import expected
from identify.core.reasoning.mistakes import chances
from identify.core.reasoning.mistakes import rates as usual_rates
from identify.core.reasoning.scales import Scales
from identify.core.reasoning.verdict import Verdict, assess
from tests.bench.chance import short

# One check in this many is answered "can't tell".
_PASSES = 25
# Two looks that differ call for a third, which decides; more are not taken.
_MOST_LOOKS = 3


@dataclass(frozen=True)
class SimulatedWalk:
    """A walk that has ended.

    The truth, the verdict, how many checks were made, and the chances on the way. `state` is what was wrong.
    """

    truth: Key
    verdict: Verdict
    checks: int
    slipped: bool
    state: str = ""

    @property
    def right(self) -> bool:
        return self.verdict.leading.key == self.truth

    @property
    def named(self) -> bool:
        """Whether the horn is right and what was wrong with it is among what the verdict says may be."""
        return self.right and self.state in [state.code for state in self.verdict.leading.states]

    @property
    def brier(self) -> float:
        """Squared error of all chances of the last verdict: 0 is perfect, 2 is the worst."""
        return sum((one.probability - (one.key == self.truth)) ** 2 for one in self.verdict.candidates)


# How often staff err by somebody else's estimate, where it differs: half as good and more at what is judged by eye.
INDEPENDENT = {
    "compact_taken_for_standard": 0.12,
    "standard_taken_for_compact": 0.04,
    "interval_misnamed": 0.10,
    "short_set_overlooked": 0.08,
    "lever_overlooked": 0.05,
    "repeated": 0.25,
}
# A drawn member of staff errs between half and two and a half times as often as is assumed, in each thing by itself.
BAND = (0.5, 2.5)


def drawn(rates: Mapping[str, float], dice: Random) -> dict[str, float]:
    """The rates of one member of staff, each drawn from its band, so that twice as often is as likely as half."""
    low, high = BAND
    return {name: min(rate * low * (high / low) ** dice.random(), 0.5) for name, rate in rates.items()}


def harsher(rates: Mapping[str, float], times: float) -> dict[str, float]:
    """Other rates of mistakes: every one so many times as large, at most 0.35."""
    return {name: min(rate * times, 0.35) for name, rate in rates.items()}


class Staff:
    """One who looks at the horns of some scales and errs as often as `rates` say, by name, or as is assumed."""

    def __init__(self, on: Scales, rates: Mapping[str, float] | None = None) -> None:
        self.on, self.rates = on, rates or usual_rates()
        self.repeated = self.rates["repeated"]
        self._known: dict[tuple[int, str, str | None], Mapping[str, float]] = {}
        self._right: dict[tuple[int, str, str | None], frozenset[str]] = {}

    def chances(self, place: int, key: str, note: str | None) -> Mapping[str, float]:
        """The chance of each answer to a check about one horn of `every`."""
        asked = place, *table_of(key, note)
        if asked not in self._known:
            self._known[asked] = chances(self.on.every[place], *asked[1:], self.rates)
        return self._known[asked]

    def right(self, place: int, key: str, note: str | None) -> frozenset[str]:
        """The answers that need no mistake."""
        asked = place, *table_of(key, note)
        if asked not in self._right:
            sure = expected(self.on.every[place], *asked[1:])
            self._right[asked] = frozenset(sure or CHECKS[key].answers)
        return self._right[asked]


def _answer(staff: Staff, place: int, key: str, note: str | None, dice: Random) -> str:
    likely = staff.chances(place, key, note)
    return dice.choices(list(likely), list(likely.values()))[0]


class Judge:
    """Verdicts on one set of scales, each distinct set of observations judged once.

    Walks share their beginnings.
    """

    def __init__(self, on: Scales) -> None:
        self.on = on
        self._known: dict[tuple[object, ...], Verdict] = {}

    def __call__(self, seen: Observations) -> Verdict:
        key = (tuple(seen.answers.items()), seen.passed, seen.again, seen.like)
        if key not in self._known:
            self._known[key] = assess(seen, on=self.on)
        return self._known[key]


def walk(
    judge: Judge,
    staff: Staff,
    place: int,
    dice: Random,
    *,
    order: Iterable[str] | None = None,
    errs: bool = True,
    second_looks: bool = True,
    propose: Callable[[Verdict], str | None] = attrgetter("next_check"),
    like: str = "",
) -> SimulatedWalk:
    """Walk one horn, number `place` of every horn.

    With `order` the checks are made in that order until the verdict is settled; else as `propose` reads the
    verdict, second looks included. With `errs` False every answer is the usual one and nothing is passed over.
    A second look is blind: what was answered first comes again as often as `staff.repeated`, else it is seen anew.
    `like` is the build that it is said to be like.
    """
    truth = staff.on.every[place]
    fixed = list(order) if order is not None else None
    seen = Observations(like=like)
    slipped = False
    made = 0
    looks: Counter[str] = Counter()
    while True:
        verdict = judge(seen)
        key = propose(verdict)
        if fixed is not None:
            key = fixed.pop(0) if fixed and not verdict.settled else None
        note = seen.answers.get("test_note")
        if key is None:
            left = [one for one in (*verdict.doubt, *verdict.confirm) if one not in seen.again]
            doubted = [one for one in left if looks[one] < _MOST_LOOKS - 1]
            if fixed is not None or not second_looks or not doubted:
                return SimulatedWalk(truth.key, verdict, made, slipped, truth.state.code if truth.state else "")
            key = doubted[0]
            looks[key] += 1
            if key in seen.passed:
                # What could not be told at first is told on a second try half the time.
                if dice.random() < 0.5:
                    seen = seen.with_answer(key, _answer(staff, place, key, note, dice))
            else:
                answer = seen.answers[key]
                if errs and dice.random() >= staff.repeated:
                    answer = _seen_anew(staff, place, key, note, answer, dice)
                seen = seen.looked_again(key, answer)
        elif errs and dice.randrange(_PASSES) == 0:
            seen = replace(seen, passed=seen.passed | {key})
        else:
            answer = _answer(staff, place, key, note, dice) if errs else _usual(staff, place, key, note)
            slipped = slipped or answer not in staff.right(place, key, note)
            seen = seen.with_answer(key, answer)
        made += 1


def _seen_anew(staff: Staff, place: int, key: str, note: str | None, first: str, dice: Random) -> str:
    """What a look shows as if it were the first; of several right answers the horn has the one it had before."""
    right = staff.right(place, key, note)
    answer = _answer(staff, place, key, note, dice)
    return first if answer in right and first in right else answer


def _usual(staff: Staff, place: int, key: str, note: str | None) -> str:
    likely = staff.chances(place, key, note)
    return max(likely, key=lambda answer: likely[answer])


def walks(
    judge: Judge,
    staff: Staff,
    count: int,
    seed: int,
    *,
    order: Iterable[str] | None = None,
    second_looks: bool = True,
    propose: Callable[[Verdict], str | None] = attrgetter("next_check"),
    broken: bool = False,
    like: str = "",
    unlike: float = 0.2,
) -> list[SimulatedWalk]:
    """So many walks of horns drawn as common as they are, or of `broken` ones alone. The same seed gives the same.

    With `like` all are said to be like a horn of that build; of `unlike` (0 to 1) of them the kind is drawn as usual.

    A judge that several runs are given is asked about the same observations only once.
    """
    dice = Random(seed)
    kept = list(order) if order is not None else None
    priors = staff.on.priors()
    if broken:
        priors[: len(staff.on.hypotheses)] = 0.0
    if like:
        alike = np.where([one.build.code == like for one in staff.on.every], priors, 0.0)
        priors = unlike * priors + (1.0 - unlike) * alike / alike.sum()
    drawn = dice.choices(range(len(staff.on.every)), priors.tolist(), k=count)
    return [
        walk(judge, staff, place, dice, order=kept, second_looks=second_looks, propose=propose, like=like)
        for place in drawn
    ]


@dataclass(frozen=True)
class Bin:
    """Candidates of the last verdicts whose chance was from `low` to `high`: how many, the mean of what was said, at
    least and at most too, and the share that was true."""

    low: float
    high: float
    many: int
    least: float
    said: float
    most: float
    true: float

    @property
    def holds(self) -> bool:
        """Whether what was true lies between the bounds, or as near to them as chance has it."""
        true = round(self.true * self.many)
        return not (short(true, self.many, self.least) or short(self.many - true, self.many, 1 - self.most))


def reliability(ended: Iterable[SimulatedWalk], edges: tuple[float, ...]) -> list[Bin]:
    """How often chances came true, over all candidates of the last verdicts. Empty bins are left out."""
    bins: list[list[tuple[float, float, float, bool]]] = [[] for _edge in edges[1:]]
    for one in ended:
        for candidate in one.verdict.candidates:
            place = min(bisect(edges, candidate.as_said), len(edges) - 1) - 1
            states = [state.code for state in candidate.states]
            true = candidate.key == one.truth and (not states or one.state in states)
            bins[place].append((candidate.least, candidate.as_said, candidate.most, true))
    return [
        Bin(edges[place], edges[place + 1], len(inside), *np.array(inside, dtype=float).mean(axis=0).tolist())
        for place, inside in enumerate(bins)
        if inside
    ]
