"""Prints that staff make: in the language of who reads them."""

from __future__ import annotations

import pytest

from fleet.ground.access import Role
from tests import make
from tests.reports.test_prints_in_languages import reader, said

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


@pytest.fixture
def school():
    return make.school(name="Alder Row", language="de", staff_languages=["de"], contact="Büro 0123")


def test_a_print_for_staff_is_in_the_language_of_who_prints_it(as_, school):
    head = make.staff(Role.HEAD, school, language="de")
    make.part(school, name="Schnur", on_hand=0, minimum=1, cost="1234.50")
    job = make.job(make.horn(school), head, state="bench")
    ours = f"/s/{school.slug}/prints"

    found = {}
    for name in ("repair-list.pdf?by=place", "order-list.pdf", f"jobs/{job.pk}/ticket.pdf", "yearly-report.pdf"):
        pdf = reader(as_(head).get(f"{ours}/{name}"))
        assert pdf.trailer["/Root"]["/Lang"] == "de", name
        found[pdf.metadata["/Title"].split(",")[0]] = said(pdf)

    assert [*found] == ["Reparaturliste", "Zu bestellende Teile", "Auftragszettel", "Jahresbericht"]
    # A heading made of words within a sentence keeps its capitals.
    assert "In der Werkstatt" in found["Reparaturliste"]
    assert "1.234,50 EUR" in found["Zu bestellende Teile"]


def test_what_goes_out_of_the_house_is_in_the_language_of_the_school_whoever_prints_it(as_, school):
    head = make.staff(Role.HEAD, school, language="en-gb")
    job = make.job(make.horn(school), head, state="away", repairer="Werkstatt Erle", work_ordered="Ada spielt es.")
    make.loan(job.horn, make.pupil(school, name="Ada Linde"), head, returned_on=make.TODAY)
    ours = f"/s/{school.slug}/prints"

    order = reader(as_(head).get(f"{ours}/jobs/{job.pk}/ticket.pdf?as=order"))
    ticket = reader(as_(head).get(f"{ours}/jobs/{job.pk}/ticket.pdf"))
    label = reader(as_(head).get(f"{ours}/labels.pdf?found=1"))

    assert order.trailer["/Root"]["/Lang"] == "de"
    assert "Bestellte Arbeit das Kind spielt es." in said(order)
    assert ticket.trailer["/Root"]["/Lang"] == "en-GB"
    assert "Work ordered Ada spielt es." in said(ticket)
    assert "Gefunden? Bitte melden: Alder Row, Büro 0123" in said(label)
