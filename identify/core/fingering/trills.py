"""Trills to the tone and the semitone above: by the lip, or by one valve.

The lip trills between neighbouring partials that lie about a tone apart, the 8th to the 10th: computed from the
harmonic series. That a trill by hand moves one finger only is common practice, no source.
"""

from dataclasses import dataclass

from identify.core.fingering.ways import FAR_OFF, LAST_RESORT, NOT_TAUGHT, Reached, Way, reaches_of, way_of
from identify.core.horns.air import AirColumn, partial_semitones

_LIP_FROM = (8, 9)


@dataclass(frozen=True, slots=True)
class Trill:
    """A trill so many `semitones` up from `lower`; `upper` is None where the lip does it on one fingering."""

    semitones: int
    lower: Way
    upper: Way | None = None


def trills(sides: tuple[AirColumn, ...], midi: int, usual: Way | None) -> tuple[Trill, ...]:
    """The trills of a sounding note: to the tone above, then to the semitone; those there are, nearest to `usual`."""
    found = (_by_lip(sides, midi, usual) or _by_valve(sides, midi, 2, usual), _by_valve(sides, midi, 1, usual))
    return tuple(trill for trill in found if trill is not None)


def _near(column: AirColumn, midi: int) -> tuple[Reached, ...]:
    return tuple(
        reach
        for reach in reaches_of(column).get(midi, ())
        if abs(reach.cents(midi)) <= FAR_OFF and reach.fingering not in LAST_RESORT and len(reach.fingering) < 3
    )


def _by_lip(sides: tuple[AirColumn, ...], midi: int, usual: Way | None) -> Trill | None:
    found = []
    for place, column in enumerate(sides):
        for reach in _near(column, midi):
            if reach.partial in _LIP_FROM:
                wide = partial_semitones(reach.partial + 1) - partial_semitones(reach.partial)
                if abs(reach.cents(midi) + 100.0 * (wide - 2)) <= FAR_OFF:
                    way = way_of(column, reach, midi)
                    found.append(((way != usual, place, reach.rank), Trill(2, way)))
    return min(found, key=lambda pair: pair[0], default=(None, None))[1]


def _by_valve(sides: tuple[AirColumn, ...], midi: int, semitones: int, usual: Way | None) -> Trill | None:
    found = []
    for place, column in enumerate(sides):
        for low in _near(column, midi):
            for high in _near(column, midi + semitones):
                moved = set(low.fingering) ^ set(high.fingering) - {"0"}
                if len(moved - {"0"}) == 1 and not {low.partial, high.partial} & NOT_TAUGHT:
                    lower, upper = way_of(column, low, midi), way_of(column, high, midi + semitones)
                    order = (lower != usual, place, low.partial != high.partial, low.rank + high.rank)
                    found.append((order, Trill(semitones, lower, upper)))
    return min(found, key=lambda pair: pair[0], default=(None, None))[1]
