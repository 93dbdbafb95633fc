"""The answer every check should get from a build in a stand, computed from its physical description alone.

An expectation is a share per possible answer, adding up to 1: a build may be met in two shapes, and a note
may be sounded with more than one fingering. Mistakes of the observer come on top; see `mistakes.py`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from identify.core.horns.air import FINGERINGS, TUBES, AirColumn, partial_semitones, sounding, usual_way, ways
from identify.core.horns.broken import State, column_of, states_of
from identify.core.horns.builds import BELLS, Build, Lever, Stand, main_lever
from identify.core.horns.catalogue import Catalogue
from identify.core.horns.lengths import bell_of, length_of
from identify.core.horns.pitch import TEST_NOTE
from identify.core.reasoning.evidence import BOTH_SIDES, CHECKS, MEASURED, NONE, ONE_SIDE

IN_TUNE_ENOUGH = 35.0  # cents within which a player takes a fingering for the note
_OTHER_WAYS = 0.03  # share of staff who sound the test note with an unusual fingering that also fits
_USUAL_SHAPE = 0.6  # share of the usual shape where a build is met in two
SEEN = 0.3  # a state is shown by a check that a whole horn answers alike less often than this
_MAIN_LEVER = 0.85  # share of staff who press the lever to the other tube first where a horn has two
_RARE_LENGTH = 0.01  # a length that fewer horns of a build have is taken for a mistake
Shares = dict[str, float]
# What nine horns in ten of a build measure, by check.
MEASURES = {"length": length_of, "width": bell_of}


@dataclass(frozen=True)
class Hypothesis:
    """A build, in one of its forms, in one of its stands; `state` is what is wrong with it, None for a whole horn.

    `key` is what a verdict is about: code and stand's name.
    """

    build: Build
    stand: Stand
    state: State | None = None

    @property
    def key(self) -> tuple[str, str | None]:
        return self.build.code, None if self.build.crooked else self.stand.name

    @property
    def weight(self) -> float:
        """How much of the build's horns are of this form and stand so, and are in this state if it has one."""
        return self.build.share * self.stand.share * (self.state.wrong.rate if self.state else 1.0)

    @property
    def whole(self) -> Hypothesis:
        return replace(self, state=None) if self.state else self

    @cached_property
    def at_rest(self) -> AirColumn:
        """The air column that sounds with no lever pressed."""
        return column_of(self.build, self.stand, self.state)

    @cached_property
    def _pressed(self) -> dict[Lever, AirColumn]:
        return {one: column_of(self.build, self.stand, self.state, (one,)) for one in self.build.levers}

    def pressed(self, lever: Lever) -> AirColumn:
        """The one that sounds with a lever pressed."""
        return self._pressed[lever]


def hypotheses(catalogue: Catalogue) -> Iterator[Hypothesis]:
    """Every form of every build in every stand."""
    for build in catalogue.every_form():
        for stand in build.stands:
            yield Hypothesis(build, stand)


# The checks that a state can answer otherwise than a whole horn.
SHOWS = ("test_note", "test_note_thumb", "thumb", "step_down", "bell", "shared_row", "each_finger")


def broken(one: Hypothesis) -> list[Hypothesis]:
    """A whole horn in each state that some check shows."""
    found = []
    for state in states_of(one.build):
        so = replace(one, state=state)
        if any(overlap(one, so, key) < SEEN for key in SHOWS):
            found.append(so)
    return found


def _levers_with_shares(build: Build) -> list[tuple[Lever, float]]:
    main = main_lever(build)
    if main is None:
        return []
    others = [lever for lever in build.thumb_levers if lever is not main]
    if not others:
        return [(main, 1.0)]
    return [(main, _MAIN_LEVER)] + [(lever, (1.0 - _MAIN_LEVER) / len(others)) for lever in others]


def _shapes(values: Sequence[str]) -> Shares:
    if len(values) < 2:
        return dict.fromkeys(values, 1.0)
    rest = (1.0 - _USUAL_SHAPE) / (len(values) - 1)
    return {value: _USUAL_SHAPE if place == 0 else rest for place, value in enumerate(values)}


