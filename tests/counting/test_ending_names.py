"""Before a count ends its page names what nobody has seen."""

import pytest
from django.urls import reverse

from fleet.counting.actions.counts import begin
from fleet.counting.actions.sightings import see
from fleet.ground.access import Role
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


def test_ending_a_count_names_what_nobody_has_seen_before_it_ends(as_):
    school = make.school()
    teacher, place = make.staff(Role.TEACHER, school), make.place(school, room="Cupboard")
    seen, missed, lent = (make.horn(school, number=f"H-{n}", place=place) for n in (1, 2, 3))
    make.loan(lent, make.pupil(school), teacher)
    count = begin(school=school, places=[place], by=teacher, at=make.NOW)
    see(count=count, horn=seen, place=place, key="a", by=teacher, at=make.NOW)
    client, page = as_(teacher), reverse("counting:end", args=[school.slug, count.pk])

    shown = client.get(page)
    assert [line.number for line in shown.context["missed"]] == ["H-2"]
    assert "· Cupboard" in folded(shown)
    assert "1 more was not seen and is not missed: the register says where it is." in folded(shown)

    see(count=count, horn=missed, place=place, key="b", by=teacher, at=make.NOW)
    assert "No horn of the list is missed." in folded(client.get(page))
