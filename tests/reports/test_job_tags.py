"""Tags that hang on the handles of the horns on the bench, read back from their PDF."""

from __future__ import annotations

import pytest
import zxingcpp

from fleet.ground.access import Role
from tests import make
from tests.pages import on_paper

pytestmark = pytest.mark.django_db


@pytest.fixture
def world(as_):
    class World:
        school = make.school(name="Alder Row")
        technician = make.staff(Role.TECHNICIAN, school)
        browser = as_(technician)

        def job(self, **fields):
            horn = {name: fields.pop(name) for name in ("holder_name", "on_bench") if name in fields}
            return make.job(make.horn(self.school, **horn), self.technician, **fields)

        def tags(self, query=""):
            return self.browser.get(f"/s/{self.school.slug}/prints/bench-tags.pdf{query}").content

    return World()


def said(content):
    return on_paper(content)


def test_a_tag_leads_to_its_job_says_what_is_to_be_done_and_names_no_pupil(world, rastered):
    job = world.job(work_ordered="New string, third valve", holder_name="Mia Stone", on_bench=True, state="bench")

    content = world.tags(f"?job={job.pk}")

    [page] = rastered(content, 150)
    assert [code.text for code in zxingcpp.read_barcodes(page)] == [
        f"http://testserver/s/{world.school.slug}/jobs/{job.pk}/"
    ]
    [words] = said(content)
    assert job.horn.number in words
    assert "New string, third valve" in words
    assert "Mia" not in words


def test_six_tags_fill_a_page_and_the_seventh_is_on_the_next(world):
    for _ in range(6):
        world.job()
    assert len(said(world.tags())) == 1

    world.job()

    assert len(said(world.tags())) == 2


def test_a_horn_that_is_not_here_has_a_tag_when_it_is_asked_for_alone(world):
    away = world.job(state="away", repairer="Bell and Sons", sent_on=make.TODAY)

    assert "Nothing is on the bench list." in said(world.tags())[0]
    assert away.horn.number in said(world.tags(f"?job={away.pk}"))[0]


def test_nobody_prints_the_tag_of_another_schools_job(world):
    other = make.school()
    theirs = make.job(make.horn(other), make.staff(Role.HEAD, other))

    assert "Nothing is on the bench list." in said(world.tags(f"?job={theirs.pk}"))[0]
