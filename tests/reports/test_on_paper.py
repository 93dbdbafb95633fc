"""Every print of a school whose names are long and of many scripts, as it lies on the paper."""

from __future__ import annotations

import io
import re
from datetime import date, timedelta

import pytest
from django.urls import reverse
from PIL import ImageChops
from pypdf import PdfReader

from fleet.counting.actions import counts
from fleet.ground.access import Role
from fleet.register.models import Disposal
from fleet.reports.sheet.page import HEIGHT, WIDTH
from tests import make
from tests.pages import on_paper

# No real people.
NAMES = (
    "Maximiliana-Theodora Featherstonehaugh-Cholmondeley von und zu Hohenlohe-Langenburg",
    "小明",
    "שרה כהן-לוי",
    "عبد الرحمن الأنصاري",
    "Ольга Рождественская",
    "Nguyễn Thị Ánh",
    "Ada",
)
LONG = "as long as words can be that somebody types in a hurry " * 5
BUILDS = (("double-compensating", "F"), ("piston-single-f", "F"), ("", ""))
# How rows are set on paper; that they are found on both engines is held by the other tests of prints.
pytestmark = pytest.mark.either_engine


@pytest.fixture
def prints(db, as_, monkeypatch):
    """{name: how to fetch it} of every print that a head may ask for, on the paper given."""
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    school = make.school(
        name="Hill Road School of Music, Drama and Dance of the Two Valleys", contact="the music office, " + "x" * 60
    )
    head = make.staff(Role.HEAD, school, name=NAMES[0])
    place = make.place(school, room="The old music house beyond the organ loft", shelf="behind the timpani")
    horns = []
    for n in range(70):
        build, stands_in = BUILDS[n % 3]
        horn = make.horn(
            school,
            number=f"HORN-OF-1987/{n:05d}-A" if n % 5 == 0 else f"H-{n}",
            build=build,
            stands_in=stands_in,
            maker="Workshops for Instruments of Brass Alder, Daughters and Nieces",
            model="Anniversary",
            serial_number="S-" + "9" * (n % 30),
            place=place,
            value=1234 + n,
        )
        horns.append(horn)
        if n < 40 and build:
            contact = {"email": "", "telephone": "0123 456789"} if n % 2 else {}
            guardian = make.guardian(school, name=f"{NAMES[n % 7]} senior", with_account=False, **contact)
            pupil = make.pupil(school, guardian, name=f"{NAMES[n % 7]} {n}", group="7B")
            due = make.TODAY + timedelta(days=-5 if n % 4 else 90)
            make.loan(horn, pupil, head, issued_on=date(2026, 1, 9), due_on=due)
    jobs = []
    for horn in horns[45:55]:
        job = make.job(horn, head, technician=head, repairer="A workshop of a long name " * 4, quote=120)
        for fault in ("string-broken", "bell-dented", "slide-loose"):
            make.finding(horn.checks.first() or make.check(horn, head, grade=3), fault, job=job, note=LONG)
        jobs.append(job)
    count = counts.begin(school=school, places=[], by=head, at=make.NOW)
    disposal = Disposal.objects.create(
        horn=horns[60],
        method="sold",
        on=make.TODAY,
        reason=LONG,
        proposed_by=make.staff(Role.TEACHER, school, name=NAMES[0]),
        proposed_at=make.NOW,
    )
    browser = as_(head)
    keys = {
        "job-ticket": jobs[0].pk,
        "condition-report": jobs[0].pk,
        "care-card": horns[0].pk,
        "count-sheet": count.pk,
        "count-report": count.pk,
        "disposal-record": disposal.pk,
    }
    queries = {
        "repair-list": {"by": "place"},
        "class-list": {"group": "7B"},
        "handover": {"from": NAMES[0], "to": NAMES[2]},
        "labels": {"cut": "1"},
    }
    names = (
        *keys,
        *queries,
        *("loan-sheets", "overdue-list", "overdue-letters", "insurance", "yearly-report", "order-list"),
        "bench-day",
        "job-tags",
    )

    def fetch(name: str, paper: str = "a4") -> bytes:
        address = reverse(f"reports:{name}", args=[school.slug, *([keys[name]] if name in keys else [])])
        answer = browser.get(address, {**queries.get(name, {}), "paper": paper})
        assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf"), name
        return answer.content

    return {name: lambda paper="a4", name=name: fetch(name, paper) for name in names}


