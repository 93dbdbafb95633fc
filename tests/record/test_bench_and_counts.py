"""Repairs, parts, counts, letters and sheets: who changed what, from what to what."""

from __future__ import annotations

from decimal import Decimal

import pytest

from fleet.counting.actions import counts, differences
from fleet.ground.access import Role
from fleet.record.models import Act, Deed
from fleet.workshop.actions.care import care_for, take_back_care
from fleet.workshop.actions.jobs import Work, change_job, open_job
from fleet.workshop.actions.outside import Outside, approve, change_outside
from fleet.workshop.actions.parts import save_part
from fleet.workshop.models import Part
from fleet.workshop.models.care import Kind
from tests import make
from tests.record.test_acts import acts

pytestmark = pytest.mark.django_db


def test_a_job_tells_of_cost_and_state_from_what_to_what_and_of_a_heads_word():
    school = make.school(approve_above=100)
    head, horn = make.staff(Role.HEAD, school), make.horn(school)
    who = {"by": head, "at": make.NOW}
    job = open_job(horn=horn, notes="a dent", **who)
    change_outside(job=job, seen=job.steps.last().pk, said=Outside(repairer="Reed", quote=Decimal(120)), **who)
    approve(job=job, amount=Decimal(120), **who)
    job.refresh_from_db()
    work = Work(state="done", notes="a dent", cost=Decimal(110))
    change_job(job=job, seen=job.steps.last().pk, work=work, **who)

    told = [(deed, [line for line in lines if len(line) == 3]) for deed, lines in acts()]
    assert [deed for deed, _ in told] == [Deed.JOB_OPENED, *[Deed.JOB_CHANGED] * 3]
    assert [line[1:] for line in told[1][1]] == [["", "Reed"], ["", "120"]]
    assert "120 approved" in acts()[2][1][1][1]
    assert ["", "110"] in [line[1:] for line in told[3][1]]


def test_a_part_counted_anew_tells_how_many_there_were():
    school = make.school()
    who = {"by": make.staff(Role.TECHNICIAN, school), "at": make.NOW}
    part = save_part(part=Part(school=school, name="string", on_hand=4), was=None, **who)
    part.on_hand = 9
    save_part(part=part, was=4, **who)
    save_part(part=part, was=9, **who)

    assert [(deed, lines[-1]) for deed, lines in acts()] == [
        (Deed.PART_KEPT, ["pieces there now", "0", "4"]),
        (Deed.PART_KEPT, ["pieces there now", "4", "9"]),
    ]


def test_care_taken_back_stands_there_with_the_horn_and_who_had_noted_it():
    school = make.school()
    who = {"by": make.staff(Role.TECHNICIAN, school), "at": make.NOW, "school": school}
    horn = make.horn(school)
    care_for(horns=[horn.pk], kind=Kind.OIL, **who)
    care_for(horns=[horn.pk], kind=Kind.CLEAN, **who)
    other = make.horn(make.school())
    care_for(horns=[other.pk], kind=Kind.OIL, **(who | {"school": other.school}))

    assert [take_back_care(of=Kind.OIL, **who), take_back_care(of=Kind.OIL, **who)] == [1, 0]

    said = f"oiling on {make.NOW:%Y-%m-%d}, by {who['by']}"
    assert acts() == [(Deed.CARE_TAKEN_BACK, [["horn", str(horn)], ["care", said]])]
    assert horn.care.get().kind == Kind.CLEAN


def test_a_count_begun_ended_and_signed_stands_there_by_whom():
    school = make.school()
    make.horn(school)
    head, second = make.staff(Role.HEAD, school), make.staff(Role.HEAD, school)
    count = counts.begin(school=school, places=[], by=head, at=make.NOW)
    counts.end(count=count, by=head, at=make.NOW)

    title = ["count", "Count of everything"]
    line = count.lines.get()
    differences.resolve(line=line, resolution="missing", reason="Nowhere", by=head, at=make.NOW)
    counts.sign(count=count, by=second, at=make.NOW)

    settled = [["horn", str(line.horn)], title, ["settled as", "recorded as not found"], ["reason", "Nowhere"]]
    assert [one for one in acts() if one[0] != Deed.HORN_NOT_FOUND] == [
        (Deed.COUNT_BEGUN, [title, ["horns", "1"]]),
        (Deed.COUNT_ENDED, [title]),
        (Deed.DIFFERENCE_SETTLED, settled),
        (Deed.COUNT_SIGNED, [title]),
    ]
    assert Act.objects.get(deed=Deed.COUNT_SIGNED).by == second
