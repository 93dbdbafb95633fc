"""What somebody still has before them after the list it came in with was undone."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from fleet.exchange.actions import imports
from fleet.ground.refusal import Refused
from fleet.lending.actions import pupils
from fleet.people.models import Pupil
from fleet.register.actions.horns import amend_horn
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn
from fleet.signing.actions.handing_out import hand_out
from fleet.workshop.actions.checking import log_check
from fleet.workshop.actions.jobs import open_job
from tests import make
from tests.exchange.conftest import Desk, as_csv

ABOUT_A_HORN = {
    "amended": lambda how: amend_horn(changes={"maker": "Hill Workshop"}, **how),
    "withdrawn": lambda how: change_standing(kind="withdrawn", reason="Crushed", **how),
    "checked": lambda how: log_check(occasion="other", finish_grade=2, found=(), **how),
    "to be mended": lambda how: open_job(notes="Look at it", **how),
}


@pytest.mark.parametrize("done", sorted(ABOUT_A_HORN))
def test_a_horn_whose_list_was_undone_is_not_on_the_register_any_more(desk: Desk, done: str):
    imported = desk.bring_in(as_csv([["number"], ["N-1"]]))
    horn = Horn.objects.at(desk.school).get()
    imports.undo(imported=imported, by=imported.by, at=make.NOW)

    with pytest.raises(Refused, match="is not on the register any more: the list it came in with was undone"):
        ABOUT_A_HORN[done]({"horn": horn, "by": desk.head, "at": make.NOW})


def test_a_pupil_whose_list_was_undone_is_neither_renamed_nor_lent_a_horn(desk: Desk):
    rows = [["name", "guardian", "guardian email"], ["Cleo Finch", "Ann Finch", "ann.finch@example.org"]]
    imported = desk.bring_in(as_csv(rows), "pupils")
    pupil = Pupil.objects.at(desk.school).get()
    guardian = pupil.guardians.get()
    horn = make.horn(desk.school)
    terms: Any = {"agreement_version": 1, "check_seen": make.check(horn, desk.head).pk, "accessories": ["case"]}
    imports.undo(imported=imported, by=imported.by, at=make.NOW)

    told = "is not on record any more: the list they came in with was undone"
    with pytest.raises(Refused, match=told):
        pupils.amend(pupil=pupil, changes={"name": "Cleo Moss"}, by=desk.head, at=make.NOW)
    with pytest.raises(Refused, match=told):
        hand_out(
            horn=horn,
            pupil=pupil,
            guardian=guardian,
            due_on=make.TODAY + timedelta(days=9),
            signed_on=make.TODAY,
            by=desk.head,
            at=make.NOW,
            **terms,
        )


def test_a_list_is_not_undone_once_one_of_its_horns_stood_in_for_another(desk):
    imported = desk.bring_in(as_csv([["Number", "Maker"], ["N-1", "Bell"]]))
    make.job(make.horn(desk.school), desk.head, stand_in=Horn.objects.get(number="N-1"))

    with pytest.raises(Refused, match=r"one of the new horns by now \(repair job\)"):
        imports.undo(imported=imported, by=desk.head, at=make.NOW)
