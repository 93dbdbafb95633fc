"""What is done with pupils, and lists of horns and pupils brought in and taken back."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import timedelta
from functools import partial
from typing import Any

from hypothesis import strategies as st

from fleet.desk.actions.forgetting import forget
from fleet.exchange.actions import closing, imports
from fleet.exchange.models import Import
from fleet.ground.languages.known import ENGLISH
from fleet.lending.actions import pupils
from fleet.matching.actions import rename_class
from fleet.people.actions.families import save_guardian, speak
from fleet.people.actions.objecting import look_into, object_to_change
from fleet.people.actions.own_words import word
from fleet.people.actions.school_year import keep_holiday, remove_holiday
from fleet.people.models import Guardian, Holiday, Pupil
from tests.histories.world import WHICH, Deed, World, act, as_family, guardian_of

NAMES = st.sampled_from(["Ada Quill", "Ada Moss", "Ben Reed", "Cleo Finch"])
CELLS = st.sampled_from(["H-1", "H-2", "H-3", "H-7", "N-1", "N-2"])


@act(3, pupil=WHICH, name=NAMES)
def rename(world: World, pupil: int, name: str) -> Deed:
    return partial(pupils.amend, pupil=world.pupil(pupil), changes={"name": name}, by=world.teacher, at=world.tick())


@act(1, was=st.sampled_from(["5b", "6a"]), name=st.sampled_from(["5b", "6a", "7a"]))
def call_a_class_otherwise(world: World, was: str, name: str) -> Deed:
    who = {"by": world.teacher, "at": world.tick()}
    return partial(rename_class, school=world.school, was=was, name=name, together=True, **who)


@act(horn=WHICH, name=NAMES)
def rename_who_has_it(world: World, horn: int, name: str) -> Deed | None:
    loan = world.loan(horn)
    if loan is None:
        return None
    return partial(pupils.amend, pupil=loan.pupil, changes={"name": name}, by=world.teacher, at=world.tick())


@act(pupil=WHICH, gone=st.booleans())
def leave_the_school(world: World, pupil: int, gone: bool) -> Deed:
    said = {"left_on": world.today if gone else None}
    return partial(pupils.amend, pupil=world.pupil(pupil), changes=said, by=world.teacher, at=world.tick())


@act(1, pupil=WHICH)
def forget_a_pupil(world: World, pupil: int) -> Deed | None:
    # The command forgets those who have left; a class of two must not be forgotten whole.
    one = world.pupil(pupil)
    if one.left_on is None:
        return None
    return partial(forget, pupil=one, by=world.heads[0], at=world.tick())


@act(1, name=NAMES)
def enrol(world: World, name: str) -> Deed | None:
    if Pupil.objects.at(world.school).count() > 4:
        return None
    return bring_in_pupils(world, [(name, "6a", "new.adult@example.org")])


@act(
    1, rows=st.lists(st.tuples(CELLS, st.sampled_from(["", "double F/Bb", "single F"]), WHICH), min_size=1, max_size=3)
)
def bring_in_horns(world: World, rows: Sequence[tuple[str, str, int]]) -> Deed:
    lines = [(number, kind, f"Room {room}") for number, kind, room in rows]
    return partial(_bring_in, world, "horns", [("number", "kind", "room"), *lines])


@act(
    rows=st.lists(
        st.tuples(NAMES, st.sampled_from(["5b", "6a"]), st.sampled_from(["", "new.adult@example.org"])),
        min_size=1,
        max_size=2,
    )
)
def bring_in_pupils(world: World, rows: Sequence[tuple[str, str, str]]) -> Deed:
    lines = [(name, group, "New Adult" if mail else "", mail) for name, group, mail in rows]
    return partial(_bring_in, world, "pupils", [("name", "class", "guardian", "guardian email"), *lines])


@act(1, which=WHICH, name=NAMES, pupil_id=st.sampled_from(["P-1", "P-2"]))
def rename_by_list(world: World, which: int, name: str, pupil_id: str) -> Deed:
    """A list that calls a pupil who has an id by another name; who has none gets one."""
    pupil = world.pupil(which)
    line = (name, pupil.pupil_id) if pupil.pupil_id else (pupil.name, pupil_id)
    return partial(_bring_in, world, "pupils", [("name", "id"), line])


@act(1, horn=CELLS, name=NAMES, days=st.tuples(st.integers(1, 28), st.integers(1, 28)))
def bring_in_past_loans(world: World, horn: str, name: str, days: tuple[int, int]) -> Deed:
    line = (horn, name, f"2025-03-{min(days):02}", f"2025-03-{max(days):02}")
    return partial(_bring_in, world, "past-loans", [("number", "pupil", "out since", "came back"), line])


@act(1, by=st.integers(0, 1), words=st.sampled_from(["propose", "agree", "stay"]))
def say_that_the_school_leaves(world: World, by: int, words: str) -> Deed:
    said = {"school": world.school, "by": world.heads[by], "at": world.tick()}
    if words == "propose":
        return partial(closing.propose_closing, reason="Merged", **said)
    return partial(closing.agree_to_closing if words == "agree" else closing.take_closing_back, **said)


@act(1, first=st.integers(0, 300), long=st.integers(0, 9), removed=st.booleans())
def write_a_holiday_down(world: World, first: int, long: int, removed: bool) -> Deed:
    there = Holiday.objects.filter(school=world.school).order_by("-pk").first()
    who = {"by": world.heads[0], "at": world.tick()}
    if there and removed:
        return partial(remove_holiday, holiday=there, **who)
    begins = world.today + timedelta(days=first)
    holiday = there or Holiday(school=world.school)
    return partial(
        keep_holiday, holiday=holiday, name="Winter", first=begins, last=begins + timedelta(days=long), **who
    )


@act(1, said=st.sampled_from(["", "Ask us"]))
def word_a_sentence(world: World, said: str) -> Deed:
    who = {"by": world.heads[0], "at": world.tick()}
    return partial(word, school=world.school, language=ENGLISH, text="Questions", forms=[said], **who)


@act()
def undo_the_last_list(world: World) -> Deed | None:
    last = Import.objects.at(world.school).order_by("-pk").first()
    return last and partial(imports.undo, imported=last, by=world.heads[0], at=world.tick())


def _bring_in(world: World, kind: str, rows: Sequence[Sequence[Any]]) -> Import:
    """A list from file to register, as a person who agrees to everything brings it in."""
    file = io.StringIO(newline="")
    csv.writer(file).writerows(rows)
    at, head = world.tick(), world.heads[0]
    data = io.BytesIO(file.getvalue().encode())
    imported = imports.take_in(school=world.school, kind=kind, file=data, name="list.csv", by=head, at=at)
    imports.match_columns(imported=imported, columns=imported.columns, day_first=True)
    imported.refresh_from_db()
    while imports.look_over_next(imported=imported, at=at):
        pass
    imports.begin_writing(imported=imported)
    while imports.write_next(imported=imported, by=head, at=at):
        pass
    return imported


@act(1, pupil=WHICH, to=st.sampled_from(["one", "two"]))
def give_another_address(world: World, pupil: int, to: str) -> Deed | None:
    adult = guardian_of(world.pupil(pupil))
    if adult is None or not adult.email:
        return None
    adult.email = f"{to}-{adult.pk}@example.org"
    secret = f"{adult.pk}, {world.tick()}"
    return partial(save_guardian, guardian=adult, secret=secret, by=world.teacher, at=world.at)


@act(1, twice=WHICH, into=WHICH)
def put_guardians_together(world: World, twice: int, into: int) -> Deed | None:
    adults = list(Guardian.objects.filter(school=world.school).order_by("pk"))
    if len(adults) < 2:
        return None
    rows = {"twice": adults[twice % len(adults)], "into": adults[into % len(adults)]}
    return partial(pupils.merge_guardians, **rows, by=world.teacher, at=world.tick())


@act(1, pupil=WHICH)
def say_that_it_was_not_me(world: World, pupil: int) -> Deed | None:
    """By the link of the last letter, used or not, late or not."""
    adult = guardian_of(world.pupil(pupil))
    change = adult and adult.address_changes.order_by("pk").last()
    return change and partial(object_to_change, change=change, by=None, at=world.tick())


@act(1, pupil=WHICH)
def look_into_what_was_said(world: World, pupil: int) -> Deed | None:
    adult = guardian_of(world.pupil(pupil))
    return adult and partial(look_into, guardian=adult, by=world.heads[0], at=world.tick())


@act(pupil=WHICH, language=st.sampled_from(["de", "en-gb"]))
def read_in_another_language(world: World, pupil: int, language: str) -> Deed | None:
    adult = guardian_of(world.pupil(pupil))
    if adult is None or adult.user is None:
        return None
    return as_family(adult.user, partial(speak, account=adult.user, language=language, by=adult.user, at=world.tick()))
