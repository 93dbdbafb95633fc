"""What a walk of checks found or a family reports, where a repair job is open already."""

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


@pytest.mark.parametrize(
    ("state", "button"), [("bench", "Add it to the open repair job"), ("done", "Put it on the bench list")]
)
def test_a_report_on_a_horn_that_is_on_the_bench_list_is_not_put_there_again(as_, state, button):
    school = make.school()
    teacher, horn = make.staff(Role.TEACHER, school), make.horn(school)
    make.job(horn, teacher, state=state)
    report = make.report(horn, teacher)

    page = folded(as_(teacher).get(reverse("workshop:report", args=[school.slug, report.pk])))

    assert [one for one in ("Add it to the open repair job", "Put it on the bench list") if one in page] == [button]
