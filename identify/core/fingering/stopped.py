"""Stopped notes: what is pressed while the hand closes the bell.

On the long tubes closing it raises a note by about a semitone, so they are fingered a semitone lower. On the 9-foot
tube it raises by about three quarter tones; a stopping slide makes up for that, on the tube that it is built into and
on no other (J. Ericson, Horn Matters, 2009). A horn with neither has no stopped notes to rely on.
"""

from dataclasses import replace

from identify.core.fingering.ways import LAST_RESORT, Way, taught, way_of
from identify.core.horns.builds import Build, Stand, columns
from identify.core.horns.pitch import PartKey

RAISED_A_SEMITONE = frozenset({"F12", "Eb13"})
# Below this partial, and on the long valves there, a stopped note hardly speaks: common practice, no source.
_LOWEST = 3


def stopped_ways(build: Build, stand: Stand, part: PartKey, midi: int, thumb: bool) -> tuple[Way, ...]:
    """The ways to stop a sounding note, that on the F side first; none where it cannot be relied on.

    `thumb` is False where no thumb lever may be pressed.
    """
    if not (build.is_french_horn and build.valves):
        return ()
    found: list[Way] = []
    every = [column for column in columns(build, stand) if thumb or not column.thumb]
    for column in every:
        if column.tube in RAISED_A_SEMITONE and column.in_tune and not column.lowered:
            reached = taught(column, part, midi - 1)
            if reached is not None and reached.partial >= _LOWEST and reached.fingering not in LAST_RESORT:
                found.append(replace(way_of(column, reached, midi - 1), hand="stopped"))
    for lowered in every:
        if lowered.lowered:
            # The slide takes back what the hand adds: the fingering is that of the open note.
            column = replace(lowered, lowered=0.0)
            reached = taught(column, part, midi)
            if reached is not None and reached.partial >= _LOWEST and reached.fingering not in LAST_RESORT:
                found.append(replace(way_of(column, reached, midi), hand="stopped"))
    return tuple(found)
