"""Hears which single note a short recording holds, or says in plain words why none was heard.

The whole recording is looked at at once (see spectrum, proposals, steadiness): a horn note is held for seconds,
so what lasts is the note and what passes is not. The sound itself is never kept: what comes out are a few
numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from identify.core.hearing import steadiness
from identify.core.hearing.halves import ANOTHER, DOUBTED, Half, halves, weighed
from identify.core.hearing.notes import SURE, HeardNote
from identify.core.hearing.proposals import FEATURES, PARTIALS, THERE, Proposals, occupancy, propose, refined
from identify.core.hearing.sound import Sound
from identify.core.hearing.spectrum import SHORT_HOP, Floats, Spectra, spectra
from identify.core.hearing.steadiness import Course
from identify.core.hearing.wavering import bends, straightened, wavers
from identify.core.hearing.weights import Fitted, chance, fitted
from identify.core.horns.pitch import hz_to_midi, name_of, written
from identify.core.horns.speech import _s

SHORTEST = 0.15  # seconds below which nothing is tried
SILENT = 10 ** (-60 / 20)  # level, against full scale, that the loudest tenth of a second must reach
LOWEST_OPEN_HZ = 70.0  # under this only mains hum and pedal notes sound
# Below, no answer: rather none than a wrong one. The chance is a wary one, fitted as if most recordings held no single
# note. Chosen so that no more than 1 % of held-out clips without one are answered.
LEAST_CONFIDENCE = 0.04
SECOND_DB = -11.0  # from here on another note beside this one makes two; players in the next room are fainter
FAINT = 0.5  # below, the answer comes with the advice to play once more
MAINS_HZ = (
    100.0,
    120.0,
)  # twice the mains, the hum of transformers; 50 and 60 lie under the lowest open note
MAINS_CENTS, MAINS_EVENNESS = 3.0, 0.8  # grids keep to 0.1 %, 1.7 cents, nearly always
TONAL_DB = 28.0  # the strongest bins of a moment over its middle one: voices and notes have more, most noise less
CLIPPED = 0.01  # share of samples at the ceiling that is worth a remark
MAINS_CONFIDENCE = 0.8
# A second or less of hum is measured less finely, and a room makes it less even: taken for hum where little speaks for
# a note. Of 500 hums 6 were answered without this.
NEAR_MAINS_CENTS, HUM_CONFIDENCE = 8.0, 0.9
# Of the first fourteen partials a hum has nine at most, or its first is the strongest; low brass has more, and a higher
# one is the strongest. Of 50 notes held as evenly as a hum, at its pitch, 41 are told from it so.
HUM_PARTIALS = 9
# What may be no horn is answered and never sure: one partial only, all above a whistle's pitch, a blow that dies away,
# lower than a horn's lowest open note. So is what had to be straightened, and what not both halves hold: DOUBTED.
STRAIGHT = 0.5  # the least trust of what was straightened: a wobble comes to 0.9 and more, notes in turn to 0.3
LOWEST_SURE_HZ, HIGHEST_SURE_HZ = 76.0, 1_000.0
UNDER_DB = 25.0  # a horn has something under the highest sure pitch, no further below its strongest partial
STRUCK_DB = 12.0  # from the first third of the sound to its last
MOST_POINTS = 60
TRUST_FACTS = (*steadiness.FEATURES, *FEATURES, "margin", "score")
REASONS = {
    "short": "That was too short. Hold the note for two or three seconds.",
    "silent": "Almost nothing was heard. Come closer to the microphone, or check that it is switched on.",
    "hum": "Only a steady hum was heard, as mains and machines make it. Play closer to the microphone.",
    "noise": "No note stands out from the noise. Play closer to the microphone, or in a quieter room.",
    "clipped": "The recording is overloaded. Move the microphone a step back and play again.",
    "two notes": "More than one note sounds at once. Record one player alone.",
    "moving": "No pitch stayed in one place. Hold one note for two or three seconds, without talking.",
    "unsure": "No note was clear enough to name. Hold one for two or three seconds, close to the microphone.",
    "low": "That was lower than any open note of a horn; perhaps a voice or a machine. Hold one note, higher up.",
}


@dataclass(frozen=True)
class Chosen:
    """The proposal with the highest score, that score, and its lead over the best that is another note; all scores."""

    index: int
    hz: float
    score: float
    margin: float
    scores: Floats


def choose(proposals: Proposals, weights: Fitted) -> Chosen:
    """Which proposal is the note."""
    scores = weights.score(proposals.features)
    best = int(scores.argmax())
    another = np.abs(1200 * np.log2(proposals.hz / proposals.hz[best])) > 60
    margin = float(scores[best] - scores[another].max()) if another.any() else 15.0
    return Chosen(best, float(proposals.hz[best]), float(scores[best]), margin, scores)


def facts(seen: Spectra, proposals: Proposals, chosen: Chosen) -> tuple[Floats, Course]:
    """The row of TRUST_FACTS about the chosen note, and how it goes."""
    course = steadiness.course(seen, chosen.hz)
    of_choice = proposals.features[chosen.index]
    return np.concatenate([course.features, of_choice, [min(chosen.margin, 15) / 5, chosen.score / 10]]), course


@dataclass(frozen=True, eq=False)
class _Looked:
    """What was made of the spectra: the note chosen, how it goes, the chance that it is right, its partials found."""

    seen: Spectra
    proposals: Proposals
    chosen: Chosen
    course: Course
    confidence: float
    partials: int

    def as_half(self, hz: float) -> Half:
        """What is heard here, as a half of a recording in which the note ``hz`` was heard."""
        near = np.abs(1200 * np.log2(self.proposals.hz / hz)) <= ANOTHER
        lead = self.chosen.score - float(self.chosen.scores[near].max(initial=-np.inf))
        return Half(self.chosen.hz, self.confidence, lead)


def _look(seen: Spectra) -> _Looked | None:
    """None where no tone stands out at all."""
    proposals = propose(seen)
    if proposals is None:
        return None
    chosen = choose(proposals, fitted("choice", FEATURES))
    row, course = facts(seen, proposals, chosen)
    confidence = chance(float(fitted("trust", TRUST_FACTS).score(row[None, :])[0]))
    partials = round(8 * float(proposals.features[chosen.index][FEATURES.index("count")]))
    return _Looked(seen, proposals, chosen, course, confidence, partials)


def _look_twice(samples: NDArray[np.float32], rate: int) -> _Looked | None:
    """The whole, with the trust that its halves leave."""
    whole = _look(spectra(samples, rate))
    if whole is None:
        return None
    heard = [_look(spectra(part, rate)) for part in halves(samples, rate, whole.seen)]
    found = [half.as_half(whole.chosen.hz) for half in heard if half is not None]
    return replace(whole, confidence=weighed(whole.chosen.hz, whole.confidence, found))


def listen(sound: Sound, *, pedal: bool = False) -> HeardNote:
    """The note that a recording holds. ``pedal`` allows notes under 70 Hz, asked for on purpose.

    Never raises for a ``Sound``: what cannot be heard is said in ``reason``.
    """
    remarks = list(sound.remarks)
    if sound.clipped > CLIPPED:
        remarks.append(_s("The recording is overloaded; a step back from the microphone would be better."))

    def none(code: str, confidence: float = 0.0) -> HeardNote:
        return HeardNote(None, confidence, code, _s(REASONS[code]), seconds=sound.seconds, remarks=tuple(remarks))

    if sound.seconds < SHORTEST:
        return none("short")
    if _loudest(sound) < SILENT:
        return none("silent")
    looked = _look_twice(sound.samples, sound.rate)
    if looked is None:
        return none("noise")
    went = looked.course.cents
    if looked.confidence < SURE and wavers(went):
        straight = _look_twice(*straightened(sound.samples, sound.rate, looked.seen, went))
        if straight is not None and straight.confidence > max(looked.confidence, STRAIGHT):
            looked = replace(straight, confidence=min(straight.confidence, DOUBTED))
            went = went - np.median(went)  # the middle is what was straightened to
            remarks.append(_s("The note wavers. Its middle is taken; hold it stiller to be surer."))
    seen, chosen, confidence = looked.seen, looked.chosen, looked.confidence
    too_low = chosen.hz < LOWEST_OPEN_HZ and not pedal
    if _is_hum(seen, looked, too_low):
        return none("hum")
    if confidence < LEAST_CONFIDENCE:
        return none(_why_not(sound, looked), confidence)
    if bends(went):
        return none("moving", confidence)
    if _are_two(looked):
        return none("two notes", confidence)
    if too_low:
        return none("low")
    if confidence < FAINT:
        remarks.append(_s("That was not clear. Play it once more, closer to the microphone, to be surer."))
    hz = refined(seen, chosen.hz)
    if _is_mains(hz):  # a note may lie there by chance, but it is never sure
        confidence = min(confidence, MAINS_CONFIDENCE)
    if _may_be_no_horn(seen, chosen.hz, looked.partials):
        confidence = min(confidence, DOUBTED)
    midi = round(hz_to_midi(hz))
    note = name_of(midi)
    step = -(-len(went) // MOST_POINTS)
    return HeardNote(
        hz=hz,
        confidence=confidence,
        note=note.name,
        written=written(note).name,
        cents=100 * (hz_to_midi(hz) - midi),
        seconds=sound.seconds,
        course=tuple(round(float(cents), 1) for cents in went[::step]),
        remarks=tuple(remarks),
    )


def _loudest(sound: Sound) -> float:
    """Level of the loudest tenth of a second."""
    width = max(1, min(len(sound.samples), sound.rate // 10))
    blocks = sound.samples[: len(sound.samples) // width * width].reshape(-1, width)
    return float(np.sqrt(np.square(blocks).mean(axis=1, dtype=np.float64).max()))


def _is_mains(hz: float, cents: float = MAINS_CENTS) -> bool:
    return any(abs(1200 * np.log2(hz / mains)) < cents for mains in MAINS_HZ)


def _may_be_no_horn(seen: Spectra, hz: float, partials: int) -> bool:
    """A sine, a whistle or a drum may hold a pitch as well as a horn does."""
    under = seen.long[: int(HIGHEST_SURE_HZ / seen.bin_hz)].max() / max(float(seen.long.max()), 1e-12)
    return (
        partials <= 1
        or not LOWEST_SURE_HZ <= hz <= HIGHEST_SURE_HZ
        or under < 10 ** (-UNDER_DB / 20)
        or _falls(seen) >= STRUCK_DB
    )


def _falls(seen: Spectra) -> float:
    """How much fainter, in dB, the last third of the sound is than the first."""
    thirds = np.array_split(seen.power, 3)
    if not len(thirds[-1]):
        return 0.0
    first, last = (max(float(np.median(part)), 1e-12) for part in (thirds[0], thirds[-1]))
    return float(10 * np.log10(first / last))


def _is_hum(seen: Spectra, looked: _Looked, too_low: bool) -> bool:
    """At the pitch of the mains, with a machine's partials, and neither begins nor ends nor breathes as players do."""
    hz = refined(seen, looked.chosen.hz)
    even = looked.course["near"] > 0.9 and steadiness.evenness(seen) > MAINS_EVENNESS
    if too_low:
        return even
    doubted = looked.confidence < HUM_CONFIDENCE and _is_mains(hz, NEAR_MAINS_CENTS)
    if not (doubted or (even and _is_mains(hz))):
        return False
    few = int((occupancy(seen, np.array([hz]))[0] > THERE).sum()) <= HUM_PARTIALS
    at: Floats = hz * PARTIALS.astype(np.float64)
    return few or int(seen.level_near(at, 0.02 * at).argmax()) == 0


