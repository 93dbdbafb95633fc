"""A repairer outside: quote, a head's word above the limit, sent and back; and repairs that did not hold."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.workshop.actions import outside
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.actions.jobs import Work, change_job
from fleet.workshop.actions.outside import Outside, change_outside
from fleet.workshop.models import RepairJob
from fleet.workshop.queries.warranty import back_again
from tests import make
from tests.pages import folded

TODAY = make.TODAY
MARTA = Outside(repairer="Marta's workshop", quote=Decimal("150.00"), sent_on=TODAY)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school(approve_above=Decimal("100.00"))
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        head = make.staff(Role.HEAD, school, name="Ida Holm")
        horn = make.horn(school)
        job = make.job(horn, technician)
        browser = as_(technician)
        address = f"/s/{school.slug}/jobs/{job.pk}/outside/"

    return World


def say(world, **changes) -> RepairJob:
    job = RepairJob.objects.get(pk=world.job.pk)
    last = job.steps.last()
    said = replace(MARTA, **changes)
    return change_outside(job=job, by=world.technician, at=make.NOW, seen=last.pk if last else 0, said=said)


def approve(world, quote: str = "150.00") -> RepairJob:
    return outside.approve(job=world.job, by=world.head, at=make.NOW, amount=Decimal(quote))


def test_a_horn_sent_is_in_the_workshop_at_the_repairers_and_back_on_the_bench_when_it_returns(world):
    sent = say(world, quote=Decimal("80.00"), expected_on=TODAY + timedelta(days=10))
    world.horn.refresh_from_db()
    assert (sent.state, world.horn.where) == ("away", "away")

    back = say(world, quote=Decimal("80.00"), back_on=TODAY)
    world.horn.refresh_from_db()
    assert (back.state, world.horn.where) == ("bench", "workshop")
    assert [step.words for step in back.steps.all()][-1] == "on the bench: no day expected, back 14 September"


def test_a_quote_above_the_limit_is_not_sent_before_a_head_approves_it(world):
    with pytest.raises(Refused) as no:
        say(world)
    assert no.value.sentence.startswith("Quotes above 100.00 EUR need a head’s word.")
    world.job.refresh_from_db()
    assert world.job.sent_on is None

    say(world, sent_on=None)
    approve(world)
    assert say(world).state == "away"


def test_a_quote_that_rises_after_its_approval_needs_approving_again(world):
    say(world, sent_on=None)
    approve(world)
    say(world, sent_on=None, quote=Decimal("151.00"))

    with pytest.raises(Refused):
        say(world, quote=Decimal("151.00"))

    assert RepairJob.objects.get().needs_approval(Decimal("100.00"))


@pytest.mark.parametrize(
    ("limit", "quote", "needed"), [("100", "100.00", False), ("100", "100.01", True), (None, "9e5", False)]
)
def test_the_limit_itself_needs_no_word_and_no_limit_never_does(limit, quote, needed):
    job = RepairJob(quote=Decimal(quote))

    assert job.needs_approval(Decimal(limit) if limit else None) is needed


def bill(world, cost: str, state: str = "waiting") -> RepairJob:
    job = RepairJob.objects.get(pk=world.job.pk)
    last = job.steps.last()
    return change_job(
        job=job, by=world.technician, at=make.NOW, seen=last.pk if last else 0, work=Work(state, cost=Decimal(cost))
    )


def test_a_cost_above_what_was_approved_asks_again_even_of_a_job_that_is_done(world):
    say(world, sent_on=None)
    approve(world)
    assert not bill(world, "150.00").needs_approval(world.school.approve_above)

    done = bill(world, "180.00", "done")

    assert (done.needs_approval(world.school.approve_above), done.asks_with) == (True, "cost")
    assert list(RepairJob.objects.to_approve(world.school.approve_above)) == [done]
    with pytest.raises(Refused) as no:
        approve(world)
    assert no.value.sentence == "There is a cost of 180.00 now. Read it, then approve."
    assert approve(world, "180.00").steps.last().words == "cost of 180.00 approved"
    assert not RepairJob.objects.to_approve(world.school.approve_above)


@pytest.mark.parametrize("quote", [None, "90", "100.00", "100.01"])
@pytest.mark.parametrize("cost", [None, "100.00", "100.01", "250"])
@pytest.mark.parametrize("state", ["waiting", "done"])
def test_the_jobs_that_wait_for_a_word_are_those_that_need_one(world, state, quote, cost):
    RepairJob.objects.update(state=state, closed_at=make.NOW if state == "done" else None)
    for approved in (None, "100.01", "200"):
        sums = {"quote": quote, "cost": cost, "approved": approved}
        RepairJob.objects.update(**{name: given and Decimal(given) for name, given in sums.items()})
        for limit in (None, Decimal(100), Decimal("0.5")):
            waiting = RepairJob.objects.to_approve(limit).exists()
            assert waiting == RepairJob.objects.get().needs_approval(limit)


def test_an_unused_quote_of_a_job_that_is_done_waits_for_nobody(world):
    say(world, sent_on=None)
    done = bill(world, "20.00", "done")

    assert (done.quote, done.asked, done.asks_with) == (Decimal("150.00"), Decimal("20.00"), "cost")
    assert not RepairJob.objects.to_approve(world.school.approve_above)


def test_a_limit_is_not_held_against_what_was_mended_long_ago(world, as_):
    bill(world, "180.00", "done")
    RepairJob.objects.update(closed_at=timezone.now())
    head, today = as_(world.head), f"/s/{world.school.slug}/"
    assert "cost of 180.00" in head.get(today).content.decode()

    RepairJob.objects.update(closed_at=timezone.now() - timedelta(days=61))

    assert "cost of 180.00" not in head.get(today).content.decode()


def test_a_cost_that_waits_for_a_word_stands_on_the_heads_day_until_it_is_given(world, as_):
    bill(world, "180.00", "done")
    RepairJob.objects.update(closed_at=timezone.now())
    head, today = as_(world.head), f"/s/{world.school.slug}/"

    assert f"{world.horn}: cost of 180.00 EUR" in head.get(today).content.decode()
    assert "cost of 180.00" not in world.browser.get(today).content.decode()
    page = f"/s/{world.school.slug}/jobs/{world.job.pk}/"
    assert "The cost waits for a head’s word" in head.get(page).content.decode()
    head.post(f"{page}approve/", {"amount": "180.00"})

    assert "cost of 180.00" not in head.get(today).content.decode()


def test_a_head_approves_what_they_read_and_not_what_it_has_become(world):
    say(world, sent_on=None)

    with pytest.raises(Refused) as no:
        approve(world, "15.00")

    assert no.value.sentence == "There is a quote of 150.00 now. Read it, then approve."
    assert approve(world).approved_by == world.head


def test_the_head_approves_on_the_jobs_page_and_the_technician_cannot(world, as_):
    say(world, sent_on=None)
    page, way = f"/s/{world.school.slug}/jobs/{world.job.pk}/", f"/s/{world.school.slug}/jobs/{world.job.pk}/approve/"
    assert "Approve 150.00 EUR" not in world.browser.get(page).content.decode()
    assert world.browser.post(way, {"amount": "150.00"}).status_code == 403
    head = as_(world.head)
    assert "Approve 150.00 EUR" in head.get(page).content.decode()

    assert "Say which sum" in head.post(way, {"amount": "lots"}, follow=True).content.decode()
    head.post(way, {"amount": "NaN"})
    assert RepairJob.objects.get().approved is None
    head.post(way, {"amount": "150.00"})

    job = RepairJob.objects.get()
    assert (job.approved, job.approved_by) == (Decimal("150.00"), world.head)


def test_a_horn_that_is_out_and_a_withdrawn_one_are_not_sent(world):
    make.loan(world.horn, make.pupil(world.school, name="Mia Vale"), world.technician)
    with pytest.raises(Refused) as no:
        say(world, quote=None)
    assert no.value.sentence == f"{world.horn} is out with Mia Vale. Let it be brought first, then send it."

    type(world.horn).objects.filter(pk=world.horn.pk).update(holder_name="", due_on=None, withdrawn_on=TODAY)
    with pytest.raises(Refused) as no:
        say(world, quote=None)
    assert no.value.sentence == f"{world.horn} is withdrawn."


def test_who_saves_over_a_newer_step_is_told_first(world):
    say(world, sent_on=None)

    with pytest.raises(Refused) as no:
        change_outside(job=world.job, by=world.head, at=make.NOW, seen=0, said=replace(MARTA, quote=Decimal(1)))

    assert no.value.sentence.startswith("Ann Reed changed this job at ")


def test_a_job_gets_to_the_repairers_only_by_saying_which(world):
    stands = Work("away", None, None, "", None, "")

    with pytest.raises(Refused) as no:
        change_job(job=world.job, by=world.technician, at=make.NOW, seen=0, work=stands)

    assert "Say below which repairer" in no.value.sentence


@pytest.mark.parametrize("state", ["done", "bench", "given-up"])
def test_a_job_leaves_the_repairers_only_by_saying_when_it_came_back(world, state):
    job = say(world, quote=None)

    with pytest.raises(Refused) as no:
        change_job(job=job, by=world.technician, at=make.NOW, seen=job.steps.last().pk, work=Work(state))

    assert no.value.sentence == f"{world.horn} is at the repairer’s. Say first when it came back."
    assert no.value.way_out.page == "workshop:job-outside"
    job.refresh_from_db()
    assert (job.state, job.back_on) == ("away", None)


@pytest.mark.parametrize(
    ("changed", "field", "sentence"),
    [
        ({"quote": "-1"}, "quote", "A quote cannot be less than nothing."),
        ({"quote": "1e30"}, "quote", "That is more than any repair costs."),
        ({"sent_on": "2026-01-01"}, "repairer", "Say to which repairer the horn was sent."),
        ({"back_on": "2026-01-01"}, "sent_on", "Say when it was sent."),
        ({"repairer": "M", "sent_on": "2999-01-01"}, "sent_on", "This day is still to come."),
        ({"repairer": "M", "sent_on": "2026-02-02", "back_on": "2026-02-01"}, "back_on", "cannot come back before"),
        ({"repairer": "M", "sent_on": "2026-02-02", "expected_on": "2026-02-01"}, "expected_on", "after it was sent"),
        ({"repairer": "M", "sent_on": "2026-02-02", "expected_on": "9999-12-31"}, "expected_on", "within three years"),
        ({"sent_on": "soon"}, "sent_on", "Write the day like 2027-06-30."),
    ],
)
def test_nonsense_about_a_repairer_is_answered_beside_its_field(world, changed, field, sentence):
    answer = world.browser.post(world.address, {"seen": "0", **changed})

    assert answer.status_code == 422
    assert sentence in str(answer.context["form"].errors[field])
    assert not world.job.steps.exists()


def test_the_database_itself_refuses_what_cannot_be(world):
    for nonsense in ({"quote": -1}, {"sent_on": TODAY}, {"back_on": TODAY}, {"state": "lost"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            RepairJob.objects.filter(pk=world.job.pk).update(**nonsense)


# Warranty


def mended(world, days_ago: int, fault: str = "string-broken", *places: str) -> RepairJob:
    """A job for that fault, done so many days before now."""
    at, found = make.NOW - timedelta(days=days_ago), [Found(fault, "r", places=places)]
    log_check(horn=world.horn, by=world.technician, at=at, occasion="other", finish_grade=2, found=found)
    job = world.horn.jobs.get(closed_at=None)
    return change_job(job=job, by=world.technician, at=at, seen=job.steps.last().pk, work=Work("done"))


def again(world, *places: str) -> RepairJob:
    found = [Found("string-broken", "r", places=places)]
    log_check(horn=world.horn, by=world.technician, at=make.NOW, occasion="other", finish_grade=2, found=found)
    return world.horn.jobs.get(closed_at=None)


@pytest.fixture
def bare(world):
    world.job.delete()
    return world


@pytest.mark.parametrize(("days", "told"), [(30, "back after 30 days"), (0, "back on the same day")])
def test_the_same_fault_within_the_days_a_repair_should_hold_is_flagged(bare, days, told):
    earlier = mended(bare, days)

    job = again(bare)

    [one] = back_again(job, job.findings.all(), bare.school)
    assert (one.words, one.earlier, one.days, one.by) == ("string broken", earlier, days, "Ann Reed")
    page = folded(bare.browser.get(f"/s/{bare.school.slug}/jobs/{job.pk}/"))
    assert told in page


@pytest.mark.parametrize(("days", "held"), [(180, 1), (181, 0)])
def test_a_repair_that_held_long_enough_is_not(bare, days, held):
    mended(bare, days)

    now = again(bare)
    assert len(back_again(now, now.findings.all(), bare.school)) == held


@pytest.mark.parametrize(
    ("then", "here", "said"),
    [
        (("1", "2"), ("2", "3"), ["string broken (2nd valve)"]),
        (("1",), ("2",), []),
        ((), ("2",), ["string broken"]),
        (("1",), (), ["string broken (1st valve)"]),
    ],
)
def test_a_repair_has_to_hold_at_its_own_valve(bare, then, here, said):
    mended(bare, 30, "string-broken", *then)
    now = again(bare, *here)

    assert [one.words for one in back_again(now, now.findings.all(), bare.school)] == said


def test_another_fault_a_job_given_up_and_a_school_that_wants_no_flag_give_none(bare):
    mended(bare, 20, "slide-loose")
    job = mended(bare, 10)
    RepairJob.objects.filter(pk=job.pk).update(state="given-up")
    now = again(bare)
    assert back_again(now, now.findings.all(), bare.school) == []

    RepairJob.objects.filter(pk=job.pk).update(state="done")
    bare.school.warranty_days = 0
    assert back_again(now, now.findings.all(), bare.school) == []


def test_a_horn_that_came_back_and_was_lent_is_not_sent_by_emptying_the_day_it_came_back(world):
    say(world, quote=Decimal("80.00"))
    back = say(world, quote=Decimal("80.00"), back_on=TODAY)
    seen = back.steps.last().pk
    change_job(job=back, by=world.technician, at=make.NOW, seen=seen, work=Work(state="waiting"))
    make.loan(world.horn, make.pupil(world.horn.school), world.technician)

    with pytest.raises(Refused, match="Let it be brought first, then send it"):
        say(world, quote=Decimal("80.00"))


def test_saving_what_stands_there_already_changes_nothing_however_old_the_page(world):
    same = Outside(**{name: getattr(world.job, name) for name in outside.NAMES})
    done = change_outside(job=world.job, by=world.technician, at=make.NOW, seen=-1, said=same)
    assert (done.pk, done.steps.count()) == (world.job.pk, 0)
    with pytest.raises(Refused):
        change_outside(job=world.job, by=world.technician, at=make.NOW, seen=-1, said=MARTA)
