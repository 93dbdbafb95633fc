"""The job ticket and the condition before and after, read back from their PDFs."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.base import ContentFile
from PIL import Image
from pypdf import PdfReader

from fleet.access import Role
from fleet.workshop.models import CheckPhotograph, PartUsed
from tests import make


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        guardian = make.guardian(school, name="Rosa Vale")
        pupil = make.pupil(school, guardian, name="Mia Vale")
        horn = make.horn(school, build="double-full", stands_in="Bb", serial_number="S 77", value=987)
        before = make.check(horn, technician, grade=3, at=make.NOW - timedelta(days=9), notes="Mia dropped it.")
        job = make.job(
            horn, technician, technician=technician, repairer="Marta's workshop", quote=120, notes="Mia knows."
        )
        browser = as_(technician)

        @classmethod
        def printed(cls, name: str) -> PdfReader:
            answer = cls.browser.get(f"/s/{cls.school.slug}/prints/jobs/{cls.job.pk}/{name}.pdf")
            assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
            return PdfReader(BytesIO(answer.content))

    make.finding(World.before, "string-broken", "r", job=World.job, note="third valve")
    make.report(World.horn, World.guardian.user, "Mia dropped it.", pupil=World.pupil, job=World.job)
    return World


def text(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def pictures(reader: PdfReader) -> int:
    return sum(len(page.images) for page in reader.pages)


def photograph(check, caption: str) -> CheckPhotograph:
    out = BytesIO()
    # No two alike: a picture that is there twice is kept in the file once.
    Image.new("RGB", (64, 48), (200, 150, CheckPhotograph.objects.count() * 20)).save(out, "JPEG")
    image = ContentFile(out.getvalue(), name="x.jpg")
    return CheckPhotograph.objects.create(check_made=check, image=image, width=64, height=48, caption=caption)


def test_the_ticket_says_what_the_horn_is_what_is_wrong_and_who_has_it(world):
    part = make.part(world.school, name="string")
    PartUsed.objects.create(job=world.job, part=part, count=2, cost_each=1, at=make.NOW, by=world.technician)

    said = text(world.printed("ticket"))

    for words in (
        world.horn.number,
        "full double horn in F and B♭, stands in B♭",
        "S 77",
        "Ann Reed",
        "Marta's workshop",
        "120.00 EUR",
        "string broken (third valve): stops a loan.",
        "Parts used: 2 × string",
        "Minutes and cost",
        "The school's own rules and a qualified repairer come first.",
    ):
        assert words in said


@pytest.mark.parametrize("name", ["ticket", "condition"])
def test_no_pupil_and_no_value_leaves_the_house_on_paper(world, name):
    said = text(world.printed(name))

    assert "Mia" not in said
    assert "Vale" not in said
    assert "987" not in said


def test_the_condition_stands_before_and_after_with_the_photographs_of_both(world):
    photograph(world.before, "the bent lever")
    world.job.state, world.job.closed_at = "done", make.NOW + timedelta(hours=1)
    world.job.save()
    after = make.check(world.horn, world.technician, at=make.NOW + timedelta(hours=2))
    photograph(after, "the new string")
    photograph(after, "the whole horn")

    reader = world.printed("condition")

    said = text(reader)
    for words in (
        "Before",
        "After",
        "Playing grade 3: repair before the next loan",
        "Playing grade 1: plays well",
        "string broken (third valve): repair before loan",
        "Nothing found.",
        "the bent lever",
        "the new string",
        "the whole horn",
    ):
        assert words in said
    assert pictures(reader) == 3


def test_a_repair_nobody_has_looked_at_yet_says_so(world):
    said = text(world.printed("condition"))

    assert "Not checked since the repair." in said


def test_a_photograph_whose_file_is_gone_does_not_stop_the_report(world):
    lost = photograph(world.before, "lost")
    lost.image.storage.delete(lost.image.name)

    assert "file is gone" in text(world.printed("condition"))


def test_many_faults_and_photographs_turn_the_page(world):
    for _ in range(7):
        photograph(world.before, "rim")

    reader = world.printed("condition")

    assert len(reader.pages) > 1
    assert text(reader).count("rim") == 7


@pytest.mark.parametrize(("name", "queries"), [("ticket", 6), ("condition", 7)])
@pytest.mark.parametrize("count", [1, 3])
def test_the_prints_take_the_same_queries_for_three_rows_as_for_one(
    world, name, queries, count, django_assert_num_queries
):
    for code in ("bell-torn", "slide-loose", "bell-dented")[:count]:
        make.finding(world.before, code, "r", job=world.job)
        photograph(world.before, code)
    world.printed(name)

    with django_assert_num_queries(queries):
        world.printed(name)
