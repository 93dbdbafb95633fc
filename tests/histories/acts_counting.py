"""What is done while counting."""

from __future__ import annotations

from functools import partial

from hypothesis import strategies as st

from fleet.counting.actions import counts, differences, finds, sightings
from fleet.counting.models import Count, Find, Line, Sighting
from fleet.counting.queries.outcomes import resolutions_for
from fleet.register.models import Place
from tests.histories.world import WHICH, Deed, World, act


def _last_count(world: World) -> Count | None:
    return Count.objects.at(world.school).order_by("-pk").first()


@act(place=st.sampled_from([None, 0, 1]))
def begin_a_count(world: World, place: int | None) -> Deed:
    places = [] if place is None else [_place(world, place)]
    return partial(counts.begin, school=world.school, places=places, by=world.teacher, at=world.tick())


@act(1)
def begin_a_sample(world: World) -> Deed:
    return partial(
        counts.begin_sample, school=world.school, confidence=90, margin=10, by=world.teacher, at=world.tick(), seed=1
    )


@act(horn=WHICH, place=WHICH)
def see(world: World, horn: int, place: int) -> Deed | None:
    count = _last_count(world)
    if count is None:
        return None
    at = world.tick()
    key = f"a-tap-at-{at:%m%d%H%M%S}"
    return partial(
        sightings.see, count=count, horn=world.horn(horn), place=_place(world, place), key=key, by=world.teacher, at=at
    )


@act()
def take_the_last_tap_back(world: World) -> Deed | None:
    count = _last_count(world)
    tapped = count and Sighting.objects.filter(count=count).order_by("-pk").first()
    return tapped and partial(sightings.undo, sighting=tapped, by=world.teacher, at=world.tick())


@act(then=st.sampled_from(["", "sign"]))
def end_the_count(world: World, then: str) -> Deed | None:
    count = _last_count(world)
    if count is None:
        return None
    what = counts.sign if then else counts.end
    return partial(what, count=count, by=world.heads[1], at=world.tick())


@act(which=WHICH, how=WHICH, place=WHICH)
def resolve(world: World, which: int, how: int, place: int) -> Deed | None:
    count = _last_count(world)
    lines = list(Line.objects.filter(count=count, outcome__in=Line.DIFFERENCES).select_related("horn", "count"))
    if count is None or not lines:
        return None
    line = lines[which % len(lines)]
    offered = resolutions_for(line, line.horn.where)
    return partial(
        differences.resolve,
        line=line,
        resolution=offered[how % len(offered)],
        reason="As was seen",
        place=_place(world, place),
        by=world.heads[0],
        at=world.tick(),
    )


@act(1, place=WHICH)
def see_something_unknown(world: World, place: int) -> Deed | None:
    count = _last_count(world)
    if count is None:
        return None
    at = world.tick()
    seen = {"words": "9-K", "place": _place(world, place), "key": f"a-find-at-{at:%m%d%H%M%S}"}
    return partial(finds.keep_find, count=count, **seen, by=world.teacher, at=at)


@act(1, horn=WHICH, resolution=st.sampled_from(Find.Resolution.values))
def settle_what_was_found(world: World, horn: int, resolution: str) -> Deed | None:
    found = Find.objects.filter(count__school=world.school).order_by("-pk").first()
    if found is None:
        return None
    is_one = world.horn(horn) if resolution == Find.Resolution.HORN else None
    said = {"find": found, "resolution": resolution, "reason": "As was seen", "horn": is_one}
    return partial(finds.settle_find, **said, by=world.heads[0], at=world.tick())


def _place(world: World, which: int) -> Place:
    places = list(Place.objects.filter(school=world.school).order_by("pk"))
    return places[which % len(places)]
