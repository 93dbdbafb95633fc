"""The field guide on the page, for staff and for families."""

from __future__ import annotations

from django.urls import reverse

from fleet.ground.access import Role
from tests import make


def test_staff_find_every_kind_and_what_tells_it_from_the_nearest(db, as_):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)

    listed = as_(teacher).get(reverse("desk:guide", args=[school.slug])).content.decode()
    page = as_(teacher).get(reverse("desk:guide-build", args=[school.slug, "double-full"])).content.decode()

    assert "full double horn in F and B♭" in listed
    assert reverse("desk:guide-build", args=[school.slug, "natural-horn"]) in listed
    assert "Compensating double horn" in page
    assert "This one: longer. That one: much shorter." in page


def test_a_family_reads_the_same_and_a_kind_that_is_unknown_is_not_found(db, as_):
    guardian = make.guardian(make.school())

    page = as_(guardian.user).get(reverse("desk:family-guide-build", args=["mellophone-f"]))

    assert "take the pistons out one at a time" in page.content.decode()
    assert reverse("desk:family-guide") in page.content.decode()
    assert as_(guardian.user).get(reverse("desk:family-guide-build", args=["kazoo"])).status_code == 404
