"""Which places of a drawn horn can be pointed at: valves and slides by the codes that findings have, and the rest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from identify.core.drawing.lying import ROTOR, Lying, ValveLies, lying
from identify.core.horns.builds import Build

# Half as wide as a finger may need, in the drawing's units.
NEAR = 10.5


@dataclass(frozen=True, slots=True)
class Spot:
    """A box on the front of a drawing: `at` says of what kind it is, `code` which of them, "" where there is one."""

    at: str
    code: str
    x: float
    y: float
    wide: float
    high: float


def spots(build: Build) -> tuple[Spot, ...]:
    """The spots of a build's front, from left to right within their kind: valves, slides, then what there is one of."""
    lies = lying(build)
    return tuple(_turned(one, lies) for one in (*_valves(build, lies), *_slides(build, lies), *_single(lies)))


def _turned(spot: Spot, lies: Lying) -> Spot:
    x = lies.width - spot.x - spot.wide if lies.mirrored else spot.x
    left, top = max(x, 0.0), max(spot.y, 0.0)
    wide, high = min(x + spot.wide, lies.width) - left, min(spot.y + spot.high, lies.height) - top
    return Spot(spot.at, spot.code, left, top, wide, high)


def code_of(build: Build, lies: Lying, valve: ValveLies) -> str:
    """`1` to `4`, `change`, `change-2` or `stopping`, as findings name it."""
    thumbs = dict(zip((one for one in lies.valves if one.thumb), build.thumb_levers, strict=True))
    lever = thumbs.get(valve) or next((one for one in build.levers if one.name == valve.name), None)
    if lever is None:
        return valve.name
    if lever.does == "stopping":
        return "stopping"
    changes = [one for one in build.levers if one.does != "stopping"]
    return "change" if lever is changes[0] else "change-2"


def _valves(build: Build, lies: Lying) -> Iterator[Spot]:
    for valve in lies.valves:
        high = 22 if lies.mechanism == "piston" else ROTOR + 4
        yield Spot("valves", code_of(build, lies, valve), valve.x - NEAR, valve.y - high, 2 * NEAR, high + ROTOR + 2)


def _slides(build: Build, lies: Lying) -> Iterator[Spot]:
    for place, _ in enumerate(build.valves, start=1):
        valve = next(one for one in lies.valves if one.name == str(place))
        hang = [one for one in lies.slides if abs(one.x - valve.x) < NEAR]
        top = valve.y + (22 if lies.mechanism != "rotary" else ROTOR) + 2
        yield Spot("slides", str(place), valve.x - NEAR, top, 2 * NEAR, max(one.long for one in hang) + 10)


def _single(lies: Lying) -> Iterator[Spot]:
    (x, y), (ux, uy) = lies.bell.throat, lies.bell.to
    ex, ey = x + 0.88 * lies.bell.long * ux, y + 0.88 * lies.bell.long * uy
    yield Spot("bell", "", ex - 34, ey - 34, 68, 68)
    (mx, my) = lies.lead[0]
    yield Spot("mouthpiece", "", mx - 14, my - 14, 28, 28)
    (lx, ly) = lies.lead[10]
    yield Spot("lead", "", lx - 16, ly - 12, 32, 24)
