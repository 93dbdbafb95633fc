"""Notes of a horn without valves: the open partials of its tube, and what the hand in the bell of a natural horn adds.

Half closing the bell lowers a partial by about a semitone; closing it tight gives the note a semitone above
a partial (stopping, J. Ericson, Horn Matters, 2009). Which serves which note: common practice, no source;
players differ, and the difference in colour is part of the style.
"""

from dataclasses import dataclass

from identify.core.horns.air import HIGHEST_PARTIAL, partial_semitones

_OPEN_WITHIN = 0.35  # semitones
_HALF_LOWERS = 1.2  # semitones at most
_TIGHT_LOWERS = 2.2
# The lower the partial, the further the tight hand draws it: A3, a third below the 4th, is "a usable note" (Natural
# horn hand position and such, naturalhorn.com).
_TIGHT_LOWERS_THE_FOURTH = 3.2
# The 11th and 13th lie between two notes and are played open for either: F♯5 and A5, by the same page.
_ALSO_OPEN, _ALSO_OPEN_WITHIN = (11, 13), 0.6
# An open note this near is played open, and nothing else is taught for it: common practice, no source.
_TRUE_WITHIN = 0.2
_LOWEST_FOR_THE_HAND = 3  # below this partial the hand moves the pitch too little to rely on


@dataclass(frozen=True, slots=True)
class HandNote:
    """A partial and what the hand does: `half`, `stopped`, or nothing.

    `cents` is 0 where the hand places the pitch.
    """

    partial: int
    cents: float
    hand: str


def hand_notes(above_pedal: int) -> tuple[HandNote, ...]:
    """Ways to sound the note so many semitones above the pedal, the usual one first."""
    opened: list[HandNote] = []
    half: list[HandNote] = []
    stopped: list[HandNote] = []
    between: list[HandNote] = []
    for partial in range(2, HIGHEST_PARTIAL + 1):
        over = partial_semitones(partial) - above_pedal
        tight = _TIGHT_LOWERS_THE_FOURTH if partial == 4 else _TIGHT_LOWERS
        if partial in _ALSO_OPEN and abs(over) <= _ALSO_OPEN_WITHIN:
            between.append(HandNote(partial, 100.0 * over, ""))
        if abs(over) <= _OPEN_WITHIN:
            opened.append(HandNote(partial, 100.0 * over, ""))
        elif partial < _LOWEST_FOR_THE_HAND:
            continue
        elif 0 < over <= _HALF_LOWERS:
            half.append(HandNote(partial, 0.0, "half"))
        elif 0 < -over <= _HALF_LOWERS or (_HALF_LOWERS < over <= tight and partial > 3):
            stopped.append(HandNote(partial, 0.0, "stopped"))
    opened.sort(key=lambda note: abs(note.cents))
    if opened and abs(opened[0].cents) <= 100 * _TRUE_WITHIN:
        return (opened[0],)
    half.sort(key=lambda note: note.partial)
    # A semitone above a partial lies truer under the tight hand than a tone below one.
    stopped.sort(key=lambda note: partial_semitones(note.partial) > above_pedal)
    return (*opened[:1], *half[:1], *between, *stopped[:1])
