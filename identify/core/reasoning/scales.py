"""The tables a verdict is weighed with, computed once.

For every build, form and stand, whole and in every state that shows, the chance of every answer. How often the person
at hand errs is not known; it is learnt a little from each answer, and with it what the others are worth.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from identify.core.horns.catalogue import Catalogue, catalogue
from identify.core.reasoning.assumed import (
    BAND,
    ENOUGH_HORNS,
    ESTIMATE_WORTH,
    MOST_ALIKE,
    MOST_TIMES,
    PERSONS,
    SAME_ANSWERS,
    Key,
    table_of,
)
from identify.core.reasoning.evidence import CHECKS, Heard, Observations
from identify.core.reasoning.expect import SHOWS, Hypothesis, broken, expected, hypotheses, overlap, sounding_tubes
from identify.core.reasoning.mistakes import chances, second_look
from identify.core.reasoning.mistakes import rates as usual_rates

_LEAST = 1e-9  # of a chance, where so many mistakes leave none for the right answer
_NOTHING = 1e-300  # of which the logarithm is taken where a share is 0
# In which row of its check's table an answer is.
_ROW = {(key, answer): row for key, check in CHECKS.items() for row, answer in enumerate(check.answers)}

# So many times as common are the mistakes a hypothesis needs, and so much rarer the others: as assumed, at least and at
# most.
_TIMES = np.array([1.0, 1 / BAND, BAND])[:, np.newaxis, np.newaxis]
_PERSONS, _SHARES = np.array(PERSONS).T[:, :, np.newaxis]

Weights = NDArray[np.float64]  # one for each of `Scales.every`


class Scales:
    """All hypotheses of a catalogue with their tables.

    `hypotheses` are whole horns, `every` those and then the broken ones. `groups` are what a verdict tells apart,
    (code, stand's name), `group_of` the group of each of `every`; `state_of` keeps its states apart besides.
    """

    def __init__(self, builds: Catalogue, rates: Mapping[str, float] | None = None) -> None:
        self.catalogue = builds
        total = sum(build.prior for build in builds.values())
        self._estimate = {code: build.prior / total for code, build in builds.items()}
        self.hypotheses: tuple[Hypothesis, ...] = tuple(hypotheses(builds))
        states = [(place, so) for place, one in enumerate(self.hypotheses) for so in broken(one)]
        self.every: tuple[Hypothesis, ...] = (*self.hypotheses, *(so for _place, so in states))
        self.groups: tuple[Key, ...] = tuple(dict.fromkeys(one.key for one in self.hypotheses))
        self.group_of = _numbered([one.key for one in self.every])
        self.state_of = _numbered([(one.key, one.state.code if one.state else "") for one in self.every])
        # Where a check cannot show a state, its row is that of the whole horn.
        whole = np.array([*range(len(self.hypotheses)), *(place for place, _so in states)])
        self._numbers = {code: number for number, code in enumerate(builds)}
        self._build_of = np.array([self._numbers[one.build.code] for one in self.every])
        self.weight = np.array([one.weight for one in self.every])
        lost = np.bincount(whole[len(self.hypotheses) :], self.weight[len(self.hypotheses) :], len(self.hypotheses))
        self.weight[: len(self.hypotheses)] -= lost
        priors = self.priors()
        # A row for each answer of the check.
        self._chances: dict[tuple[str, str | None], Weights] = {}
        self._twice: dict[tuple[str, str | None], Weights] = {}
        self._sure: dict[tuple[str, str | None], Weights] = {}
        self._wrong: dict[tuple[str, str | None, str], NDArray[np.bool_]] = {}
        self.repeated = (rates or usual_rates())["repeated"]
        self.unlike = (rates or usual_rates())["likeness_misjudged"]
        for key, check in CHECKS.items():
            asked = self.every if key in SHOWS else self.hypotheses
            rows = np.arange(len(self.every)) if key in SHOWS else whole
            for note in (None, *CHECKS["test_note"].answers) if key == "step_down" else (None,):
                sure = [expected(one, key, note) for one in asked]
                once = [chances(one, key, note, rates, sure=so) for one, so in zip(asked, sure, strict=True)]
                twice = [second_look(*pair, self.repeated) for pair in zip(once, sure, strict=True)]
                clean = [frozenset(shares or check.answers) for shares in sure]
                # What is answered at random has no mistakes that one could make more or less often.
                right = [shares or table for shares, table in zip(sure, once, strict=True)]
                tables = (self._chances, once), (self._twice, twice), (self._sure, right)
                for kept, rowwise in tables:
                    table = np.array([[each.get(answer, 0.0) for each in rowwise] for answer in check.answers])
                    kept[key, note] = table.take(rows, axis=1)
                # A horn that has nothing to answer with is made neither likelier nor rarer by an answer.
                says = np.array([bool(shares) for shares in sure])[rows]
                asks = says | says[whole]
                for row, chance in enumerate(self._chances[key, note]) if asks.any() else ():
                    others = np.average(chance[asks], weights=priors[asks])
                    for kept, _rowwise in tables:
                        kept[key, note][row][~asks] = others
                for answer in check.answers:
                    self._wrong[key, note, answer] = np.array([answer not in right for right in clean])[rows]
        self._tubes = tuple(sounding_tubes(one) for one in self.every)
        self.without_valves = np.array([not one.build.valves for one in self.every])
        self.levers = np.array([bool(one.build.thumb_levers) for one in self.every])
        self.under_a_finger = np.array([one.build.valve_count > 3 and not one.build.thumb_levers for one in self.every])
        self.many_sets = np.array([one.build.slide_sets > 1 for one in self.every])
        self.counts = frozenset((str(form.valve_count), str(form.slide_sets)) for form in builds.every_form())

    def priors(self, mix: Mapping[str, int] | None = None) -> Weights:
        """The chance of each of `every` before anything is observed; they add up to 1.

        `mix` counts a school's confirmed horns by code of build; codes that are no build are left out.
        """
        shares = self.build_shares(mix)
        priors: Weights = np.array([shares[code] for code in self._numbers])[self._build_of] * self.weight
        return priors

    def likened(self, priors: Weights, like: str) -> Weights:
        """The same where the horn is said to be like one of the build `like`, which may be a mistake.

        How that one stood is no part of it: a look does not tell how a horn is strung.
        """
        alike: Weights = np.where(self._build_of == self._numbers.get(like, -1), priors, 0.0)
        if not alike.any():
            return priors
        more = min((1.0 - self.unlike) / (self.unlike * alike.sum()), MOST_ALIKE)
        leaning: Weights = priors + more * alike
        leaning /= leaning.sum()
        return leaning

    def build_shares(self, mix: Mapping[str, int] | None = None) -> dict[str, float]:
        """The share of each build among horns, by code.

        The estimate, shifted within bounds by a school's own confirmed horns.
        """
        own = self.counted(mix)
        horns = sum(own.values())
        weight = self.mix_share(horns)
        if not weight:
            return self._estimate
        shifted = {
            code: min((1 - weight) * share + weight * own.get(code, 0) / horns, MOST_TIMES * share)
            for code, share in self._estimate.items()
        }
        total = sum(shifted.values())
        return {code: share / total for code, share in shifted.items()}

    @staticmethod
    def mix_share(horns: int) -> float:
        """How much so many confirmed horns count against the estimate: nothing, or up to a half."""
        counting = min(horns, ESTIMATE_WORTH) if horns >= ENOUGH_HORNS else 0
        return counting / (counting + ESTIMATE_WORTH)

    def counted(self, mix: Mapping[str, int] | None) -> dict[str, int]:
        """The part of a mix that counts: builds of this catalogue, at least one horn each."""
        return {code: int(count) for code, count in (mix or {}).items() if code in self.catalogue and count > 0}

    def chances_of(self, key: str, answer: str, test_note: str | None = None) -> Weights:
        """The chance of an answer under each hypothesis.

        The step-down depends on the test note's fingering.
        """
        chances: Weights = self._chances[table_of(key, test_note)][_ROW[key, answer]]
        return chances

    def heard_weights(self, heard: Heard) -> Weights:
        """How well each hypothesis explains a recording, 1 for the best tube."""
        # Many sound the same tubes.
        weights = {tubes: _heard(heard, *tubes) for tubes in set(self._tubes)}
        return np.array([weights[tubes] for tubes in self._tubes])

    def heard_weight(self, heard: Heard, one: Hypothesis) -> float:
        """The same for one hypothesis of this catalogue."""
        up, down = self._tubes[self.every.index(one)]
        return _heard(heard, up, down)

    def weighed(self, observations: Observations, priors: Weights) -> tuple[Weights, tuple[Weights, Weights]]:
        """The chance of each hypothesis after the observations, whoever made them, which add up to 1; and the band:
        what each weighs at least and at most, whichever mistakes are half or twice as common.
        """
        prior = self.likened(priors, observations.like) if observations.like else priors
        weights = np.ones_like(_TIMES) * _SHARES * prior
        note = observations.answers.get("test_note")
        for key, answer in observations.answers.items():
            heard = observations.heard.notes.surety(key, answer) if observations.heard else 0.0
            weights *= self._weighs(*table_of(key, note), answer, 1.0 if key in observations.again else heard)
        if observations.heard is not None:
            weights = weights * self.heard_weights(observations.heard)
        chances, least, most = weights.sum(axis=1)
        return chances / chances.sum(), (least, most)

    @lru_cache(maxsize=48)  # noqa: B019 - of the scales there are as many as are kept anyway
    def _weighs(self, key: str, test_note: str | None, answer: str, looked_again: float) -> NDArray[np.float64]:
        """The chance of an answer in each of the three, by each person, under each hypothesis; `looked_again` (0 to 1)
        is how far it was checked twice. The usual answers come again and again."""
        row, table = _ROW[key, answer], (key, test_note)
        usual, sure = self._chances[table][row], self._sure[table][row]
        if looked_again > 0.0:
            usual = looked_again * self._twice[table][row] + (1.0 - looked_again) * usual
        # Chances grow in step with all rates together.
        off = usual - sure
        weighs: NDArray[np.float64] = sure + _PERSONS * (np.where(off > 0.0, _TIMES, 1 / _TIMES) * off)
        return weighs.clip(min=_LEAST)

    def by_group(self, weights: Weights) -> list[float]:
        """Weights of the hypotheses summed by group."""
        summed: list[float] = np.bincount(self.group_of, weights, len(self.groups)).tolist()
        return summed

    def slips(self, observations: Observations) -> list[frozenset[str]]:
        """Under each hypothesis, the checks whose answer would have to be a mistake.

        The step-down is taken from the fingering observed for the test note, unless that is a mistake itself.
        """
        keys = list(observations.answers)
        missed = np.zeros(len(self.every), dtype=np.int64)
        note = observations.answers.get("test_note")
        for bit, (key, answer) in enumerate(observations.answers.items()):
            wrong = self._wrong[*table_of(key, note), answer]
            if key == "step_down" and note is not None:
                slipped = self._wrong["test_note", None, note]
                wrong = np.where(slipped, self._wrong[key, None, answer], wrong)
            missed += wrong.astype(np.int64) << bit
        codes = missed.tolist()
        sets = {code: frozenset(key for bit, key in enumerate(keys) if code >> bit & 1) for code in set(codes)}
        return list(map(sets.__getitem__, codes))

    def gains(
        self, keys: Sequence[str], posterior: Weights, test_note: str | None = None, *, states: bool = False
    ) -> dict[str, float]:
        """How many bits each check is expected to tell about the group, or its `states` too, over what is known."""
        if not keys:
            return {}
        # Hypotheses that are out of the running change nothing that can be seen, and cost time.
        live = np.flatnonzero(posterior > 1e-5)
        weights = posterior[live]
        _, group = np.unique((self.state_of if states else self.group_of)[live], return_inverse=True)
        tables = [self._chances[table_of(key, test_note)].take(live, axis=1) for key in keys]
        # All answers of all checks at once: what each would leave of each group.
        left, many = np.concatenate(tables) * weights, int(group.max()) + 1
        places = np.arange(len(left))[:, np.newaxis] * many + group
        sums = np.bincount(places.ravel(), left.ravel(), len(left) * many).reshape(-1, many)
        known = _plogp(sums).sum(axis=1) - _plogp(sums.sum(axis=1))
        firsts = np.cumsum([0, *map(len, tables[:-1])])
        told = np.add.reduceat(known, firsts) - _plogp(np.bincount(group, weights)).sum()
        return dict(zip(keys, told.tolist(), strict=True))

    @property
    def indistinct(self) -> frozenset[frozenset[Key]]:
        """Pairs of groups that no check is sure to tell apart, even without mistakes; computed once."""
        return _indistinct(self)


def _numbered(names: list[Any]) -> NDArray[np.intp]:
    """A number for each name, equal names the same, by their first place."""
    numbers = {name: number for number, name in enumerate(dict.fromkeys(names))}
    return np.array([numbers[name] for name in names])


def _heard(heard: Heard, up: str, down: str | None) -> float:
    # A horn without a thumb lever sounds the same tube whatever the thumb is said to do.
    return _weight(heard.up, up) * _weight(heard.down, down or up)


def _weight(weights: Mapping[str, float], tube: str) -> float:
    if not weights:
        return 1.0
    best = max(weights.values())
    # Never quite 0: a recording can be of the wrong moment.
    return max(weights.get(tube, min(weights.values())) / best, 1e-4)


def _plogp(shares: NDArray[Any]) -> Weights:
    """Their sum is minus the entropy in bits."""
    each: Weights = shares * np.log2(np.maximum(shares, _NOTHING))
    return each


def _told_apart(one: Hypothesis, other: Hypothesis) -> bool:
    return any(overlap(one, other, key) < SAME_ANSWERS for key in CHECKS)


@lru_cache(maxsize=8)
def _indistinct(scales: Scales) -> frozenset[frozenset[Key]]:
    pairs = set()
    for place, one in enumerate(scales.hypotheses):
        for other in scales.hypotheses[:place]:
            if one.key != other.key and not _told_apart(one, other):
                pairs.add(frozenset((one.key, other.key)))
    return frozenset(pairs)


@lru_cache(maxsize=1)
def scales() -> Scales:
    """The scales of the catalogue this project knows, computed once."""
    return Scales(catalogue())