def _tonal_db(seen: Spectra) -> float:
    """How far, in dB, the eight strongest bins of the usual moment stand over its middle bin."""
    frames = seen.short[seen.loud][:, 4:]
    strongest = np.partition(frames, -8, axis=1)[:, -8:].mean(axis=1)
    return float(np.median(20 * np.log10((strongest + 1e-9) / (np.median(frames, axis=1) + 1e-9))))


def _are_two(looked: _Looked) -> bool:
    return steadiness.second_db(looked.seen, looked.chosen.hz, looked.proposals.hz) > SECOND_DB


def _why_not(sound: Sound, looked: _Looked) -> str:
    """The likeliest reason, in the order in which a listener would notice."""
    seen, course = looked.seen, looked.course
    sounding = float(seen.loud.sum()) * SHORT_HOP / seen.rate
    if sound.clipped > 0.1:
        return "clipped"
    if sounding < 0.25:
        return "short"
    in_turn = looked.confidence == 0  # as `weighed` says of a half with another note
    if in_turn or course["near"] < 0.7 or course["drift"] > 0.6 or course["clearness"] < 0.6:
        return "moving" if _tonal_db(seen) > TONAL_DB else "noise"
    if course["foreign_power"] > -0.5 or course["highest_foreign"] > -0.4 or _are_two(looked):
        return "two notes"
    return "unsure"
