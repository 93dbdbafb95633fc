"""The tables a verdict is weighed with, computed once.

For every build, form and stand the chance of every answer.
"""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from math import log2

from identify.core.horns.builds import column_at_rest, column_with, main_lever
from identify.core.horns.catalogue import Catalogue, catalogue
from identify.core.reasoning.evidence import CHECKS, Heard, Observations
from identify.core.reasoning.expect import Hypothesis, expected, hypotheses, overlap
from identify.core.reasoning.mistakes import chances, second_look
from identify.core.reasoning.mistakes import rates as usual_rates

# The estimate of how common builds are counts as much as this many confirmed horns of a school's own, and they count
# no more than it, however many there are.
ESTIMATE_WORTH = 40
# A school's own horns make a build at most so many times as common as it is elsewhere, before shares are made to fit.
MOST_TIMES = 4.0
# Fewer confirmed horns than this say nothing about a school.
ENOUGH_HORNS = 10

# Two horns are told apart by a check to which they give the same answer less often than this.
SAME_ANSWERS = 0.3

Key = tuple[str, str | None]
Weights = list[float]


class Scales:
    """All hypotheses of a catalogue with their tables.

    `groups` are what a verdict tells apart, (code, stand's name), and `group_of` the group of each
    hypothesis.
    """

    def __init__(self, builds: Catalogue, rates: Mapping[str, float] | None = None) -> None:
        self.catalogue = builds
        self.hypotheses: tuple[Hypothesis, ...] = tuple(hypotheses(builds))
        self.groups: tuple[Key, ...] = tuple(dict.fromkeys(one.key for one in self.hypotheses))
        place = {key: number for number, key in enumerate(self.groups)}
        self.group_of: tuple[int, ...] = tuple(place[one.key] for one in self.hypotheses)
        self._chances: dict[tuple[str, str | None], dict[str, Weights]] = {}
        self._twice: dict[tuple[str, str | None], dict[str, Weights]] = {}
        self._clean: dict[tuple[str, str | None], tuple[frozenset[str], ...]] = {}
        self.repeated = (rates or usual_rates())["repeated"]
        for key, check in CHECKS.items():
            for note in (None, *CHECKS["test_note"].answers) if key == "step_down" else (None,):
                sure = [expected(one, key, note) for one in self.hypotheses]
                once = [chances(one, key, note, rates) for one in self.hypotheses]
                twice = [second_look(*pair, self.repeated) for pair in zip(once, sure, strict=True)]
                self._chances[key, note] = {answer: [table[answer] for table in once] for answer in check.answers}
                self._twice[key, note] = {answer: [table[answer] for table in twice] for answer in check.answers}
                self._clean[key, note] = tuple(frozenset(shares or check.answers) for shares in sure)
        self._tubes = tuple(self._sounding_tubes(one) for one in self.hypotheses)
        self.levers: tuple[bool, ...] = tuple(bool(one.build.thumb_levers) for one in self.hypotheses)
        self.many_sets: tuple[bool, ...] = tuple(one.build.slide_sets > 1 for one in self.hypotheses)
        self.counts = frozenset((str(form.valve_count), str(form.slide_sets)) for form in builds.every_form())

    @staticmethod
    def _sounding_tubes(one: Hypothesis) -> tuple[str, str | None]:
        lever = main_lever(one.build)
        up = column_at_rest(one.build, one.stand).tube
        return up, column_with(one.build, one.stand, (lever,)).tube if lever else None

    def priors(self, mix: Mapping[str, int] | None = None) -> Weights:
        """The chance of each hypothesis before anything is observed; they add up to 1.

        `mix` counts a school's confirmed horns by code of build; codes that are no build are left out.
        """
        shares = self.build_shares(mix)
        return [shares[one.build.code] * one.weight for one in self.hypotheses]

    def build_shares(self, mix: Mapping[str, int] | None = None) -> dict[str, float]:
        """The share of each build among horns, by code.

        The estimate, shifted within bounds by a school's own confirmed horns.
        """
        total = sum(build.prior for build in self.catalogue.values())
        estimate = {code: build.prior / total for code, build in self.catalogue.items()}
        own = self.counted(mix)
        horns = sum(own.values())
        weight = self.mix_share(horns)
        if not weight:
            return estimate
        shifted = {
            code: min((1 - weight) * share + weight * own.get(code, 0) / horns, MOST_TIMES * share)
            for code, share in estimate.items()
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
        return self._chances[key, test_note if key == "step_down" else None][answer]

    def clean(self, key: str, test_note: str | None = None) -> tuple[frozenset[str], ...]:
        """Under each hypothesis, the answers that need no mistake."""
        return self._clean[key, test_note if key == "step_down" else None]

    def heard_weights(self, heard: Heard) -> Weights:
        """How well each hypothesis explains a recording, 1 for the best tube."""
        weights = [1.0] * len(self.hypotheses)
        for place, (up, down) in enumerate(self._tubes):
            weights[place] *= _heard(heard, up, down)
        return weights

    def heard_weight(self, heard: Heard, one: Hypothesis) -> float:
        """The same for one hypothesis of this catalogue."""
        up, down = self._tubes[self.hypotheses.index(one)]
        return _heard(heard, up, down)

    def posterior(self, observations: Observations, priors: Weights) -> Weights:
        """The chance of each hypothesis after the observations; they add up to 1."""
        weights = priors
        note = observations.answers.get("test_note")
        for key, answer in observations.answers.items():
            heard = observations.heard.notes.surety(key, answer) if observations.heard else 0.0
            likely = self._after(key, answer, note, 1.0 if key in observations.again else heard)
            weights = [weight * chance for weight, chance in zip(weights, likely, strict=True)]
        if observations.heard is not None:
            likely = self.heard_weights(observations.heard)
            weights = [weight * chance for weight, chance in zip(weights, likely, strict=True)]
        total = sum(weights)
        return [weight / total for weight in weights]

    def _after(self, key: str, answer: str, test_note: str | None, looked_again: float) -> Weights:
        """The chance of an answer under each hypothesis; `looked_again` (0 to 1) is how far it was checked twice."""
        table = key, test_note if key == "step_down" else None
        once = self._chances[table][answer]
        if looked_again <= 0.0:
            return once
        twice = self._twice[table][answer]
        return [looked_again * second + (1.0 - looked_again) * first for first, second in zip(once, twice, strict=True)]

    def by_group(self, weights: Iterable[float]) -> Weights:
        """Weights of the hypotheses summed by group."""
        sums = [0.0] * len(self.groups)
        for place, weight in zip(self.group_of, weights, strict=True):
            sums[place] += weight
        return sums

    def slips(self, observations: Observations) -> list[frozenset[str]]:
        """Under each hypothesis, the checks whose answer would have to be a mistake.

        The step-down is taken from the fingering observed for the test note, unless that is a mistake itself.
        """
        missed: list[list[str]] = [[] for _one in self.hypotheses]
        note = observations.answers.get("test_note")
        for key, answer in observations.answers.items():
            rights = self.clean(key, note)
            usual = self.clean(key)
            for place, right in enumerate(rights):
                if answer not in (usual[place] if "test_note" in missed[place] else right):
                    missed[place].append(key)
        return [frozenset(keys) for keys in missed]

    def gain(self, key: str, posterior: Weights, test_note: str | None = None) -> float:
        """How many bits a check is expected to tell about the group, over what is known already."""
        # Hypotheses that are out of the running change nothing that can be seen, and cost time.
        live = [(place, weight) for place, weight in enumerate(posterior) if weight > 1e-5]
        before = [0.0] * len(self.groups)
        for place, weight in live:
            before[self.group_of[place]] += weight
        told = _entropy(before)
        for answer in CHECKS[key].answers:
            likely = self.chances_of(key, answer, test_note)
            sums = [0.0] * len(self.groups)
            for place, weight in live:
                sums[self.group_of[place]] += weight * likely[place]
            chance = sum(sums)
            if chance > 1e-9:
                told -= chance * _entropy([weight / chance for weight in sums])
        return told

    @property
    def indistinct(self) -> frozenset[frozenset[Key]]:
        """Pairs of groups that no check is sure to tell apart, even without mistakes; computed once."""
        return _indistinct(self)


def _heard(heard: Heard, up: str, down: str | None) -> float:
    # A horn without a thumb lever sounds the same tube whatever the thumb is said to do.
    return _weight(heard.up, up) * _weight(heard.down, down or up)


def _weight(weights: Mapping[str, float], tube: str) -> float:
    if not weights:
        return 1.0
    best = max(weights.values())
    # Never quite 0: a recording can be of the wrong moment.
    return max(weights.get(tube, min(weights.values())) / best, 1e-4)


def _entropy(shares: Iterable[float]) -> float:
    return -sum(share * log2(share) for share in shares if share > 0.0)


def _told_apart(one: Hypothesis, other: Hypothesis) -> bool:
    return any(overlap(one, other, key) < SAME_ANSWERS for key in CHECKS)


@lru_cache(maxsize=8)
def _indistinct(scales: Scales) -> frozenset[frozenset[Key]]:
    pairs = set()
    for one, mine in enumerate(scales.group_of):
        for other, theirs in enumerate(scales.group_of[:one]):
            if mine != theirs and not _told_apart(scales.hypotheses[one], scales.hypotheses[other]):
                pairs.add(frozenset((scales.groups[mine], scales.groups[theirs])))
    return frozenset(pairs)


@lru_cache(maxsize=1)
def scales() -> Scales:
    """The scales of the catalogue this project knows, computed once."""
    return Scales(catalogue())
