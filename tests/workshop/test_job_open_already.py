"""What a walk of checks found, where a repair job is open already."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("found", ["The third slide is stuck", ""])
def test_what_was_found_is_said_where_the_open_job_does_not_have_it(as_, found):
    school = make.school()
    teacher, horn = make.staff(Role.TEACHER, school), make.horn(school)
    job = make.job(horn, teacher, notes="The bell is dented")

    page = as_(teacher).get(reverse("workshop:job-new", args=[school.slug, horn.pk]), {"notes": found}, follow=True)

    assert page.redirect_chain[-1][0] == reverse("workshop:job", args=[school.slug, job.pk])
    said = f"{horn} has an open repair job. Its notes do not say this yet: “{found}”"
    assert (said in folded(page)) is bool(found)
    assert ("do not say this yet" in folded(page)) is bool(found)
