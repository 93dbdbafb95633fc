"""Every print of a small school, as it was when somebody last looked at it: what moves is seen to move.

HORN_STANDING=keep writes anew what is kept, to be read in the difference and looked at on paper.
"""

from __future__ import annotations

import io
import os
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.urls import reverse
from PIL import Image

from fleet.counting.actions import counts
from fleet.ground.access import Role
from fleet.register.models import Disposal
from fleet.workshop.models import CheckPhotograph
from tests import make
from tests.reports.standing import standing

KEPT = Path(__file__).with_suffix(".txt")
DAY = timedelta(days=1)
# How rows are set on paper; that they are found on both engines is held by the other tests of prints.
pytestmark = pytest.mark.either_engine


def photograph(across: int, down: int) -> ContentFile:
    file = io.BytesIO()
    Image.new("L", (across, down), 128).save(file, "JPEG")
    return ContentFile(file.getvalue(), "seen.jpg")


@pytest.fixture
def prints(db, as_, monkeypatch):
    """(name, content) of each print."""
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    school = make.school(name="Hill Road School", contact="the music office", slug="hill-road")
    head = make.staff(Role.HEAD, school, name="Ada Head")
    technician = make.staff(Role.TECHNICIAN, school, name="Ben Bench")
    place = make.place(school, room="Cellar", shelf="A 1")
    guardian = make.guardian(school, name="Cleo Elder", with_account=False, email="", telephone="0123")
    horns = [
        make.horn(
            school,
            number=f"HN-{n}",
            label_code=f"HRNCPB2{n}",
            build=build,
            stands_in=stands_in,
            maker="Alder",
            model="Two",
            serial_number=f"S-{n}",
            place=place,
            value=1000 + n,
        )
        for n, (build, stands_in) in enumerate([("double-full", "F"), ("single-f", "F"), ("", ""), ("", "")], 1)
    ]
    for n, horn in enumerate(horns[:2]):
        pupil = make.pupil(school, guardian, name=f"Dora {n}", group="7B")
        said = {"issued_on": make.TODAY - 90 * DAY, "due_on": make.TODAY + (60 if n else -5) * DAY}
        make.loan(horn, pupil, head, sheet_code=f"HRNCPB3{n + 2}", **said)
    before = make.check(horns[2], technician, grade=3)
    job = make.job(horns[2], head, technician=technician, quote=120)
    make.finding(before, "bell-dented", job=job, note="Where it lay.")
    for across, down in ((300, 200), (200, 300)):
        seen = {"image": photograph(across, down), "width": across, "height": down, "caption": "The bell."}
        CheckPhotograph.objects.create(check_made=before, **seen)
    count = counts.begin(school=school, places=[], by=head, at=make.NOW)
    given_up = Disposal.objects.create(
        horn=horns[3],
        method="sold",
        on=make.TODAY,
        reason="It is worn out.",
        proposed_by=make.staff(Role.TEACHER, school, name="Eve Teacher"),
        proposed_at=make.NOW,
    )
    browser, found = as_(head), []
    for name, key, query in (
        ("job-ticket", job.pk, {}),
        ("condition-report", job.pk, {}),
        ("chart", horns[0].pk, {}),
        ("care-card", horns[0].pk, {}),
        ("count-sheet", count.pk, {}),
        ("count-report", count.pk, {}),
        ("disposal-record", given_up.pk, {}),
        ("checks-poster", None, {}),
        ("build-cards", None, {"build": "double-full"}),
        ("repair-list", None, {"by": "place"}),
        ("order-list", None, {}),
        ("bench-day", None, {"minutes": "90"}),
        ("job-tags", None, {}),
        ("class-list", None, {"group": "7B"}),
        ("handover", None, {"from": "Ada", "to": "Ben"}),
        ("labels", None, {"cut": "1"}),
        ("loan-sheets", None, {}),
        ("overdue-list", None, {}),
        ("overdue-letters", None, {}),
        ("insurance", None, {}),
        ("yearly-report", None, {}),
    ):
        address = reverse(f"reports:{name}", args=[school.slug, *([key] if key else [])])
        answer = browser.get(address, query)
        assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf"), name
        found.append((name, answer.content))
    return found


def test_every_print_stands_on_the_paper_as_it_did(prints):
    told = "\n".join(line for name, content in prints for line in (name, *standing(content), ""))
    if os.environ.get("HORN_STANDING") == "keep":
        KEPT.write_text(told, encoding="utf-8")

    assert told.splitlines() == KEPT.read_text(encoding="utf-8").splitlines()