def test_nothing_lies_outside_what_both_papers_hold_and_nothing_needs_colour(prints, rastered):
    dots = 50
    for name, fetch in prints.items():
        if name == "labels":
            continue
        for paper, (across, down) in {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}.items():
            for number, picture in enumerate(rastered(fetch(paper), dots), 1):
                red, green, blue = picture.split()
                assert not ImageChops.difference(red, green).getbbox(), (name, "is coloured")
                assert not ImageChops.difference(red, blue).getbbox(), (name, "is coloured")
                if name == "overdue-letters":  # Its marks to fold at lie in the margin.
                    picture.paste((255, 255, 255), (0, 0, round(9.6 / 25.4 * dots), picture.height))
                box = ImageChops.invert(picture.convert("L")).point(lambda ink: 255 * (ink > 40)).getbbox()
                assert box is not None
                left, top, right, foot = (side / dots * 25.4 for side in box)
                where = (name, paper, number, box)
                assert left >= (across - WIDTH) / 2 - 1, where
                assert top >= (down - HEIGHT) / 2 - 1, where
                assert right <= (across + WIDTH) / 2 + 1, where
                assert foot <= (down + HEIGHT) / 2 + 1, where


def test_every_print_gives_the_same_bytes_twice_and_tells_its_title_its_language_its_school_and_its_pages(prints):
    for name, fetch in prints.items():
        content = fetch()
        assert content == fetch(), name
        reader = PdfReader(io.BytesIO(content))
        catalogue = reader.root_object
        assert catalogue["/Lang"] == "en-GB", name
        assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"], name
        assert reader.metadata.title.endswith("Hill Road School of Music, Drama and Dance of the Two Valleys"), name
        assert len(reader.metadata.title.split(" · ")[0]) > 5, name
        if name == "labels":
            continue
        pages = [" ".join(page.extract_text().split()) for page in reader.pages]
        for number, said in enumerate(pages, 1):
            assert "Hill Road School of Music" in said, (name, number)
            # Letters and sheets go to families: each is numbered for itself.
            own = name in {"loan-sheets", "overdue-letters"}
            wanted = r"\b1 of 1\b" if own else rf"\b{number} of {len(pages)}\b"
            assert re.search(wanted, said), (name, number)


def test_a_long_list_has_its_heading_on_every_page_and_loses_no_row(prints):
    for name, heading in (("handover", "Serial number"), ("insurance", "Maker, model"), ("class-list", "Back by")):
        pages = on_paper(prints[name]())
        assert len(pages) > 1, name
        for said in pages:
            assert heading in said, name
    said = " ".join(on_paper(prints["handover"]()))
    for n in range(70):
        # A number too long for its column is broken after a hyphen.
        assert re.search(rf"\b{n:05d}-A\b" if n % 5 == 0 else rf"\bH-{n}\b", said), n


def test_labels_ask_to_be_printed_as_large_as_they_are(prints):
    viewing = PdfReader(io.BytesIO(prints["labels"]())).root_object["/ViewerPreferences"]
    assert viewing["/PrintScaling"] == "/None"


def test_a_batch_has_contents_that_lead_to_each_sheet(prints):
    for name, count in (("loan-sheets", 27), ("overdue-letters", 10)):
        reader = PdfReader(io.BytesIO(prints[name]()))
        entries = [entry for entry in reader.outline if not isinstance(entry, list)]
        assert len(entries) == len(reader.pages), name
        assert [reader.get_destination_page_number(entry) for entry in entries] == list(range(len(entries))), name
        assert len(entries) >= count, name
