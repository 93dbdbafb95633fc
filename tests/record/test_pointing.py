"""What points to a row, told from the models."""

from __future__ import annotations

import pytest

from fleet.ground.access import Role
from fleet.people.models import Opening, Pupil
from fleet.record.models import Act, Deed
from fleet.record.queries.pointing import pointing_to, what_points_to
from tests import make

pytestmark = pytest.mark.django_db


def test_hidden_references_count_and_acts_do_not():
    school = make.school()
    teacher, pupil = make.staff(Role.TEACHER, school), make.pupil(school, make.guardian(school))
    Act.objects.create(school=school, at=make.NOW, deed=Deed.PUPIL_NEW, pupil=pupil, by_sum="", told_sum="")
    assert what_points_to(Pupil, [pupil.pk]) == ""
    assert Act not in {relation.related_model for relation in pointing_to(Pupil)}

    make.report(make.horn(school), teacher, pupil=pupil)

    assert what_points_to(Pupil, [pupil.pk]) == "fault report"
    assert what_points_to(Pupil, [make.pupil(school).pk]) == ""


def test_some_models_can_be_left_out_or_looked_at_alone():
    school = make.school()
    teacher, pupil = make.staff(Role.TEACHER, school), make.pupil(school)
    Opening.objects.create(school=school, by=teacher, at=make.NOW, page="people:pupil", pupil=pupil)

    assert what_points_to(Pupil, [pupil.pk]) != ""
    assert what_points_to(Pupil, [pupil.pk], besides={Opening}) == ""
    assert what_points_to(Pupil, [pupil.pk], only={"loan"}) == ""
    assert what_points_to(Pupil, [pupil.pk], only={"opening"}) != ""
