"""Receipts of horns that change hands and the insurance schedule, read back from their PDFs."""

from __future__ import annotations

import io
from datetime import timedelta
from decimal import Decimal

import pytest
from pypdf import PdfReader

from fleet.ground.wording import day
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.reports.paper import handover
from fleet.reports.sheet.page import Sheet
from fleet.reports.sheet.ruled import to_sign
from tests import make
from tests.reports.test_prints import pages, text

# The same rows give the same paper.
pytestmark = pytest.mark.either_engine
DAY = timedelta(days=1)


def test_a_receipt_lists_the_horns_without_values_or_pupils_and_has_room_for_two_signatures(school, head, get):
    for n in range(60):
        make.horn(school, number=f"HN-{n:02d}", value=Decimal("4321"))
    make.loan(make.horn(school, number="HN-99"), make.pupil(school, make.guardian(school), name="Ada"), head)
    content = get("handover", **{"from": "Ines Head", "to": "Otto Next"})
    said = text(content)
    assert pages(content) == 2
    for words in ("These 61 horns", "Ines Head", "Otto Next", "HN-59", "HN-99", "out on loan", "1 of 2", "2 of 2"):
        assert words in said
    for hidden in ("4321", "4,321", "Ada"):
        assert hidden not in said


def test_an_insurance_schedule_sums_to_the_cent_and_says_what_has_no_value(school, get):
    make.horn(school, value=Decimal("1234.56"), serial_number="S-1")
    make.horn(school, value=Decimal("0.45"), price=Decimal("800.00"))
    make.horn(school)
    said = text(get("insurance"))
    assert "3 horns, 2 with a value: 1,235.01 EUR in all. 1 without one on record" in said
    assert "*" not in said
    assert "S-1" in said
    assert "All EUR 1,235.01" in said
    assert "Confidential" in said


def test_an_insurance_schedule_falls_back_on_the_price_paid_and_marks_it(school, get):
    make.horn(school, value=Decimal("0.00"), price=Decimal("900.00"))
    make.horn(school, price=Decimal("480.50"))
    said = text(get("insurance"))
    assert "2 horns, 2 with a value: 480.50 EUR in all. 1 of them counts with the price paid, marked *." in said
    assert "480.50 *" in said
    assert "All EUR 480.50" in said
    make.horn(school, price=Decimal("1.00"))
    assert "2 of them count with the price paid, marked *." in text(get("insurance"))


def test_an_insurance_schedule_has_the_horns_that_are_not_found_apart(school, get):
    make.horn(school, number="HN-1", build="double-full", stands_in="F", not_found_on=make.TODAY)
    make.horn(school, number="HN-2")
    said = text(get("insurance"))
    assert "Not found, and not counted there: 1; they stand apart." in said
    assert "stands in F" in said.partition("Not found 1 horn")[2]
    assert f"not found since {day(make.TODAY)}" in said.partition("Not found 1 horn")[2]
    assert said.count("not found since") == 1


def test_an_insurance_schedule_says_how_a_horn_plays_where_it_is_and_what_goes_with_it(school, head, get):
    horn = make.horn(school, number="HN-1", value=Decimal("10"), place=make.place(school, room="Cellar", shelf="B 2"))
    lost = make.horn(school, number="HN-2", value=Decimal("7"), not_found_on=make.TODAY)
    pupil = make.pupil(school, make.guardian(school))
    before = make.loan(horn, pupil, head, issued_on=make.TODAY - 90 * DAY, returned_on=make.TODAY - 80 * DAY)
    before.accessories.create(name="old strap", came_back=True)
    ended = make.loan(horn, pupil, head, issued_on=make.TODAY - 40 * DAY, returned_on=make.TODAY - 9 * DAY)
    ended.accessories.all().delete()
    for name, came_back, settled in (("case", True, ""), ("mute", False, ""), ("oil", False, "replaced")):
        day_of = make.TODAY if settled else None
        ended.accessories.create(name=name, came_back=came_back, settled_as=settled, settled_on=day_of)
    make.loan(make.horn(school, number="HN-3"), pupil, head)
    make.check(horn, head, grade=2)
    make.keep([horn, lost])
    said = text(get("insurance"))
    assert "case, oil" in said
    assert "case, mouthpiece" in said, "of a horn that is out all that went along"
    assert "Cellar" in said
    assert Horn.objects.get(pk=horn.pk).get_grade_display() in said
    for gone in ("mute", "old strap"):
        assert gone not in said
    assert "All EUR 10.00" in said.partition("Not found 1 horn")[0]
    assert "All EUR 7.00" in said.partition("Not found 1 horn")[2]


@pytest.mark.parametrize(("not_found_on", "listed"), [(make.TODAY, True), (None, False)])
def test_what_was_lost_together_with_a_horn_goes_with_it_on_the_schedule_until_it_is_found(
    school, head, get, not_found_on, listed
):
    horn = make.horn(school, not_found_on=not_found_on)
    pupil = make.pupil(school, make.guardian(school))
    lost = make.loan(horn, pupil, head, issued_on=make.TODAY - 40 * DAY, returned_on=make.TODAY, lost_words="A bus.")
    lost.accessories.update(came_back=False)

    assert ("case, mouthpiece" in text(get("insurance"))) is listed


def test_a_receipt_leaves_out_what_is_not_found_and_says_so(school, get):
    make.horn(school, number="HN-1")
    make.horn(school, number="HN-2", not_found_on=make.TODAY)
    said = text(get("handover"))
    assert "1 horn changes hands." in said
    assert "Left out, since not found: HN-2." in said
    assert said.count("HN-2") == 1


@pytest.mark.parametrize("horns", range(29, 40))
def test_the_signatures_of_a_receipt_are_never_alone_on_a_page(horns):
    many = [Horn(number=f"HN-{n:02d}") for n in range(horns)]
    content = handover.receipt_drawn(many, names=("", ""), school=School(name="Hill"), today=make.TODAY, paper="a4")
    last = PdfReader(io.BytesIO(content)).pages[-1].extract_text()
    assert "Signature, date" in last
    assert f"HN-{horns - 1:02d}" in last


def test_a_count_that_leaves_no_room_to_sign_says_again_what_is_signed():
    out = io.BytesIO()
    page = Sheet(out, school="Hill", title="Count")
    to_sign(page, 229.1, ["counted by", "date"], what="To the count of today.")
    page.close()
    first, second = (one.extract_text() for one in PdfReader(io.BytesIO(out.getvalue())).pages)
    assert "To the count of today." in second
    assert "counted by" in second
    assert "counted by" not in first
    out = io.BytesIO()
    page = Sheet(out, school="Hill", title="Count")
    to_sign(page, 229.0, ["counted by", "date"], what="To the count of today.")
    page.close()
    assert pages(out.getvalue()) == 1
