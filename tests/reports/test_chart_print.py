from __future__ import annotations

import io
from collections.abc import Callable

import pypdf
import pytest

from fleet.ground.access import Role
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.reports.paper.chart import chart_drawn
from fleet.reports.queries.family_chart import chart_for_family
from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.words import build_named, stand_named
from identify.core.horns.catalogue import catalogue
from tests import make

SIZES = {"a4": (595, 842), "letter": (612, 792)}  # ISO 216; US Letter 215.9 × 279.4 mm


def chart_of(code: str, stand: str = "") -> Chart:
    build = build_named(code)
    return chart(build, stand_named(build, stand))


def pages(content: bytes) -> list[pypdf.PageObject]:
    return list(pypdf.PdfReader(io.BytesIO(content)).pages)


@pytest.mark.parametrize(
    ("code", "stand", "named"), [("wagner-tenor-bb", "", True), ("double-full", "F", False), ("single-f", "", False)]
)
def test_a_family_is_told_of_the_little_finger_where_it_presses_a_valve(code: str, stand: str, named: bool) -> None:
    told = chart_for_family(Horn(school=School(), build=code), chart_of(code, stand), "five")
    assert ("4 is the little finger." in told.fingers) is named


@pytest.mark.parametrize("paper", sorted(SIZES))
def test_every_build_s_full_chart_is_one_page(paper: str) -> None:
    for form in catalogue().every_form():
        for stand in form.stands[:2]:
            content = chart_drawn(chart(form, stand), "all", number="HN-1", school="Alder", paper=paper)
            [page] = pages(content)
            assert (round(page.mediabox.width), round(page.mediabox.height)) == SIZES[paper]


def test_the_print_carries_every_fingering_and_what_to_know() -> None:
    [page] = pages(chart_drawn(chart_of("double-full", "F"), "all", number="HN-1", school="Alder", paper="a4"))
    said = page.extract_text()
    assert {"T23", "T12", "T1", "T2", "T0", "123*"} <= set(said.split())
    assert "Fingering chart, HN-1" in said
    assert "thumb presses the change lever" in said
    assert "12-foot F" in said


def test_no_note_stands_outside_what_prints_on_both_papers(rendered: Callable[[bytes], bytes]) -> None:
    from PIL import Image

    for code, stand in (("triple-compensating", "Bb"), ("wagner-tenor-bb", "")):
        content = chart_drawn(chart_of(code, stand), "all", number="HN-1", school="Alder", paper="letter")
        sheet = Image.open(io.BytesIO(rendered(content))).convert("L").point(lambda ink: 255 - ink)
        left, top, right, bottom = sheet.getbbox() or (0, 0, 0, 0)
        millimetre = 150 / 25.4
        assert left >= 12 * millimetre
        assert right <= (215.9 - 12) * millimetre
        assert top >= 9 * millimetre
        assert bottom <= (279.4 - 9) * millimetre


@pytest.mark.django_db
@pytest.mark.parametrize("notes", ["five", "all"])
def test_a_chart_takes_as_many_queries_for_all_notes_as_for_five(as_, notes: str, django_assert_num_queries) -> None:
    school = make.school()
    horn = make.horn(school, build="double-full", stands_in="F")
    client = as_(make.staff(Role.TEACHER, school))

    with django_assert_num_queries(4):  # session, account, seat, horn
        client.get(f"/s/{school.slug}/prints/horns/{horn.pk}/chart.pdf", {"notes": notes})


@pytest.mark.django_db
def test_the_print_for_beginners_never_presses_the_thumb(as_) -> None:
    school = make.school()
    horn = make.horn(school, build="double-full", stands_in="F")
    client = as_(make.staff(Role.TEACHER, school))

    answer = client.get(f"/s/{school.slug}/prints/horns/{horn.pk}/chart.pdf?notes=octave&thumb=never")

    [page] = pages(answer.content)
    said = page.extract_text()
    assert "thumb never pressed" in said
    assert {"12", "2", "0"} <= set(said.split())
    assert not {"T12", "T2", "T0"} & set(said.split())


@pytest.mark.django_db
def test_staff_print_the_chart_of_a_horn_of_their_school(as_) -> None:
    school = make.school("alder", paper="letter")
    teacher = make.staff(Role.TEACHER, school)
    horn = make.horn(school, number="HN-1", build="double-full", stands_in="F")
    other = make.horn(make.school("birch"))

    client = as_(teacher)
    answer = client.get(f"/s/alder/prints/horns/{horn.pk}/chart.pdf?notes=five")

    assert answer["Content-Type"] == "application/pdf"
    [page] = pages(answer.content)
    assert round(page.mediabox.width) == SIZES["letter"][0]
    assert "First five notes" in page.extract_text()
    assert client.get(f"/s/alder/prints/horns/{other.pk}/chart.pdf").status_code == 404
    assert client.get(f"/s/alder/prints/horns/{make.horn(school, build='').pk}/chart.pdf").status_code == 404