@lru_cache(maxsize=1024)
def test_note_ways(column: AirColumn) -> tuple[tuple[str, float], ...]:
    """Fingerings of the three usual valves that sound the test note on a column, with their shares."""
    usual = usual_way(column, TEST_NOTE.midi)
    fitting = [way.fingering for way in ways(column, TEST_NOTE.midi, IN_TUNE_ENOUGH)]
    known = [fingering for fingering in fitting if fingering in FINGERINGS]
    first = usual.fingering if usual and usual.fingering in FINGERINGS else NONE
    others = [fingering for fingering in known if fingering != first]
    if not others:
        return ((first, 1.0),)
    return ((first, 1.0 - _OTHER_WAYS), *((other, _OTHER_WAYS / len(others)) for other in others))


def step_below(column: AirColumn, fingering: str) -> int:
    """Whole semitones from the test note down to the next partial, the fingering kept.

    A fingering that does not fit the test note is taken from the partial that lies nearest to it.
    """
    if not column.has(fingering):
        fingering = "0"
    partial = sounding(column, fingering, TEST_NOTE.midi).partial
    return round(partial_semitones(partial) - partial_semitones(partial - 1))


def thumb_effect(one: Hypothesis, lever: Lever) -> str:
    """What pressing a thumb lever does to the pitch."""
    change = one.pressed(lever).pedal - one.at_rest.pedal
    if abs(change) < 0.1:
        return "nothing"
    if change > 0:
        return "raises"
    return "lowers-little" if change > -3 else "lowers-fourth"


def _set_words(ratio: float) -> str:
    if ratio > 1.0:
        return "longer"
    return "much-shorter" if ratio < 0.45 else "shorter"


def second_sets(build: Build) -> tuple[str, ...]:
    """How long every further slide set looks beside the first, in the order of the build's sides."""
    return tuple(_set_words(ratio) for ratio in build.set_ratios())


def _step_down(rest: AirColumn, test_note: str | None) -> Shares:
    usual = test_note_ways(rest)
    first = usual[0][0]
    if test_note in (None, NONE):
        return {} if first == NONE else {str(step_below(rest, first)): 1.0}
    kept = str(step_below(rest, str(test_note)))
    if first == NONE or any(test_note == fingering for fingering, _share in usual):
        return {kept: 1.0}
    # The fingering written down does not fit: either it was played and missed the note, or the usual one was
    # played.
    played = str(step_below(rest, first))
    return {kept: 1.0} if kept == played else {kept: 0.5, played: 0.5}


def _shared_row(one: Hypothesis) -> Shares:
    """Whether the air runs through the slides of the first side with the thumb lever up and with it down."""
    lever = main_lever(one.build)
    if lever is None or not one.build.own_sets:
        return {}
    row = one.build.own_sets[0].tube
    tubes = {one.at_rest.tube, one.pressed(lever).tube}
    served = all(row in (side.tube, side.through) for side in one.build.sides if side.tube in tubes)
    return {BOTH_SIDES if served else ONE_SIDE: 1.0}


def _measured(build: Build, key: str) -> Shares:
    shares: Shares = {}
    for wrap, share in _shapes(build.wrap).items():
        long = MEASURES[key](build, wrap)
        for answer, (low, high) in MEASURED[key].items():
            shares[answer] = shares.get(answer, 0.0) + share * long.share_between(low, high)
    met = {answer: share for answer, share in shares.items() if share >= _RARE_LENGTH}
    return {answer: share / sum(met.values()) for answer, share in met.items()}


