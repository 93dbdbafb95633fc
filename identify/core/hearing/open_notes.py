"""The tube from its open notes.

With no valve pressed an air column sounds partials 2, 3, 4 … of its pedal and nothing else. One note fits
many tubes; neighbouring notes fit few, because the steps between them say which partials they are. The
player lips every note a little, the horn as a whole is tuned flat or sharp by nobody knows how much, a note
may be skipped or be plain wrong: all of it is weighed, and what remains is said as likelihoods, never as
more than the notes carry. Partial 1 is no evidence: the pedal is not a true resonance (Moore, Acoustics
Today 12(4), 2016).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from identify.core.hearing.notes import Played
from identify.core.hearing.sounded import say_off
from identify.core.horns.air import FINGERING_SEMITONES, TUBES, lowered_by, valve_fraction
from identify.core.horns.pitch import both_names, hz_to_midi
from identify.core.horns.speech import _s

OPEN_TUBES = ("F12", "Bb9", "Eb13", "A9", "F6", "Eb6", "G", "Bb4")
"""Tubes a horn may have with nothing pressed. What is told apart; others are known to the air columns."""

# How often a school's horns have each tube (common practice, no source). No horn stands in A with nothing
# pressed: that tube is a B♭ side with its stopping valve left engaged.
SCHOOL_MIX: Mapping[str, float] = {
    "F12": 0.40, "Bb9": 0.34, "F6": 0.10, "Eb6": 0.07, "G": 0.03, "Bb4": 0.04, "Eb13": 0.02, "A9": 0.003,
}  # fmt: skip
EQUAL: Mapping[str, float] = dict.fromkeys(OPEN_TUBES, 1 / len(OPEN_TUBES))

# The least probability that is called settled. Chosen on simulated players who lip, mistune and miss notes
# more than is assumed below. The first is enough from four notes on where each is the neighbour of the one before;
# where one was skipped or does not belong, nearly all the wrong answers lie, so more is asked. Fewer notes have less
# to spare.
SURE, SURE_WITH_GAPS, SURE_FROM_FEW, FEW = 0.75, 0.80, 0.96, 3
# Cents all notes may lie off together and settle a tube. Of tubes a semitone away 2.6 % are still settled as the usual
# one; with 74 4.6 %, and 0.5 % of badly tuned horns more. From OFF on, the tube a semitone away is nearer: it is named.
FAR_OFF, OFF = 70.0, 50.0
STILL_OPEN = 0.02  # the least probability that is still listed

PARTIALS = np.arange(2, 17)
# How far the whole horn is off A4 = 440, in cents: often near it, else anywhere within nearly a semitone
# (slides out, a cold horn), now and then an old high-pitch horn (A4 = 452.4 Hz, 48 cents sharp).
TUNING = np.arange(-110.0, 111.0, 4.0)
# How far one note is off its horn, in cents: a steady player, or one who lips (share, spread).
LIPPING = ((0.5, 14.0), (0.5, 28.0))
WRONG_NOTE = 0.04  # a note that does not belong to the tube at all
# Such a note mostly lies near the one that was meant, since a valve went down or the lips caught another; now and then
# anywhere in four octaves (share, density a cent).
NEAR_SPREAD, NEAR_SHARE, ANYWHERE = 350.0, 0.8, 1 / 4800.0
DOUBTED = 0.2  # how far a note that the hearing doubts wholly is taken for wrong
# Steps from one partial to the next when asked for neighbours, and when asked for any open notes upwards.
NEIGHBOURS = {1: 0.93, 2: 0.04, 3: 0.01, 0: 0.015, -1: 0.005}
ANY_ORDER = {step: 0.5 ** abs(step) for step in range(-6, 7)}


@dataclass(frozen=True)
class Deciding:
    """The note to try next: a MIDI number that ``speaks_on`` one tube with nothing pressed and not on another."""

    midi: int
    speaks_on: str
    not_on: str


@dataclass(frozen=True)
class TubeFound:
    """``candidates`` are (tube code, probability), most likely first; ``settled`` says whether the first is sure.

    ``partials`` are those the first candidate gives the notes (0 where a note does not belong),
    ``tuning_cents`` is how far that horn would be off A4 = 440. ``sentence`` says it for a reader.
    """

    candidates: tuple[tuple[str, float], ...]
    settled: bool
    partials: tuple[int, ...]
    tuning_cents: float
    deciding: Deciding | None
    sentence: str

    @property
    def tube(self) -> str | None:
        """The code of the tube when settled, else None."""
        return self.candidates[0][0] if self.settled and self.candidates else None

    @property
    def remaining(self) -> tuple[str, ...]:
        """The tubes that still explain the notes, most likely first."""
        return tuple(code for code, share in self.candidates if share >= STILL_OPEN)


def _tuning_weights() -> NDArray[np.float64]:
    near = np.exp(-0.5 * (TUNING / 28) ** 2)
    old = np.exp(-0.5 * ((TUNING - 48) / 10) ** 2)
    wide = 1 / (1 + np.exp((np.abs(TUNING) - 85) / 8))
    total: NDArray[np.float64] = 0.35 * near / near.sum() + 0.03 * old / old.sum() + 0.62 * wide / wide.sum()
    return np.log(total)


_LOG_TUNING = _tuning_weights()


def _moves(steps: Mapping[int, float]) -> NDArray[np.float64]:
    """Log chances of going from one partial (row) to the next (column)."""
    table = np.full((len(PARTIALS), len(PARTIALS)), 1e-4)
    for row, here in enumerate(PARTIALS):
        for column, there in enumerate(PARTIALS):
            table[row, column] += steps.get(int(there - here), 0.0)
    return np.asarray(np.log(table / table.sum(axis=1, keepdims=True)))


_LOG_NEIGHBOURS, _LOG_ANY = _moves(NEIGHBOURS), _moves(ANY_ORDER)
_PARTIAL_CENTS = 1200 * np.log2(PARTIALS)


def _lowered(fingering: str) -> float:
    """Cents by which valves lower an open tube, each tuned singly."""
    if fingering == "0":
        return 0.0
    return 100 * lowered_by(valve_fraction(FINGERING_SEMITONES[valve]) for valve in fingering)


def _emissions(tube: str, notes: Sequence[Played]) -> NDArray[np.float64]:
    """Log likelihood of each note for every tuning and partial of a tube: notes × tunings × partials."""
    heard = np.array([100 * hz_to_midi(note.hz) + _lowered(note.fingering) for note in notes])
    sure = np.array([min(max(note.confidence, 0.0), 1.0) for note in notes])
    off = heard[:, None, None] - (100 * TUBES[tube].pedal + TUNING[None, :, None] + _PARTIAL_CENTS[None, None, :])
    density = sum(
        share / (spread * np.sqrt(2 * np.pi)) * np.exp(-0.5 * (off / spread) ** 2) for share, spread in LIPPING
    )
    wrong = np.clip(WRONG_NOTE + DOUBTED * (1 - sure), 0, 0.9)[:, None, None]
    stray = NEAR_SHARE * np.exp(-0.5 * (off / NEAR_SPREAD) ** 2) / (NEAR_SPREAD * np.sqrt(2 * np.pi))
    return np.asarray(np.log((1 - wrong) * density + wrong * (stray + (1 - NEAR_SHARE) * ANYWHERE)))


def _starts(tube: str) -> NDArray[np.float64]:
    """Log chances of the first partial: players begin where it speaks easily, around C3, less often far from it."""
    octaves = (100 * TUBES[tube].pedal + _PARTIAL_CENTS - 5000) / 1200
    weights = np.exp(-0.5 * (octaves / 1.0) ** 2) + 1e-3
    return np.asarray(np.log(weights / weights.sum()))


def _sum(logs: NDArray[np.float64], axis: int) -> NDArray[np.float64]:
    top = logs.max(axis=axis, keepdims=True)
    out: NDArray[np.float64] = np.log(np.exp(logs - top).sum(axis=axis)) + top.squeeze(axis)
    return out


def _log_likelihood(tube: str, notes: Sequence[Played], neighbours: bool) -> float:
    """Of all the notes together: summed over every tuning and every way of counting the partials."""
    moves = _LOG_NEIGHBOURS if neighbours else _LOG_ANY
    emissions = _emissions(tube, notes)
    forward = _starts(tube)[None, :] + emissions[0]
    for emission in emissions[1:]:
        forward = _sum(forward[:, :, None] + moves[None, :, :], axis=1) + emission
    return float(_sum(_sum(forward, axis=1) + _LOG_TUNING, axis=0))


def _best_reading(tube: str, notes: Sequence[Played], neighbours: bool) -> tuple[tuple[int, ...], float]:
    """The likeliest partials of the notes on a tube, 0 where a note does not belong, and the tuning in cents."""
    moves = _LOG_NEIGHBOURS if neighbours else _LOG_ANY
    emissions = _emissions(tube, notes)
    best = _starts(tube)[None, :] + emissions[0]
    came: list[NDArray[np.intp]] = []
    for emission in emissions[1:]:
        ways = best[:, :, None] + moves[None, :, :]
        came.append(ways.argmax(axis=1))
        best = ways.max(axis=1) + emission
    tuning = int((best.max(axis=1) + _LOG_TUNING).argmax())
    at = int(best[tuning].argmax())
    path = [at]
    for step in reversed(came):
        at = int(step[tuning, at])
        path.append(at)
    path.reverse()
    partials = []
    for note, index in zip(notes, path, strict=True):
        expected = 100 * TUBES[tube].pedal + TUNING[tuning] + _PARTIAL_CENTS[index]
        off = 100 * hz_to_midi(note.hz) + _lowered(note.fingering) - expected
        partials.append(int(PARTIALS[index]) if abs(off) < 75 else 0)
    return tuple(partials), float(TUNING[tuning])


def tube_likelihoods(
    notes: Iterable[Played], *, tubes: Iterable[str] = tuple(TUBES), neighbours: bool = True
) -> dict[str, float]:
    """How well each tube explains the notes, the best one 1.0; no share of how common a tube is.

    Made to be multiplied into other evidence. Empty when there are fewer than two notes: one note says next
    to nothing about a tube. ``neighbours`` says the notes were played upwards without skipping any. Raises
    ValueError on a frequency that is not a positive number.
    """
    played = list(notes)
    if len(played) < 2:
        return {}
    logs = {tube: _log_likelihood(tube, played, neighbours) for tube in tubes}
    best = max(logs.values())
    return {tube: float(np.exp(value - best)) for tube, value in logs.items()}


def find_tube(
    notes: Iterable[Played], *, prior: Mapping[str, float] = SCHOOL_MIX, neighbours: bool = True
) -> TubeFound:
    """The tube that explains the open notes best, what else remains, and the note that would decide.

    ``prior`` gives the tubes to choose among and how common each is. Never settled from fewer than two
    notes, nor when one of only two does not belong. Raises ValueError on a frequency that is not a positive
    number.
    """
    played = list(notes)
    likelihoods = tube_likelihoods(played, tubes=tuple(prior), neighbours=neighbours)
    if not likelihoods:
        return TubeFound(
            (), False, (), 0.0, None, _s("One note fits many tubes. Play the next open notes upwards too.")
        )
    weights = {tube: prior[tube] * value for tube, value in likelihoods.items()}
    total = sum(weights.values())
    ranked = tuple(sorted(((tube, weight / total) for tube, weight in weights.items()), key=lambda pair: -pair[1]))
    first, share = ranked[0]
    partials, tuning = _best_reading(first, played, neighbours)
    belong = sum(partial > 0 for partial in partials)
    gaps = neighbours and any(high - low != 1 for low, high in pairwise(partials))
    sure = SURE_FROM_FEW if len(played) <= FEW else SURE_WITH_GAPS if gaps or 0 in partials else SURE
    nearer = _nearer(first, tuning, played, neighbours) if abs(tuning) > OFF else None
    other = nearer is not None and abs(tuning) > FAR_OFF
    settled = share >= sure and belong >= 2 and belong >= 0.6 * len(partials) and not other
    rival = next((tube for tube, _ in ranked[1:]), None)
    deciding = None if settled or rival is None or other else _deciding(first, rival, played)
    said = _say(ranked, settled, belong, partials, deciding)
    if belong >= 2 and abs(tuning) > (OFF if settled else FAR_OFF):
        said = say_off(first, tuning, nearer, settled)
    return TubeFound(ranked, settled, partials, tuning, deciding, said)


def _nearer(first: str, tuning: float, played: Sequence[Played], neighbours: bool) -> str | None:
    """Where all notes lie off one tube together: the tube a semitone from it that they all lie nearer to."""
    way = 1 if tuning > 0 else -1
    for code, tube in TUBES.items():
        if tube.pedal == TUBES[first].pedal + way:
            partials, off = _best_reading(code, played, neighbours)
            if 0 not in partials and abs(off) < abs(tuning):
                return code
    return None


def _deciding(first: str, rival: str, played: Sequence[Played]) -> Deciding | None:
    """The open note nearest to those played that one of two tubes has and the other has not by 80 cents."""
    middle = float(np.median([100 * hz_to_midi(note.hz) for note in played]))
    had = [100 * hz_to_midi(note.hz) for note in played]
    found: list[tuple[float, Deciding]] = []
    for one, other in ((first, rival), (rival, first)):
        others = 100 * TUBES[other].pedal + _PARTIAL_CENTS
        for partial, up in zip(PARTIALS, _PARTIAL_CENTS, strict=True):
            cents = 100 * TUBES[one].pedal + up
            # Partials over 8 lie too close together to be aimed at; the 7th is out of tune and would confuse.
            if partial > 8 or partial == 7 or np.abs(others - cents).min() < 80:
                continue
            if any(abs(cents - played_cents) < 60 for played_cents in had):
                continue
            found.append((abs(cents - middle), Deciding(round(cents / 100), one, other)))
    return min(found, key=lambda pair: pair[0])[1] if found else None


def _say(
    ranked: Sequence[tuple[str, float]], settled: bool, belong: int, partials: Sequence[int], deciding: Deciding | None
) -> str:
    first = TUBES[ranked[0][0]].words
    if settled:
        if belong < len(partials):
            return _s("This is the %(tube)s tube, though one of the notes does not belong to it.") % {"tube": first}
        return _s("This is the %(tube)s tube: every note belongs to it.") % {"tube": first}
    if belong < 2:
        return _s("These notes do not fit any one tube. Check that no valve was pressed and play them again.")
    left = [TUBES[tube].words for tube, share in ranked if share >= STILL_OPEN]
    told = {"tube": first, "others": _s(" and ").join(left[1:])}
    if left[2:]:
        said = _s("Most likely the %(tube)s tube; %(others)s remain possible.") % told
    elif left[1:]:
        said = _s("Most likely the %(tube)s tube; %(others)s remains possible.") % told
    else:
        said = _s("Probably the %(tube)s tube.") % told
    if deciding is None:
        return f"{said} {_s('Push all slides in, warm the horn and play the notes again.')}"
    way = _s("Try %(note)s with no valve pressed: it speaks on the %(tube)s tube, not on the %(other)s.") % {
        "note": both_names(deciding.midi),
        "tube": TUBES[deciding.speaks_on].words,
        "other": TUBES[deciding.not_on].words,
    }
    return f"{said} {way}"
