"""What is done to horns in the register."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from hypothesis import strategies as st

from fleet.register.actions import disposing, horns, identifying, places, restringing, whereabouts
from fleet.register.models import Disposal, Place, Standing
from identify.core.reasoning.evidence import Observations
from identify.core.reasoning.verdict import assess
from tests.histories.world import DAYS, WHICH, Deed, World, act

IN_F = {"valves": "4", "slide_sets": "2", "test_note": "1", "test_note_thumb": "0", "thumb": "raises", "step_down": "3"}
# Walks as people leave them: settled, settled without a doubt, the other stand, another kind, without the test note.
SEEN = {"hand": "left", "mechanism": "rotary", "bell": "back", "second_set": "longer", "length": "38-42"}
WALKS = {
    "in F": IN_F,
    "looked at twice": IN_F | SEEN | {"wrap": "standard", "shared_row": "one-side"},
    "in B flat": IN_F | {"test_note": "0", "test_note_thumb": "1", "thumb": "lowers-fourth", "step_down": "5"},
    "a single": {"valves": "3", "slide_sets": "1", "test_note": "0", "step_down": "5"},
    "not sounded": {"valves": "4", "slide_sets": "2", "test_note": "cant-tell", "thumb": "raises"},
}
KINDS = st.sampled_from([("double-full", "F"), ("double-full", "Bb"), ("single-f", "F"), ("single-bb", "Bb"), ("", "")])
NUMBERS = st.sampled_from(["", "H-1", "H-2", "H-7", "N-1"])


@act(1, number=NUMBERS, kind=KINDS)
def register(world: World, number: str, kind: tuple[str, str]) -> Deed:
    said: horns.Particulars = {"number": number, "build": kind[0], "stands_in": kind[1]}
    return partial(
        horns.register_horn, school=world.school, particulars=said, suggested="H-1", by=world.teacher, at=world.tick()
    )


@act(3, horn=WHICH, walk=st.sampled_from(sorted(WALKS)))
def identify(world: World, horn: int, walk: str) -> Deed:
    deed = partial(identifying.put_on_horn, horn=world.horn(horn), **_found_by(walk))
    return partial(deed, by=world.technician, at=world.tick())


@act(1, number=NUMBERS, walk=st.sampled_from(sorted(WALKS)))
def register_as_found(world: World, number: str, walk: str) -> Deed:
    said: horns.Particulars = {"number": number}
    deed = partial(identifying.register_as_found, school=world.school, particulars=said, suggested="H-1")
    return partial(deed, **_found_by(walk), by=world.teacher, at=world.tick())


def _found_by(walk: str) -> dict[str, Any]:
    """What a walk has seen, and the kind that it makes likeliest."""
    answers = WALKS[walk]
    told = {name: said for name, said in answers.items() if said != "cant-tell"}
    seen = Observations(
        told,
        passed=frozenset(answers) - frozenset(told),
        again=frozenset(told) if walk == "looked at twice" else frozenset(),
    )
    best = assess(seen, mix={}).candidates[0]
    return {"observations": seen, "build": best.build.code, "stands_in": best.stands_in or ""}


@act(horn=WHICH, kind=KINDS)
def say_the_kind(world: World, horn: int, kind: tuple[str, str]) -> Deed:
    said = {"build": kind[0], "stands_in": kind[1]}
    return partial(horns.amend_horn, horn=world.horn(horn), changes=said, by=world.teacher, at=world.tick())


@act(horn=WHICH, number=st.sampled_from(["H-1", "H-2", "H-7", "N-1"]), place=WHICH)
def renumber_and_move(world: World, horn: int, number: str, place: int) -> Deed:
    there = list(Place.objects.filter(school=world.school).order_by("pk"))
    said = {"number": number, "place": there[place % len(there)]}
    return partial(horns.amend_horn, horn=world.horn(horn), changes=said, by=world.teacher, at=world.tick())


@act(horn=WHICH, place=WHICH, moved_meanwhile=st.booleans())
def set_its_place(world: World, horn: int, place: int, moved_meanwhile: bool) -> Deed:
    there, of = list(Place.objects.filter(school=world.school).order_by("pk")), world.horn(horn)
    said = {"place": there[place % len(there)], "seen": None if moved_meanwhile else of.place_id}
    waited = timedelta(hours=1)
    return partial(horns.set_place, horn=of, waited=waited, by=world.teacher, at=world.tick(), **said)


@act(1, twice=WHICH, into=WHICH)
def put_places_together(world: World, twice: int, into: int) -> Deed:
    there = list(Place.objects.filter(school=world.school).order_by("pk"))
    rows = {"twice": there[twice % len(there)], "into": there[into % len(there)]}
    return partial(places.merge_places, **rows, by=world.teacher, at=world.tick())


@act(horn=WHICH, stands_in=st.sampled_from(["F", "Bb"]), days_ago=DAYS)
def restring(world: World, horn: int, stands_in: str, days_ago: int) -> Deed:
    return partial(
        restringing.restring,
        horn=world.horn(horn),
        stands_in=stands_in,
        reason="For the first years",
        by=world.technician,
        at=world.tick() - timedelta(days=days_ago),
    )


@act(3, horn=WHICH, kind=st.sampled_from(Standing.Kind.values), days_ago=DAYS)
def say_where_it_is(world: World, horn: int, kind: str, days_ago: int) -> Deed:
    return partial(
        whereabouts.change_standing,
        horn=world.horn(horn),
        kind=kind,
        reason="As was seen",
        by=world.heads[0],
        at=world.tick(),
        on=world.today - timedelta(days=days_ago),
    )


@act(1, horn=WHICH, by=WHICH, days_ahead=DAYS)
def propose_to_give_up(world: World, horn: int, by: int, days_ahead: int) -> Deed:
    return partial(
        disposing.propose,
        horn=world.horn(horn),
        method=Disposal.Method.SCRAPPED,
        on=world.today + timedelta(days=days_ahead),
        reason="Cracked",
        buyer="A museum",
        price=Decimal(days_ahead),
        by=world.staff(by),
        at=world.tick(),
    )


@act(1, horn=WHICH, by=st.integers(0, 1), approved=st.booleans())
def decide_to_give_up(world: World, horn: int, by: int, approved: bool) -> Deed | None:
    proposed = world.horn(horn).disposals.order_by("-pk").first()
    if proposed is None:
        return None
    return partial(
        disposing.decide, disposal=proposed, approved=approved, answer="So be it", by=world.heads[by], at=world.tick()
    )
