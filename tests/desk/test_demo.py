from collections import Counter

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from fleet.counting.models import Count, Find, Line
from fleet.counting.queries.shelves import endings
from fleet.desk.actions import demo
from fleet.lending.models import Loan
from fleet.matching.queries.candidates import gather
from fleet.matching.solving.assigning import propose
from fleet.matching.solving.reasons import shortages, tied, why_left
from fleet.matching.solving.remedies import remedies
from fleet.matching.solving.rows import Weights
from fleet.people.models import School, User
from fleet.people.queries.classes import classes
from fleet.register.models import Horn
from fleet.workshop.models import FaultReport, RepairJob
from tests import make

pytestmark = pytest.mark.django_db


def test_the_demo_shows_every_place_a_horn_can_be_looked_for_and_something_to_do():
    school = demo.load(at=timezone.now())

    horns = Horn.objects.at(school)
    assert (horns.count(), horns.unidentified().count()) == (15, 2)
    today = timezone.localdate()
    assert Loan.objects.at(school).overdue(today).count() == 1
    assert Loan.objects.at(school).due_soon(today, school.soon_days).count() == 1
    assert FaultReport.objects.at(school).unanswered().count() == 1
    assert RepairJob.objects.at(school).open().count() == 1
    mended = RepairJob.objects.at(school).filter(state=RepairJob.State.DONE).select_related("technician")
    assert {job.technician.email for job in mended} == {"technician@demo.example"}


@pytest.mark.either_engine
def test_matching_the_demos_classes_has_something_to_say_of_every_kind():
    school = demo.load(at=timezone.now())
    pool = gather(school, [group for group, _ in classes(school)])

    proposal = propose(pool.pupils, pool.horns, Weights())

    assert any(pair.kept for pair in proposal.pairs)
    assert any(pair.horn.held_by is None for pair in proposal.pairs)
    assert [why_left(proposal, short).endswith("a tie who of them goes without.") for short in shortages(proposal)] == [
        True
    ]
    assert [step.remedy.kind for step in remedies(proposal, pool.could_be)] == ["identify", "identify", "restring"]
    assert tied(proposal)


def test_the_demo_has_a_count_that_is_signed_and_one_in_the_middle():
    school = demo.load(at=timezone.now())

    counting, signed = Count.objects.at(school)
    assert signed.signed_by is not None
    assert not Line.objects.filter(count=signed, outcome="").exists()
    assert [line.outcome for line in Line.objects.exclude(resolution="")] == ["elsewhere"]
    assert counting.is_open
    ended = Counter(outcome.value for _, outcome in endings(counting))
    assert ended == {"seen": 4, "elsewhere": 1, "not-found": 3, "away": 2}
    assert Find.objects.filter(resolution="").get().count == counting


@pytest.mark.either_engine
def test_every_finding_of_the_demo_is_what_the_checks_lead_to():
    demo.load(at=timezone.now())

    for horn in Horn.objects.identified():
        finding = horn.identifications.get()
        assert (finding.build, finding.settled) == (horn.build, True), horn


def test_the_demos_loans_agree_with_its_horns(capsys):
    demo.load(at=timezone.now())

    call_command("reconcile")


@pytest.mark.parametrize(("what", "email", "password"), demo.SIGN_INS)
def test_every_sign_in_that_is_printed_works(client, what, email, password):
    demo.load(at=timezone.now())

    client.post("/account/sign-in/", {"login": email, "password": password})

    assert int(client.session["_auth_user_id"]) == User.objects.get(email=email).pk


def test_the_service_head_sees_both_schools(as_):
    demo.load(at=timezone.now())

    page = as_(User.objects.get(email="service@demo.example")).get("/").content.decode()

    assert "Alder Row School" in page
    assert "Millpond Lane School" in page


def test_the_demo_never_joins_a_schools_own_data():
    make.school()

    with pytest.raises(CommandError, match="empty database only"):
        call_command("demo")
    call_command("demo", only_when_empty=True)
    assert School.objects.count() == 1
