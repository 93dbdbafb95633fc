"""The bench day: beside the jobs what waits, on the page and on one sheet; several schools' benches in one order."""

from __future__ import annotations

import re
from datetime import timedelta
from io import BytesIO

import pytest
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.people.models import Post
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


@pytest.fixture
def world(as_):
    class World:
        school = make.school(name="Alder Row")
        head = make.staff(Role.HEAD, school)
        technician = make.staff(Role.TECHNICIAN, school)
        browser = as_(technician)

        def fill(self, times=1):
            for _ in range(times):
                mended = make.horn(self.school, place=make.place(self.school))
                make.check(mended, self.head, grade=3, at=make.NOW - timedelta(days=5))
                make.job(mended, self.head, state="done", at=make.NOW - timedelta(days=1))
                late = {"state": "away", "repairer": "Bell and Sons", "sent_on": make.TODAY - timedelta(days=9)}
                make.job(make.horn(self.school), self.head, expected_on=make.TODAY - timedelta(days=1), **late)
                make.part(self.school, on_hand=0, minimum=2, supplier="Reed and Co")
                make.job(make.horn(self.school), self.head, minutes=15)

        def page(self, query=""):
            return folded(self.browser.get(f"/s/{self.school.slug}/bench/visit/{query}"))

        def paper(self, query=""):
            answer = self.browser.get(f"/s/{self.school.slug}/prints/bench-day.pdf{query}")
            pages = PdfReader(BytesIO(answer.content)).pages
            return len(pages), " ".join(" ".join(page.extract_text() for page in pages).split())

    return World()


def test_the_visit_says_what_waits_beside_the_jobs_with_no_minutes_typed_yet(world):
    world.fill()

    page = world.page()

    for title in ("Mended, to be checked", "Late at the repairer’s", "To order", "Care due, by place"):
        assert f"<h2>{title}</h2>" in page
    assert "Reed and Co · 0 left" in page
    assert f"/s/{world.school.slug}/prints/bench-day.pdf" in page


def test_an_empty_bench_has_no_empty_headings(world):
    assert "<h2>" not in world.page()
    assert "Nothing waits." in world.paper()[1]


def test_the_page_takes_as_many_queries_for_three_of_each_as_for_one(world, django_assert_num_queries):
    world.fill()
    world.page("?minutes=60")
    with django_assert_num_queries(23):
        world.page("?minutes=60")
    world.fill(2)
    with django_assert_num_queries(23):
        world.page("?minutes=60")


def test_a_full_day_is_one_page_of_paper_and_counts_what_it_leaves_out(world):
    world.fill(12)

    pages, said = world.paper("?minutes=90")

    assert pages == 1
    assert "90 of 90 minutes are planned" in said
    assert "Mended, to be checked: 3 of 12" in said


def test_paper_without_minutes_is_the_bench_from_its_top_and_names_no_pupil(world):
    horn = make.horn(world.school, holder_name="Mia Stone", on_bench=True)
    make.job(horn, world.head, state="bench", minutes=20)

    _, said = world.paper()

    assert "About 20 minutes on the bench list" in said
    assert horn.number in said
    assert "Mia" not in said


def test_the_benches_of_two_schools_are_one_list_in_one_order(world, as_):
    other = make.school(name="Birch Hill")
    Post.objects.create(user=world.technician, school=other, role=Role.TECHNICIAN)
    theirs = make.school(name="Cedar Lane")
    Post.objects.create(user=world.technician, school=theirs, role=Role.TEACHER)
    strange = make.school(name="Dogwood")
    first = make.job(make.horn(other), make.staff(Role.HEAD, other), minutes=5)
    second = make.job(make.horn(world.school), world.head, minutes=25)
    for school in (theirs, strange):
        make.job(make.horn(school), make.staff(Role.HEAD, school), minutes=1)

    answer = world.browser.get("/benches/")

    assert [stop.school.name for stop in answer.context["stops"]] == ["Birch Hill", "Alder Row"]
    assert [turn.job_id for turn, _ in answer.context["turns"]] == [first.pk, second.pk]
    assert f"/s/{other.slug}/jobs/{first.pk}/" in answer.content.decode()
    assert "/benches/" in world.browser.get("/").content.decode()


def test_whoever_is_no_technician_has_no_benches(world, as_):
    answer = as_(world.head).get("/benches/")

    assert answer.context["stops"] == []
    assert "/benches/" not in as_(world.technician).get(f"/s/{world.school.slug}/").content.decode()


def test_a_horn_that_a_family_brings_is_taken_in_by_one_press_on_the_bench_list(world):
    pupil = make.pupil(world.school, make.guardian(world.school))
    lent = make.horn(world.school)
    make.loan(lent, pupil, world.head)
    job = make.job(lent, world.head)
    bench, own = f"/s/{world.school.slug}/bench/", f"/s/{world.school.slug}/jobs/{job.pk}/"
    page = folded(world.browser.get(bench))
    pressed = re.search(
        rf'formaction="{own}" name="do" value="([a-z]+-\d+)" aria-label="It is here: start: {lent.number}"', page
    )

    assert pressed
    assert world.browser.post(own, {"do": pressed[1]}).status_code == 302
    lent.refresh_from_db()
    assert lent.whereabouts.code == "repair"
