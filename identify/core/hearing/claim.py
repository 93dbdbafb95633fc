"""A record's claim about the tube, judged by open notes: the strongest use of hearing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from identify.core.hearing.notes import Played
from identify.core.hearing.sounded import cents_off
from identify.core.horns.air import TUBES
from identify.core.horns.builds import Build, column_at_rest, column_with, main_lever
from identify.core.horns.speech import _s

BELIEVED = 0.9  # how far a record is believed before anything was played
FITS, DOES_NOT_FIT = 0.95, 0.03


@dataclass(frozen=True)
class ClaimChecked:
    """``verdict`` is fits, does-not-fit or cannot-tell; ``probability`` that the recorded tube is the true
    one.
    """

    verdict: str
    probability: float
    better: str | None
    sentence: str


@dataclass(frozen=True)
class RecordedTubes:
    """What a record says sounds with no valve pressed: tube codes with the thumb `up`, and `down` if it has a lever.

    `words` is what the record says, to be read.
    """

    words: str
    up: str
    down: str | None


def recorded_tubes(build: Build, stands_in: str, words: str) -> RecordedTubes | None:
    """Of a recorded build and stand; None where the record does not say which tube sounds."""
    stand = next((stand for stand in build.stands if stand.name == stands_in), None)
    if stand is None:
        if build.crooked or len(build.stands) != 1:
            return None
        stand = build.stands[0]
    lever = main_lever(build)
    down = column_with(build, stand, (lever,)).tube if lever else None
    return RecordedTubes(words, column_at_rest(build, stand).tube, down)


def check_claim(notes: Iterable[Played], tube: str) -> ClaimChecked:
    """Whether open notes fit the tube that a record claims. Raises KeyError for a code that is not known.

    The record is believed at first (nine in ten), the other tubes share the rest as schools have them.
    """
    from identify.core.hearing.open_notes import FAR_OFF, OFF, SCHOOL_MIX, find_tube

    words = TUBES[tube].words
    played = list(notes)
    others = {code: share for code, share in SCHOOL_MIX.items() if code != tube}
    scale = (1 - BELIEVED) / sum(others.values())
    prior = {tube: BELIEVED, **{code: share * scale for code, share in others.items()}}
    found = find_tube(played, prior=prior)
    if not found.candidates:
        return ClaimChecked("cannot-tell", BELIEVED, None, found.sentence)
    probability = dict(found.candidates)[tube]
    first = found.candidates[0][0]
    mostly = sum(partial > 0 for partial in found.partials) >= max(2, 0.6 * len(found.partials))
    if first == tube and abs(found.tuning_cents) > FAR_OFF:
        return ClaimChecked("cannot-tell", probability, None, found.sentence)
    if first == tube and probability >= FITS and mostly:
        said = {"tube": words, "off": cents_off(found.tuning_cents)}
        if abs(found.tuning_cents) > OFF:
            sentence = _s("The notes fit the %(tube)s tube, as the record says, but all lie %(off)s.") % said
        else:
            sentence = _s("The notes fit the %(tube)s tube, as the record says.") % said
        return ClaimChecked("fits", probability, None, sentence)
    if probability <= DOES_NOT_FIT and mostly:
        return ClaimChecked(
            "does-not-fit",
            probability,
            first,
            _s("The record says %(tube)s; these notes do not fit it. They fit the %(other)s tube.")
            % {"tube": words, "other": TUBES[first].words},
        )
    return ClaimChecked(
        "cannot-tell",
        probability,
        None,
        _s("These notes neither confirm nor contradict the record. Play four neighbouring open notes."),
    )
