"""What a horn's sightings and its row amount to."""

from __future__ import annotations

from collections.abc import Iterable

from fleet.counting.models import Line
from fleet.register.models import Horn

Outcome, Resolution = Line.Outcome, Line.Resolution
# Where the register itself says why nobody sees the horn on its shelf.
ACCOUNTED = (Horn.Where.OUT, Horn.Where.REPAIR, Horn.Where.WORKSHOP, Horn.Where.AWAY, Horn.Where.WITHDRAWN)


def outcome_of(
    *, expected: bool, place: int | None, where_before: str, where_now: str, seen_at: Iterable[int | None]
) -> Line.Outcome:
    """How a horn ends: `place` and `seen_at` are keys of places, None where none was said.

    A horn that came back during the count and was seen is simply seen; one that came back and was not is looked for.
    """
    seen = list(seen_at)
    if not seen:
        if not expected:
            # Added by a tap that was taken back: nobody misses it.
            return Outcome.AWAY
        if where_now in ACCOUNTED:
            return Outcome.AWAY if where_before in ACCOUNTED else Outcome.WENT
        if where_now == where_before == Horn.Where.NOT_FOUND:
            return Outcome.AWAY
        return Outcome.NOT_FOUND
    if not expected or Horn.Where.IN_PLACE not in (where_before, where_now):
        return Outcome.NOT_EXPECTED
    places = {one for one in seen if one is not None}
    if len(places) > 1:
        return Outcome.TWICE
    if places and place not in places:
        return Outcome.ELSEWHERE
    return Outcome.SEEN


def resolutions_for(line: Line, where_now: str) -> list[Line.Resolution]:
    """What may be done about a difference, the likeliest first."""
    if line.outcome == Outcome.NOT_FOUND:
        missing = [Resolution.MISSING] if where_now == Horn.Where.IN_PLACE else []
        return [*missing, Resolution.EXPLAINED]
    moves = [Resolution.MOVED, Resolution.PUT_BACK]
    if line.outcome == Outcome.NOT_EXPECTED and where_now == Horn.Where.NOT_FOUND:
        return [Resolution.FOUND, Resolution.EXPLAINED]
    if line.outcome == Outcome.NOT_EXPECTED and where_now != Horn.Where.IN_PLACE:
        return [Resolution.PUT_BACK, Resolution.EXPLAINED]
    return [*moves, Resolution.EXPLAINED]
