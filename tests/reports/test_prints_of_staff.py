"""What staff print: in the language of whoever prints it, and what leaves the house in the school's."""

from __future__ import annotations

import io
from datetime import date

import pytest
from pypdf import PdfReader

from fleet.ground.access import Role
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


@pytest.fixture
def german():
    """A school with German for its families and staff, and its head."""
    school = make.school(name="Alder Row", language="de", staff_languages=["de"], contact="Büro 0123")
    return school, make.staff(Role.HEAD, school, name="Tom Bell", language="de")


def reader(answer):
    assert answer.headers["Content-Type"] == "application/pdf"
    return PdfReader(io.BytesIO(answer.content))


def said(pdf):
    return " ".join(" ".join(page.extract_text() for page in pdf.pages).split())


def test_a_print_for_staff_is_in_the_language_of_who_prints_it(as_, german):
    school, head = german
    horn = make.horn(school, build="single-f", stands_in="F", value="1234.50", acquired_on=date(2019, 9, 3))
    make.loan(horn, make.pupil(school), head, accessories=("case", "mouthpiece"))
    make.part(school, name="Schnur", on_hand=0, minimum=1, cost="1234.50")
    job = make.job(make.horn(school), head, state="bench")
    ours = f"/s/{school.slug}/prints"

    found = {}
    names = ("repair-list.pdf?by=place", "order-list.pdf", f"jobs/{job.pk}/ticket.pdf", "yearly-report.pdf")
    for name in (*names, "handover.pdf", "insurance.pdf", f"jobs/{job.pk}/condition.pdf", "checks.pdf"):
        pdf = reader(as_(head).get(f"{ours}/{name}"))
        assert pdf.trailer["/Root"]["/Lang"] == "de", name
        found[pdf.metadata["/Title"].split(",")[0]] = said(pdf)

    titles = ["Reparaturliste", "Zu bestellende Teile", "Auftragszettel", "Jahresbericht", "Übergabeschein"]
    assert [*found][:6] == [*titles, "Versicherungsliste"]
    # A heading made of words within a sentence keeps its capitals.
    assert "In der Werkstatt" in found["Reparaturliste"]
    assert "1.234,50 EUR" in found["Zu bestellende Teile"]
    assert "Einfachhorn in F; Koffer, Mundstück" in found["Versicherungsliste"]
    assert "03.09.2019" in found["Versicherungsliste"]


def test_what_goes_out_of_the_house_is_in_the_language_of_the_school_whoever_prints_it(as_, german):
    school, head = german
    type(head).objects.filter(pk=head.pk).update(language="en-gb")
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
