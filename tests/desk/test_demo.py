from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import transaction
from django.utils import timezone

from fleet.counting.models import Count, Find, Line
from fleet.counting.queries.shelves import endings
from fleet.desk.actions import demo
from fleet.desk.actions.demo_pictures import drawn_horn, drawn_sheet
from fleet.exchange.models import Import
from fleet.lending.models import Charge, FamilyAsk, Loan, LoanAccessory, LoanPeriod, PastLoan, Wish
from fleet.letters.models import Letter
from fleet.matching.queries.candidates import gather
from fleet.matching.solving.assigning import propose
from fleet.matching.solving.reasons import shortages, tied, why_left
from fleet.matching.solving.remedies import remedies
from fleet.matching.solving.rows import Weights
from fleet.people.models import School, User
from fleet.people.queries.classes import classes
from fleet.register.models import Disposal, Horn, Photograph
from fleet.reports.queries.figures import figures
from fleet.reports.queries.governors import for_governors
from fleet.signing.models import OnlineSignature, SheetOut, SignedSheet
from fleet.workshop.models import Care, FaultReport, Finding, Part, RepairJob
from fleet.workshop.models.fitted import applies

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def school(django_db_setup: Any, django_db_blocker: Any) -> Iterator[School]:
    """The demo, loaded once for all tests of this file: each of them undoes what it did."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield demo.load(at=timezone.now())
        transaction.set_rollback(True)


def test_the_demo_shows_every_place_a_horn_can_be_looked_for_and_something_to_do(school: School):
    horns = Horn.objects.at(school)
    assert (horns.count(), horns.unidentified().count()) == (20, 2)
    assert set(horns.values_list("where", flat=True)) == {*Horn.Where.values}
    today = timezone.localdate()
    assert Loan.objects.at(school).overdue(today).count() == 1
    assert Loan.objects.at(school).due_soon(today, school.soon_days).count() == 1
    assert FaultReport.objects.at(school).unanswered().count() == 1
    assert RepairJob.objects.at(school).open().count() == 4
    assert RepairJob.objects.at(school).late(today).count() == 1
    assert RepairJob.objects.at(school).to_approve(school.approve_above).count() == 1
    mended = RepairJob.objects.at(school).filter(state=RepairJob.State.DONE).select_related("technician")
    assert {job.technician.email for job in mended} == {"technician@demo.example"}


def test_the_demo_has_photographs_of_horns_and_of_a_signed_sheet_of_a_few_kilobytes(school: School):
    photographs, sheet = list(Photograph.objects.all()), SignedSheet.objects.get()
    assert len({one.horn_id for one in photographs}) == 3
    assert sheet.loan.returned_on is None
    assert {(one.width, one.height) for one in photographs} == {(480, 360)}


def test_its_photographs_are_drawn_here_and_small():
    for drawn in (drawn_horn("double-full"), drawn_sheet(("Loan sheet", "HN-1 to Ada", "Signed: Maria"))):
        content = drawn.read()
        assert (content[:2], len(content) < 40_000) == (b"\xff\xd8", True)


def test_the_demo_has_something_of_every_kind_that_a_page_lists(school: School):
    today = timezone.localdate()
    assert Part.objects.at(school).to_order().count() == 1
    assert {*Care.objects.values_list("kind", flat=True)} == {"oil", "clean", "service"}
    assert {*Charge.objects.values_list("state", flat=True)} == {"due", "paid", "remitted"}
    assert {*Letter.objects.values_list("state", flat=True)} >= {"sent", "bounced", "no-address"}
    assert {*LoanPeriod.objects.values_list("kind", flat=True)} == {"renewed", "recalled"}
    assert Wish.objects.reserved(today).get().pupil.name == "Otis Reyes"
    assert SheetOut.objects.at(school).not_put_away().count() == 3
    assert OnlineSignature.objects.at(school).waiting().count() == 1
    assert [*Disposal.objects.at(school).order_by("on").values_list("approved", flat=True)] == [True, None]
    assert FamilyAsk.objects.unanswered().count() == 1
    assert LoanAccessory.objects.filter(came_back=False, loan__lost_words="").count() == 1
    assert {one.state for one in Import.objects.at(school)} == {"written"}
    assert PastLoan.objects.count() == 3
    assert Loan.objects.at(school).filter(from_list=True, signed_on=None).count() == 1


@pytest.mark.either_engine
def test_the_demos_year_has_its_losses_disposals_charges_and_counts(school: School):
    glance, by_class = for_governors(figures(school, timezone.localdate()))

    nothing = [what for what, number, _ in glance.rows if number == "0"]
    assert (nothing, len(by_class.rows)) == (["Found again"], 4)


@pytest.mark.either_engine
def test_matching_the_demos_classes_has_something_to_say_of_every_kind(school: School):
    pool = gather(school, [group for group, _ in classes(school)])

    proposal = propose(pool.pupils, pool.horns, Weights())

    assert any(pair.kept for pair in proposal.pairs)
    assert any(pair.horn.held_by is None for pair in proposal.pairs)
    told = [why_left(proposal, short) for short in shortages(proposal)]
    assert any(words.endswith("a tie who of them goes without.") for words in told)
    assert any("stands in B♭, and there are only" in words for words in told)
    assert [step.remedy.kind for step in remedies(proposal, pool.could_be)] == ["check", "identify"]
    assert tied(proposal)


def test_the_demo_has_a_count_in_the_middle_one_that_ended_and_one_that_is_signed(school: School):
    counting, ended, signed = Count.objects.at(school)
    assert signed.signed_by is not None
    assert not Line.objects.filter(count=signed, outcome="").exists()
    assert [line.outcome for line in Line.objects.exclude(resolution="")] == ["elsewhere"]
    assert (ended.is_open, ended.signed_by) == (False, None)
    assert [line.horn.serial_number for line in ended.lines.filter(outcome="not-found")] == ["7790"]
    assert counting.is_open
    outcomes = Counter(outcome.value for _, outcome in endings(counting))
    assert outcomes == {"seen": 4, "elsewhere": 1, "not-found": 3, "away": 2}
    assert Find.objects.filter(resolution="").get().count == counting


@pytest.mark.either_engine
def test_every_finding_of_the_demo_is_what_the_checks_lead_to(school: School):
    for horn in Horn.objects.identified():
        finding = horn.identifications.get()
        assert (finding.build, finding.settled) == (horn.build, True), horn


@pytest.mark.either_engine
def test_no_fault_of_the_demo_is_on_a_horn_that_lacks_the_part(school: School):
    found = Finding.objects.filter(check_made__horn__school=school).select_related("check_made__horn")

    assert found
    on = [(one.check_made.horn, one) for one in found]
    assert [(horn.serial_number, one.fault) for horn, one in on if not applies(one.entry.applies, horn)] == []


def test_the_demos_loans_agree_with_its_horns(school: School, capsys):
    call_command("reconcile")


@pytest.mark.parametrize(("what", "email", "password"), demo.SIGN_INS)
def test_every_sign_in_that_is_printed_works(school: School, client, what, email, password):
    client.post("/account/sign-in/", {"login": email, "password": password})

    assert int(client.session["_auth_user_id"]) == User.objects.get(email=email).pk


def test_the_service_head_sees_both_schools(school: School, as_):
    page = as_(User.objects.get(email="service@demo.example")).get("/").content.decode()

    assert "Alder Row School" in page
    assert "Millpond Lane School" in page
