"""The tables a verdict is weighed with, computed once.

For every build, form and stand, whole and in every state that shows, the chance of every answer. How often the person
at hand errs is not known; it is learnt a little from each answer, and with it what the others are worth.
"""

from collections.abc import Mapping
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
        self._codes = [one.build.code for one in self.every]
        self.weight = np.array([one.weight for one in self.every])
        lost = np.bincount(whole[len(self.hypotheses) :], self.weight[len(self.hypotheses) :], len(self.hypotheses))
        self.weight[: len(self.hypotheses)] -= lost
        priors = self.priors()
        self._chances: dict[tuple[str, str | None], dict[str, Weights]] = {}
        self._twice: dict[tuple[str, str | None], dict[str, Weights]] = {}
        self._sure: dict[tuple[str, str | None], dict[str, Weights]] = {}
        self._wrong: dict[tuple[str, str | None, str], NDArray[np.bool_]] = {}
        self.repeated = (rates or usual_rates())["repeated"]
        self.unlike = (rates or usual_rates())["likeness_misjudged"]
        for key, check in CHECKS.items():
            asked = self.every if key in SHOWS else self.hypotheses
            rows = np.arange(len(self.every)) if key in SHOWS else whole
            for note in (None, *CHECKS["test_note"].answers) if key == "step_down" else (None,):
                sure = [expected(one, key, note) for one in asked]
                once = [chances(one, key, note, rates) for one in asked]
                twice = [second_look(*pair, self.repeated) for pair in zip(once, sure, strict=True)]
                clean = [frozenset(shares or check.answers) for shares in sure]
                # What is answered at random has no mistakes that one could make more or less often.
                right = [shares or table for shares, table in zip(sure, once, strict=True)]
                tables = (self._chances, once), (self._twice, twice), (self._sure, right)
                for kept, rowwise in tables:
                    kept[key, note] = {
                        answer: np.array([each.get(answer, 0.0) for each in rowwise])[rows] for answer in check.answers
                    }
                # A horn that has nothing to answer with is made neither likelier nor rarer by an answer.
                says = np.array([bool(shares) for shares in sure])[rows]
                asks = says | says[whole]
                for answer, chance in self._chances[key, note].items() if asks.any() else ():
                    others = np.average(chance[asks], weights=priors[asks])
                    for kept, _rowwise in tables:
                        kept[key, note][answer][~asks] = others
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
        priors: Weights = np.array([shares[code] for code in self._codes]) * self.weight
        return priors

    def likened(self, priors: Weights, like: str) -> Weights:
        """The same where the horn is said to be like one of the build `like`, which may be a mistake.

        How that one stood is no part of it: a look does not tell how a horn is strung.
        """
        alike: Weights = np.where([code == like for code in self._codes], priors, 0.0)
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
        return self._chances[table_of(key, test_note)][answer]

    def heard_weights(self, heard: Heard) -> Weights:
        """How well each hypothesis explains a recording, 1 for the best tube."""
        return np.array([_heard(heard, up, down) for up, down in self._tubes])

    def heard_weight(self, heard: Heard, one: Hypothesis) -> float:
        """The same for one hypothesis of this catalogue."""
        up, down = self._tubes[self.every.index(one)]
        return _heard(heard, up, down)

    def posterior(self, observations: Observations, priors: Weights) -> Weights:
        """The chance of each hypothesis after the observations, whoever made them; they add up to 1."""
        weights = self._weighed(observations, priors, 1.0)
        chances: Weights = weights / weights.sum()
        return chances

    def band(self, observations: Observations, priors: Weights) -> tuple[Weights, Weights]:
        """What each hypothesis weighs at least and at most, whichever mistakes are half or twice as common."""
        return self._weighed(observations, priors, 1 / BAND), self._weighed(observations, priors, BAND)

    def _weighed(self, observations: Observations, priors: Weights, times: float) -> Weights:
        """Weights where the mistakes a hypothesis needs are so many times as common, and the others so much rarer."""
        persons, shares = np.array(PERSONS).T[:, :, np.newaxis]
        weights = shares * (self.likened(priors, observations.like) if observations.like else priors)
        note = observations.answers.get("test_note")
        for key, answer in observations.answers.items():
            heard = observations.heard.notes.surety(key, answer) if observations.heard else 0.0
            usual = self._after(key, answer, note, 1.0 if key in observations.again else heard)
            sure = self._sure[table_of(key, note)][answer]
            # Chances grow in step with all rates together.
            far = persons * np.where(usual > sure, times, 1 / times)
            weights = weights * (sure + far * (usual - sure)).clip(min=_LEAST)
        if observations.heard is not None:
            weights = weights * self.heard_weights(observations.heard)
        summed: Weights = weights.sum(axis=0)
        return summed

    def _after(self, key: str, answer: str, test_note: str | None, looked_again: float) -> Weights:
        """The chance of an answer under each hypothesis; `looked_again` (0 to 1) is how far it was checked twice."""
        table = table_of(key, test_note)
        once = self._chances[table][answer]
        if looked_again <= 0.0:
            return once
        return looked_again * self._twice[table][answer] + (1.0 - looked_again) * once

    def by_group(self, weights: Weights) -> list[float]:
        """Weights of the hypotheses summed by group."""
        return [float(weight) for weight in np.bincount(self.group_of, weights, len(self.groups))]

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
        return [sets[code] for code in codes]

    def gain(self, key: str, posterior: Weights, test_note: str | None = None, *, states: bool = False) -> float:
        """How many bits a check is expected to tell about the group, or about its `states` too, over what is known."""
        # Hypotheses that are out of the running change nothing that can be seen, and cost time.
        live = posterior > 1e-5
        weights, group = posterior[live], (self.state_of if states else self.group_of)[live]
        told = _entropy(np.bincount(group, weights))
        for answer in CHECKS[key].answers:
            sums = np.bincount(group, weights * self.chances_of(key, answer, test_note)[live])
            chance = float(sums.sum())
            if chance > 1e-9:
                told -= chance * _entropy(sums / chance)
        return told

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


def _entropy(shares: NDArray[Any]) -> float:
    some = shares[shares > 0.0]
    return -float(some @ np.log2(some))


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
