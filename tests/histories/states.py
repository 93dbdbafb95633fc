"""States a horn comes to by several acts, each through whatever stands in the way."""

from __future__ import annotations

from tests.histories.world import World, do


def clear(world: World, horn: int) -> None:
    """Whatever keeps the horn back is done, as far as it can be."""
    now = world.horn(horn)
    if now.not_found_on:
        do(world, "say_where_it_is", horn=horn, kind="found", days_ago=0)
    if now.withdrawn_on:
        do(world, "say_where_it_is", horn=horn, kind="kept-again", days_ago=0)
    if now.holder_name:
        do(world, "take_back", horn=horn, found=[], days_ago=0, cleaned=True, whole=True)
    if now.jobs.filter(closed_at=None).exists():
        do(world, "change_the_job", horn=horn, state="done", cost=None)
    now = world.horn(horn)
    if now.test_note_owed or not now.build:
        do(world, "identify", horn=horn, walk="in F")
    if now.grade is None or now.grade > 2:
        do(world, "check", horn=horn, found=[], hours_ago=0)
    if now.mouthpiece_owed:
        do(world, "clean_the_mouthpiece", horn=horn, days_ago=0)
    if now.promised_to:
        do(world, "take_it_back_from_their_page", horn=horn)


def lend(world: World, horn: int) -> None:
    clear(world, horn)
    do(world, "lend", horn=horn, pupil=0, days=200)


def put_before(world: World, horn: int) -> None:
    clear(world, horn)
    do(world, "put_before", horn=horn, pupil=0, days=200)


def sign(world: World, horn: int) -> None:
    put_before(world, horn)
    do(world, "sign", horn=horn)


def put_on_the_bench(world: World, horn: int) -> None:
    clear(world, horn)
    do(world, "check", horn=horn, found=[("strung-for-other-stand", "r")], hours_ago=0)
    do(world, "change_the_job", horn=horn, state="bench", cost=None)


def propose(world: World, horn: int) -> None:
    clear(world, horn)
    do(world, "propose_to_give_up", horn=horn, by=2, days_ahead=0)


def bring_in(world: World, horn: int) -> None:
    do(world, "bring_in_horns", rows=[("N-2", "", 0), (world.horn(horn).number, "", 2)])


STATES = {
    "cleared": clear,
    "lent": lend,
    "asked": put_before,
    "signed": sign,
    "on the bench": put_on_the_bench,
    "proposed": propose,
    "brought in": bring_in,
}