def expected(hypothesis: Hypothesis, key: str, test_note: str | None = None) -> Shares:
    """Shares of the answers to one check. `test_note` is the fingering observed, which the step-down keeps.

    Empty where a check has no meaning for the build (the hand on a natural horn). Raises KeyError for no such
    check.
    """
    build, rest = hypothesis.build, hypothesis.at_rest
    kind = hypothesis.state.kind if hypothesis.state else ""
    if kind == "blocked" and key in ("test_note", "step_down", "each_finger"):
        return {NONE: 1.0} if key == "test_note" else {}
    if kind == "blocked" and key in ("test_note_thumb", "thumb") and build.thumb_levers:
        return {NONE: 1.0} if key == "test_note_thumb" else {}
    if kind == "bell" and key == "bell":
        others = [bell for bell in BELLS if bell not in build.bell]
        return dict.fromkeys(others, 1.0 / len(others)) if others else _shapes(build.bell)
    if key == "valves":
        return {str(build.valve_count): 1.0}
    if key == "slide_sets":
        return {str(build.slide_sets): 1.0}
    if key == "test_note":
        return dict(test_note_ways(rest))
    if key == "step_down":
        return _step_down(rest, test_note)
    if key == "second_set":
        return {next(iter(second_sets(build)), NONE): 1.0}
    if key == "shared_row":
        # Whether air comes is no matter of the rows where none passes, or where the lever switches nothing.
        return {} if kind in ("blocked", "thumb-off") else _shared_row(hypothesis)
    if key == "each_finger":
        # A valve that is stuck, up or down, leaves the note as it is; one that ascends or is strung wrong raises it.
        odd = [valve.name for valve in rest.valves if valve.semitones <= 0]
        return {next(iter(odd), NONE): 1.0} if rest.valves else {}
    if key in MEASURED:
        return _measured(build, key)
    if key in ("hand", "mechanism", "bell", "wrap"):
        return _shapes(getattr(build, key))
    if key == "crook":
        # On horns with valves a crook is met or not, whatever the build.
        return {} if build.valves else {"yes" if build.crooked else "no": 1.0}
    if key == "thumb":
        shares: Shares = {}
        for lever, share in _levers_with_shares(build):
            effect = thumb_effect(hypothesis, lever)
            shares[effect] = shares.get(effect, 0.0) + share
        return shares or {"nothing": 1.0}
    if key == "test_note_thumb":
        shares = {}
        for lever, share in _levers_with_shares(build):
            for fingering, way_share in test_note_ways(hypothesis.pressed(lever)):
                shares[fingering] = shares.get(fingering, 0.0) + share * way_share
        return shares or {NONE: 1.0}
    raise KeyError(key)


def usual_answer(hypothesis: Hypothesis, key: str) -> str | None:
    """The most usual answer to a check, or None where the check has no meaning for the build."""
    shares = expected(hypothesis, key)
    return max(shares, key=lambda answer: shares[answer]) if shares else None


def usual_answers(hypothesis: Hypothesis) -> dict[str, str]:
    """An error-free walk: the usual answer to every check that has one."""
    answers = {key: usual_answer(hypothesis, key) for key in CHECKS}
    return {key: answer for key, answer in answers.items() if answer is not None}


def overlap(one: Hypothesis, other: Hypothesis, key: str) -> float:
    """How often two horns give the same answer to a check, 0 to 1.

    1 where it has no meaning for one of them.
    """
    mine, theirs = expected(one, key), expected(other, key)
    if not mine or not theirs:
        return 1.0
    return sum(min(share, theirs.get(answer, 0.0)) for answer, share in mine.items())


def sounding_tubes(one: Hypothesis) -> tuple[str, str | None]:
    """The tubes heard with the thumb up and, where there is a lever, down."""
    lever = main_lever(one.build)
    return _tube_of(one.at_rest, one.whole.at_rest), (
        _tube_of(one.pressed(lever), one.whole.pressed(lever)) if lever else None
    )


def _tube_of(column: AirColumn, whole: AirColumn) -> str:
    """The tube that one takes it for; no tube's name where it is lowered to where none is."""
    moved = TUBES[column.tube].pedal - (column.lowered - whole.lowered) if column.tube == whole.tube else None
    if moved is None or abs(moved - TUBES[column.tube].pedal) < 0.5:
        return column.tube
    return next((tube.code for tube in TUBES.values() if abs(tube.pedal - moved) < 0.5), "")
