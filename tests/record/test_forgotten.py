"""Names go out of the record with the pupil, and the chain holds: either side of it."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from fleet.desk.actions.forgetting import forget
from fleet.desk.queries.personal import of_pupil
from fleet.ground.access import Role
from fleet.people.actions.accounts import record_entry
from fleet.record.actions.recording import record
from fleet.record.actions.sealing import seal
from fleet.record.models import Act, Deed
from fleet.record.queries.proving import proof_of
from tests import make

LONG_AGO = make.TODAY - timedelta(days=900)
# What each act below tells, and whether it may still tell it once Ada Quill is forgotten.
GOES, STAYS = "goes", "stays"


@pytest.fixture
def world(db):
    class World:
        school, other = make.school(), make.school()
        head = make.staff(Role.HEAD, school, name="Ines Head")
        mother = make.guardian(school, name="Maria Quill", email="maria@example.org")
        pupil = make.pupil(school, mother, name="Ada Quill", pupil_id="P-77", left_on=LONG_AGO)
        horn, strange = make.horn(school), make.horn(school)

    own = {"school": World.school, "by": World.head, "at": make.NOW}
    make.loan(World.horn, World.pupil, World.head, issued_on=LONG_AGO, due_on=LONG_AGO, returned_on=LONG_AGO)
    record(deed=Deed.PUPIL_NEW, pupil=World.pupil, told=[[GOES, "7A"]], **own)
    record(
        deed=Deed.GUARDIAN_CHANGED, guardian=World.mother, told=[[GOES, "maria@example.org", "m@example.org"]], **own
    )
    record(deed=Deed.HORN_CHANGED, horn=World.horn, told=[["notes", "", f"the dent of Ada {GOES}"]], **own)
    record(deed=Deed.POST_CHANGED, told=[[GOES, "P-77"]], **own)
    record(deed=Deed.HORN_CHANGED, horn=World.horn, told=[["notes", "", f"a dent {STAYS}"]], **own)
    record(deed=Deed.HORN_CHANGED, horn=World.strange, told=[["notes", "", f"Ada Street {STAYS}"]], **own)
    record(deed=Deed.HORN_CHANGED, told=[[STAYS, "P-771"]], **own)
    elsewhere = {**own, "school": World.other}
    record(deed=Deed.HORN_CHANGED, told=[["notes", "Ada Quill", STAYS]], **elsewhere)
    account = World.mother.user
    record_entry(deed=Deed.SIGNED_IN, account=account, by=account, at=make.NOW, told=[["how", GOES]])
    return World


def told():
    return [act.told for act in Act.objects.order_by("pk") if act.told]


def test_what_names_them_goes_the_rest_stays_and_the_chain_holds_on_both_sides(world):
    seal(school=world.school.pk)
    assert proof_of(world.school.pk).wrong == []
    assert sum(GOES in words for words in told()) == 5

    forget(pupil=world.pupil, by=world.head, at=make.NOW)

    seal(school=world.school.pk)
    assert not [words for words in told() if GOES in words or ("Quill" in words and STAYS not in words)]
    assert sum(STAYS in words for words in told()) == 4
    assert not Act.objects.filter(by_name="Maria Quill").exists()
    assert Act.objects.filter(by_name="Ines Head").count() == 9
    proof = proof_of(world.school.pk)
    assert (proof.wrong, proof.emptied) == ([], 5)
    act = Act.objects.get(deed=Deed.FORGOTTEN)
    assert (act.by, act.lines[1]) == (world.head, ["pupil", f"former pupil {world.pupil.pk}"])
    assert proof_of(world.other.pk).wrong == []


def test_acts_that_were_not_sealed_yet_are_sealed_before_they_are_emptied(world):
    assert Act.objects.filter(number=None).exists()

    forget(pupil=world.pupil, by=world.head, at=make.NOW)

    seal(school=world.school.pk)
    assert proof_of(world.school.pk).wrong == []
    assert proof_of(world.school.pk).emptied == 5


def test_forgetting_by_the_command_leaves_its_act_though_nobody_signed_in(world, monkeypatch):
    monkeypatch.setattr("fleet.desk.management.commands.forget.timezone.now", lambda: make.NOW)
    call_command("forget", stdout=StringIO())
    assert not Act.objects.filter(deed=Deed.FORGOTTEN).exists()

    call_command("forget", "--do", stdout=StringIO())

    act = Act.objects.get(deed=Deed.FORGOTTEN)
    assert (act.school, act.by, act.by_name, act.page) == (world.school, None, "", "")


def test_forgetting_somebody_of_whom_there_is_no_act_leaves_one(world):
    other = make.pupil(world.school)
    forget(pupil=other, by=world.head, at=make.NOW)
    assert Act.objects.get(deed=Deed.FORGOTTEN).lines == [["pupil", f"former pupil {other.pk}"]]


def test_the_command_takes_old_names_out_of_the_record_and_says_so(world, monkeypatch):
    late = make.NOW + timedelta(days=3 * 365 + 1)
    monkeypatch.setattr("fleet.desk.management.commands.forget.timezone.now", lambda: late)

    call_command("forget", "--do", stdout=(said := StringIO()))

    assert "older than names are kept there: names taken out." in said.getvalue()
    for school in (world.school, world.other):
        seal(school=school.pk)
        assert proof_of(school.pk).wrong == []
    assert not Act.objects.filter(at=make.NOW).exclude(told="", by_name="").exists()


def test_a_family_is_told_what_was_recorded_about_the_pupil(world):
    data = of_pupil(world.pupil, [world.mother])
    assert data["recorded"] == [{"at": make.NOW, "done": "Put a pupil on record"}]
