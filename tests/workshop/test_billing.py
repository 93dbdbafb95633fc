"""An order goes to the repairer by e-mail and names no family; what it costs comes back as invoices beside the job."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.mail.actions.posting import post
from fleet.mail.models import Outgoing
from fleet.reports.queries.order import without_names
from fleet.workshop.models import CheckPhotograph, RepairJob
from tests import make
from tests.letters.conftest import mail, postbox
from tests.pages import folded
from tests.reports.test_job_prints import jpeg, text

__all__ = ["mail", "postbox"]
LATER = make.NOW + timedelta(hours=1)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school(contact="office@school.example")
        technician = make.staff(Role.TECHNICIAN, school)
        head = make.staff(Role.HEAD, school)
        horn = make.horn(school, build="double-full", stands_in="F", serial_number="S 77")
        loan = make.loan(
            horn,
            make.pupil(school, make.guardian(school, name="Rosa Vale"), name="Mia Bell"),
            head,
            returned_on=make.TODAY,
        )
        job = make.job(horn, technician, repairer="Hill Workshop", work_ordered="Mia says the Bell rattles")
        browser = as_(technician)

        @classmethod
        def at(cls, path: str = "") -> str:
            return f"/s/{cls.school.slug}/jobs/{cls.job.pk}/{path}"

    seen = make.check(World.horn, World.technician, grade=3)
    make.finding(seen, "string-broken", job=World.job, note="since Mia Bell had it")
    CheckPhotograph.objects.create(
        check_made=seen,
        image=ContentFile(jpeg((64, 48), (200, 150, 9)), name="x.jpg"),
        width=64,
        height=48,
        caption="Mia",
    )
    return World


def order_address(world) -> str:
    return f"/s/{world.school.slug}/prints/jobs/{world.job.pk}/order/"


def test_an_order_arrives_as_pdf_with_findings_and_photographs_and_no_name_of_a_pupil(
    world, postbox, django_capture_on_commit_callbacks
):
    seen = world.job.steps.last()
    said = {"address": "hill@repairs.example", "words": "Mia plays on Friday.", "seen": seen.pk if seen else 0}
    answer = world.browser.post(order_address(world), said, follow=True)
    assert "The order goes to hill@repairs.example." in folded(answer)
    assert post(at=Outgoing.objects.get().queued_at).sent == 1

    (letter,) = postbox.arrived
    (paper,) = letter.iter_attachments()
    order = PdfReader(BytesIO(paper.get_content()))
    words = letter.get_body().get_content() + text(order)
    assert letter["Reply-To"] == "office@school.example"
    assert (letter["To"], paper.get_filename()) == ("hill@repairs.example", f"order-{world.horn}.pdf")
    assert "Mia" not in words
    assert "the pupil says the Bell rattles" in words
    assert "(since the pupil had it)" in words
    assert "S 77" in words
    assert "office@school.example" in words
    assert sum(len(page.images) for page in order.pages) == 1
    assert world.job.steps.last().words == "order sent to Hill Workshop, hill@repairs.example"
    assert not Outgoing.objects.exists()

    another = make.job(make.horn(world.school), world.technician, repairer="hill workshop")
    page = world.browser.get(f"/s/{world.school.slug}/prints/jobs/{another.pk}/order/")
    assert 'value="hill@repairs.example"' in folded(page)


def test_a_school_speaks_its_own_language_to_a_repairer_and_the_record_english(world, mail):
    type(world.school).objects.filter(pk=world.school.pk).update(language="de", staff_languages=["de"])
    type(world.technician).objects.filter(pk=world.technician.pk).update(language="en-gb")
    seen = world.job.steps.last()
    said = {"address": "hill@repairs.example", "words": "Bis Freitag?", "seen": seen.pk if seen else 0}

    answer = world.browser.post(order_address(world), said, follow=True)

    gone = Outgoing.objects.get()
    order = PdfReader(BytesIO(gone.paper))
    assert gone.subject == f"Reparaturauftrag {world.horn}, {world.school.name}"
    assert gone.words.startswith(f"Bis Freitag?\n\nHorn {world.horn}, voll ausgebautes Doppelhorn in F und B")
    assert "das Kind says the Bell rattles" in gone.words
    assert (order.root_object["/Lang"], order.metadata.title[:16]) == ("de", "Reparaturauftrag")
    assert "The order goes to hill@repairs.example." in folded(answer)
    assert world.job.steps.last().words == "order sent to Hill Workshop, hill@repairs.example"


def test_what_did_not_go_keeps_no_paper(world, mail):
    Outgoing.objects.create(
        name="a",
        address="x",
        paper=b"%PDF-",
        paper_name="x.pdf",
        queued_at=make.NOW,
        next_at=LATER,
        good_until=make.NOW,
    )
    post(at=LATER)
    assert Outgoing.objects.values_list("paper", "paper_name", "address").get() == (None, "", "")


@pytest.mark.parametrize(
    ("changed", "said", "sentence", "status"),
    [
        ({}, {"address": "nobody"}, "Write one address", 422),
        ({}, {"seen": 7_000_000}, "What you typed is still in the form.", 409),
        ({"repairer": ""}, {}, "Nobody has said which repairer", 409),
        ({"state": "done", "closed_at": LATER}, {}, "This job was closed", 409),
    ],
)
def test_an_order_that_cannot_go_keeps_what_was_typed(world, mail, changed, said, sentence, status):
    world.browser.post(world.at("quote/"), {"repairer": "Mill", "amount": "9"})
    RepairJob.objects.filter(pk=world.job.pk).update(**changed)
    sent = {"address": "hill@repairs.example", "words": "kept words", "seen": world.job.steps.last().pk} | said

    answer = world.browser.post(order_address(world), sent)

    assert (answer.status_code, sentence in folded(answer)) == (status, True)
    assert "kept words" in folded(answer) or changed.get("repairer") == ""
    assert "Its repair job</a>, </p>" not in folded(answer)
    assert not Outgoing.objects.exists()


def test_a_site_without_a_mail_server_says_so(world):
    assert "This site has no mail server." in folded(world.browser.get(order_address(world)))


@pytest.mark.parametrize(
    ("words", "left"),
    [
        ("Mia Bell, Mia and Bell's Bell", "the pupil, the pupil and Bell's Bell"),
        ("Rosa Vale rang", "the family rang"),
        ("Miami and mia stay", "Miami and mia stay"),
    ],
)
def test_names_of_a_family_go_and_words_of_the_trade_stay(words, left):
    assert without_names(["Mia Bell"], ["Rosa Vale"])(words) == left


def keep(world, **said):
    return world.browser.post(world.at("invoice/"), {"number": "R-7", "amount": "90.50"} | said, follow=True)


def test_an_invoice_is_kept_beside_its_job_with_its_file_and_the_cost_follows_it(world, as_):
    paper = SimpleUploadedFile("i.pdf", make.pdf())
    RepairJob.objects.update(state="done", closed_at=LATER)
    page = folded(keep(world, file=paper))
    kept = world.job.invoices.get()
    assert f"The invoice R-7 over 90.50 {world.school.currency} is kept with the job." in page.replace(
        "\N{NO-BREAK SPACE}", " "
    )

    assert keep(world, number="R-8", amount="9.50").status_code == 200
    assert RepairJob.objects.get().cost == Decimal("100.00")
    answer = as_(world.head).get(f"/s/{world.school.slug}/jobs/invoices/{kept.pk}/")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert "Invoice R-7" in folded(as_(world.head).get(world.at()))

    assert world.browser.post(world.at("invoice/"), {"remove": kept.pk}).status_code == 302
    assert RepairJob.objects.get().cost == Decimal("9.50")
    assert world.browser.get(f"/s/{world.school.slug}/jobs/invoices/{kept.pk}/").status_code == 404


def test_a_cost_that_somebody_wrote_is_left_as_it_is(world):
    RepairJob.objects.update(cost=Decimal(300))
    keep(world)
    assert RepairJob.objects.get().cost == Decimal(300)


@pytest.mark.parametrize(
    ("said", "sentence", "status"),
    [
        ({"amount": "-1"}, "An invoice cannot be over less than nothing.", 422),
        ({"amount": ""}, "Say what it comes to.", 422),
        ({"file": SimpleUploadedFile("x.pdf", b"%PDF-1.4 broken")}, "This PDF is damaged or cut off.", 422),
        ({"number": "R-1"}, "This invoice is kept with the job already.", 409),
    ],
)
def test_an_invoice_that_cannot_be_kept_is_said_and_loses_nothing(world, said, sentence, status):
    keep(world, number="R-1")
    answer = keep(world, **said)
    page = folded(answer)
    assert (answer.status_code, sentence in page) == (status, True)
    assert f'value="{said.get("number", "R-7")}"' in page
    assert world.job.invoices.count() == 1


def test_another_schools_invoice_is_not_there(world, as_):
    keep(world, file=SimpleUploadedFile("i.pdf", make.pdf()))
    other = make.school()
    stranger = as_(make.staff(Role.HEAD, other))
    assert stranger.get(f"/s/{other.slug}/jobs/invoices/{world.job.invoices.get().pk}/").status_code == 404
