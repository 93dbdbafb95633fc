"""The job ticket and the condition before and after, read back from their PDFs."""

from __future__ import annotations

import re
from datetime import timedelta
from io import BytesIO

import pytest
import zxingcpp
from django.core.files.base import ContentFile
from PIL import Image, ImageChops
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.register.models import Horn
from fleet.workshop.models import CheckPhotograph, PartUsed
from tests import make

pytestmark = pytest.mark.either_engine


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        guardian = make.guardian(school, name="Rosa Vale")
        pupil = make.pupil(school, guardian, name="Mia Vale")
        horn = make.horn(school, build="double-full", stands_in="Bb", serial_number="S 77", value="4815162.34")
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


def photograph(check, caption: str, content: bytes = b"") -> CheckPhotograph:
    # No two alike: a picture that is there twice is kept in the file once.
    content = content or jpeg((64, 48), (200, 150, CheckPhotograph.objects.count() * 20))
    image = ContentFile(content, name="x.jpg")
    return CheckPhotograph.objects.create(check_made=check, image=image, width=64, height=48, caption=caption)


def jpeg(size: tuple[int, int], colour: tuple[int, int, int], *, foot: tuple[int, int, int] | None = None) -> bytes:
    """A picture of one colour whose lower half may be of another."""
    out = BytesIO()
    picture = Image.new("RGB", size, colour)
    if foot:
        picture.paste(foot, (0, size[1] // 2, size[0], size[1]))
    picture.save(out, "JPEG", quality=95)
    return out.getvalue()


RED, BLUE, GREEN = (220, 30, 30), (30, 30, 220), (30, 160, 30)


def jpeg_standing() -> bytes:
    """800 × 1200, green above blue, as a camera stores it that was held upright: lying, with the turn noted (6)."""
    upright = Image.new("RGB", (800, 1200), GREEN)
    upright.paste(BLUE, (0, 600, 800, 1200))
    out, exif = BytesIO(), Image.Exif()
    exif[0x0112] = 6
    # Orientation 6: shown after a quarter turn to the right, so stored a quarter to the left.
    upright.transpose(Image.Transpose.ROTATE_90).save(out, "JPEG", quality=95, exif=exif)
    return out.getvalue()


def patch(page: Image.Image, colour: tuple[int, int, int]) -> tuple[int, int, int, int] | None:
    """The box (left, top, right, foot) in mm of what is of about that colour on a page of 100 dots an inch."""
    near = [
        band.point(lambda value, wanted=wanted: 255 * (abs(value - wanted) < 25))
        for band, wanted in zip(page.split(), colour, strict=True)
    ]
    box = ImageChops.multiply(ImageChops.multiply(near[0], near[1]), near[2]).getbbox()
    return box and tuple(round(side / 100 * 25.4) for side in box)


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
        "The school’s own rules and a qualified repairer come first.",
    ):
        assert words in said


@pytest.mark.parametrize("name", ["ticket", "condition"])
def test_no_pupil_and_no_value_leaves_the_house_on_paper(world, name):
    said = text(world.printed(name))

    assert "Mia" not in said
    assert "Vale" not in said
    # No number that a counter of test rows comes to.
    assert "4815162" not in re.sub(r"[,.\s]", "", said)


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


def finished(world):
    world.job.state, world.job.closed_at = "done", make.NOW + timedelta(hours=1)
    world.job.save()
    return make.check(world.horn, world.technician, at=make.NOW + timedelta(hours=2))


@pytest.mark.parametrize(("paper", "left"), [("a4", 10), ("letter", 13)])
def test_the_photographs_are_seen_on_the_paper_upright_in_their_shape_and_on_their_side(world, rastered, paper, left):
    photograph(world.before, "lying", jpeg((1200, 800), RED))
    photograph(finished(world), "standing", jpeg_standing())

    address = f"/s/{world.school.slug}/prints/jobs/{world.job.pk}/condition.pdf"
    [page] = rastered(world.browser.get(address, {"paper": paper}).content, 100)

    lying = patch(page.crop((0, 0, page.width // 2, page.height)), RED)
    assert lying[0] == pytest.approx(left, abs=1)
    assert lying[2] - lying[0] == pytest.approx(92, abs=1)
    assert (lying[2] - lying[0]) / (lying[3] - lying[1]) == pytest.approx(1.5, abs=0.05)
    right = page.crop((page.width // 2, 0, page.width, page.height))
    above, below = patch(right, GREEN), patch(right, BLUE)
    assert above[3] == pytest.approx(below[1], abs=1)
    assert below[3] - above[1] == pytest.approx(62, abs=1)
    assert above[2] - above[0] == pytest.approx(62 * 2 / 3, abs=1)


def test_five_photographs_are_all_seen_and_none_goes_over_to_a_page_of_its_own(world, rastered):
    colours = [RED, BLUE, GREEN, (200, 0, 200), (0, 180, 180)]
    after = finished(world)
    for number, colour in enumerate(colours):
        photograph(world.before if number < 2 else after, f"no. {number}", jpeg((900, 900), colour))

    address = f"/s/{world.school.slug}/prints/jobs/{world.job.pk}/condition.pdf"
    [page] = rastered(world.browser.get(address).content, 100)

    for colour in colours:
        box = patch(page, colour)
        assert box is not None
        assert box[2] - box[0] >= 40


def test_a_page_that_goes_on_with_photographs_says_again_which_are_before_and_after(world):
    for number in range(9):
        photograph(world.before, f"no. {number}")

    pages = [" ".join(page.extract_text().split()) for page in world.printed("condition").pages]

    assert len(pages) > 1
    for said in pages:
        assert "Before" in said
        assert "After" in said


@pytest.mark.parametrize("part", [0.5, 0.0])
def test_half_a_photograph_is_said_to_be_damaged_and_prints_no_grey_field(world, rastered, part):
    whole = jpeg((800, 600), RED, foot=BLUE)
    photograph(world.before, "half", whole[: int(len(whole) * part)] or b"no picture at all")
    photograph(world.before, "whole", jpeg((800, 600), GREEN))

    reader = world.printed("condition")
    [page] = rastered(
        world.browser.get(f"/s/{world.school.slug}/prints/jobs/{world.job.pk}/condition.pdf").content, 100
    )

    assert "gone or damaged" in text(reader)
    assert pictures(reader) == 1
    assert patch(page, RED) is None
    assert patch(page, GREEN) is not None


def test_a_large_photograph_is_brought_to_what_the_paper_shows(world):
    photograph(world.before, "large", jpeg((4000, 3000), RED))

    [picture] = world.printed("condition").pages[0].images

    assert max(picture.image.size) <= 92 / 25.4 * 220 + 1


def test_the_tickets_code_is_read_from_the_paper(world, rastered):
    address = f"/s/{world.school.slug}/prints/jobs/{world.job.pk}/ticket.pdf"
    [page] = rastered(world.browser.get(address).content, 150)

    found = [code.text for code in zxingcpp.read_barcodes(page)]

    assert found == [f"http://testserver/s/{world.school.slug}/jobs/{world.job.pk}/"]


def test_the_ticket_says_whom_to_ask_and_when_it_was_printed(world):
    world.school.contact = "the music office, 0123"
    world.school.save()

    said = text(world.printed("ticket"))

    assert "Questions: the music office, 0123" in said
    assert "Mended by, date" in said
    assert f"Job ticket, {world.horn.number}, " in said


def test_a_repair_nobody_has_looked_at_yet_says_so(world):
    said = text(world.printed("condition"))

    assert "Not checked since the repair." in said


def test_a_photograph_whose_file_is_gone_does_not_stop_the_report(world):
    lost = photograph(world.before, "lost")
    lost.image.storage.delete(lost.image.name)

    assert "file is gone or damaged" in text(world.printed("condition"))


def test_many_faults_and_photographs_turn_the_page(world):
    for _ in range(7):
        photograph(world.before, "rim")

    reader = world.printed("condition")

    assert len(reader.pages) > 1
    assert text(reader).count("rim") == 7


@pytest.mark.parametrize(("name", "queries"), [("ticket", 8), ("condition", 7)])
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


@pytest.mark.parametrize("query", ["", "?as=order"])
@pytest.mark.parametrize(("faults", "sheets"), [(1, 1), (14, 2)])
def test_ticket_and_order_show_the_horn_from_both_sides_to_mark_and_never_over_the_edge(world, query, faults, sheets):
    for number in range(1, faults):
        make.finding(world.before, f"old-fault-{'x' * number}", "w", job=world.job)
    answer = world.browser.get(f"/s/{world.school.slug}/prints/jobs/{world.job.pk}/ticket.pdf{query}")
    pages = PdfReader(BytesIO(answer.content)).pages

    last = pages[-1].extract_text()
    assert len(pages) == sheets
    assert all(words in last for words in ("Mark where it is, from the front:", "from the back:"))


def test_a_horn_that_nobody_identified_is_not_drawn(world):
    Horn.objects.update(build="", stands_in="")

    assert "Mark where it is" not in world.printed("ticket").pages[-1].extract_text()
