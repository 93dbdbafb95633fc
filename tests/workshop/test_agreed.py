"""What is agreed about a job: each fault done or not and why, other quotes, the work ordered, the verdict."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils.translation import override

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.workshop.actions.agreed import add_quote, drop_quote, settle, take_quote
from fleet.workshop.actions.jobs import Work, change_job
from fleet.workshop.models import JobStep, OtherQuote, RepairJob
from fleet.workshop.queries.agreed import turnarounds
from fleet.workshop.queries.in_turn import turns
from tests import make
from tests.pages import folded, on_paper

pytestmark = pytest.mark.either_engine
LATER = make.NOW + timedelta(hours=1)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school(name="Alder Row")
        technician = make.staff(Role.TECHNICIAN, school)
        head = make.staff(Role.HEAD, school)
        horn = make.horn(school, value=900, serial_number="7741")
        job = make.job(horn, technician)
        check = make.check(horn, technician, grade=3)
        string = make.finding(check, "string-broken", "r", job=job)
        bell = make.finding(check, "bell-dented", "n", job=job)
        browser = as_(technician)

        @classmethod
        def settle(cls, fault: str, said: str, why: str = "") -> None:
            settle(job=cls.job, fault=fault, said=said, why=why, by=cls.technician, at=LATER)

        @classmethod
        def quote(cls, repairer: str, amount: int, words: str = "") -> OtherQuote:
            add_quote(job=cls.job, repairer=repairer, amount=Decimal(amount), words=words, by=cls.technician, at=LATER)
            return cls.job.other_quotes.get(repairer=repairer)

        @classmethod
        def take(cls, quote: int) -> None:
            take_quote(job=cls.job, quote=quote, by=cls.technician, at=LATER)

        @classmethod
        def at(cls, path: str = "") -> str:
            return f"/s/{cls.school.slug}/jobs/{cls.job.pk}/{path}"

    return World


def words_of(answer) -> str:
    return " ".join(on_paper(answer.content))


# Each fault


def test_done_mends_the_one_fault_and_open_again_takes_it_back(world):
    world.settle("string-broken", "done")
    world.string.refresh_from_db()
    world.bell.refresh_from_db()
    assert (world.string.mended_at, world.bell.mended_at) == (LATER, None)

    world.settle("string-broken", "open")
    world.string.refresh_from_db()
    assert world.string.mended_at is None
    assert list(JobStep.objects.values_list("words", flat=True)) == ["string broken done", "string broken open again"]


def test_what_is_not_done_stays_open_when_the_job_ends(world):
    world.settle("bell-dented", "not-done", "The dent does no harm")

    seen = world.job.steps.last().pk
    change_job(job=world.job, by=world.technician, at=LATER, seen=seen, work=Work(state="done"))

    world.string.refresh_from_db()
    world.bell.refresh_from_db()
    assert (world.string.mended_at, world.bell.mended_at) == (LATER, None)


def test_a_job_with_nothing_but_what_is_left_has_nothing_left_to_mend(world):
    def turn():
        return turns(world.school, make.TODAY)[0]

    world.settle("string-broken", "not-done", "The family has one")
    assert ([one.fault for one in turn().faults], turn().nothing_left) == (["bell-dented"], False)
    world.settle("bell-dented", "not-done", "It does no harm")
    assert turn().nothing_left
    world.settle("bell-dented", "open")
    assert [one.fault for one in turn().faults] == ["bell-dented"]


def test_what_was_left_can_be_done_after_all_and_done_be_left(world):
    world.settle("string-broken", "not-done", "No cord")
    world.settle("string-broken", "done")
    assert not world.job.not_done.exists()

    world.settle("string-broken", "not-done", "It broke again")
    world.string.refresh_from_db()
    assert (world.string.mended_at, world.job.not_done.get().why) == (None, "It broke again")


@pytest.mark.parametrize(("said", "why"), [("done", ""), ("not-done", "No cord"), ("open", "")])
def test_said_twice_it_is_one_step(world, said, why):
    if said == "open":
        world.settle("string-broken", "done")
    steps = world.job.steps.count()

    world.settle("string-broken", said, why)
    world.settle("string-broken", said, why)

    assert world.job.steps.count() == steps + 1


@pytest.mark.parametrize(
    ("fault", "said", "why", "sentence"),
    [("string-broken", "not-done", "  ", "Say why it is not done."), ("bell-torn", "done", "", "not about this fault")],
)
def test_a_fault_left_without_a_reason_or_strange_to_the_job_is_refused(world, fault, said, why, sentence):
    with pytest.raises(Refused, match=sentence):
        world.settle(fault, said, why)


def test_a_closed_job_is_settled(world):
    RepairJob.objects.update(state="done", closed_at=LATER)

    with pytest.raises(Refused, match="This job was closed"):
        world.settle("string-broken", "done")


def test_the_buttons_beside_a_fault_lead_back_to_the_job_and_say_what_is_wrong(world):
    sent = {"fault": "string-broken", "said": "not-done", "why": ""}

    assert world.browser.post(world.at("fault/"), sent).url == world.at()
    assert "Say why it is not done." in folded(world.browser.get(world.at()))

    world.browser.post(world.at("fault/"), sent | {"why": "No cord"})
    page = folded(world.browser.get(world.at()))
    assert "Not done: No cord" in page
    assert 'aria-label="Open again: string broken"' in page


# Quotes


def test_taking_another_quote_leaves_the_one_there_was_among_the_others(world):
    RepairJob.objects.update(repairer="Vale Workshop", quote=120)

    world.take(world.quote("Hill Workshop", 90, "in two weeks").pk)

    world.job.refresh_from_db()
    assert (world.job.repairer, world.job.quote) == ("Hill Workshop", 90)
    assert [str(one) for one in world.job.other_quotes.all()] == ["Vale Workshop: 120.00"]
    assert world.job.steps.last().words == "took the quote of 90.00 from Hill Workshop: in two weeks"


def test_a_repairer_who_gave_no_quote_is_not_kept_as_one(world):
    RepairJob.objects.update(repairer="Vale Workshop")

    world.take(world.quote("Hill Workshop", 90).pk)

    assert not world.job.other_quotes.exists()


def test_no_other_quote_is_taken_once_the_horn_was_sent(world):
    quote = world.quote("Hill Workshop", 90)
    RepairJob.objects.update(repairer="Vale Workshop", sent_on=make.TODAY)

    with pytest.raises(Refused, match="was sent to Vale Workshop already"):
        world.take(quote.pk)


def test_a_quote_sent_twice_is_one_and_one_that_is_gone_is_left_at_that(world):
    quote = world.quote("Hill Workshop", 90)
    assert world.quote("Hill Workshop", 90) == quote

    for _ in "ab":
        drop_quote(job=world.job, quote=quote.pk, by=world.technician, at=LATER)
    world.take(quote.pk)

    world.job.refresh_from_db()
    assert (world.job.repairer, world.job.steps.count()) == ("", 2)


def test_quotes_are_kept_taken_and_removed_on_the_page_of_the_repairer(world):
    page = world.at("outside/")
    sent = {"repairer": "Hill Workshop", "amount": "90", "words": "in May"}
    assert world.browser.post(world.at("quote/"), sent).url == page
    assert world.browser.get(world.at("quote/")).url == page
    quote = world.job.other_quotes.get()

    world.browser.post(world.at("quote/"), {"do": f"take-{quote.pk}"})
    world.browser.post(world.at("quote/"), {"do": "take-x"})

    world.job.refresh_from_db()
    assert (world.job.repairer, world.job.quote) == ("Hill Workshop", 90)


# How long a repairer keeps a horn


def test_a_repairers_days_are_told_where_there_were_some(world, as_, monkeypatch):
    def went(repairer: str, days: int | None, school=world.school) -> None:
        back = None if days is None else make.TODAY - timedelta(days=50 - days)
        sent = make.TODAY - timedelta(days=50)
        make.job(make.horn(school), world.technician, state="done", repairer=repairer, sent_on=sent, back_on=back)

    went("Hill Workshop", 1)
    for repairer, days in (("vale workshop", 9), ("Vale Workshop", 40), ("vale workshop", 12), ("Mill", None)):
        went(repairer, days)
    for days in (1, 5):
        went("Low Workshop", days)
    went("Far Workshop", 3, make.school())

    told = turnarounds(world.school)
    assert {name: one.words for name, one in told.items()} == {
        "hill workshop": "back after 1 day",
        "low workshop": "usually back after 1 day (2 times)",
        "vale workshop": "usually back after 12 days (3 times)",
    }
    # As whoever had a horn back last wrote it.
    assert told["vale workshop"].repairer == "Vale Workshop"
    with override("de"):
        assert [one.words for one in told.values()] == [
            "zurück nach 1 Tag",
            "meist zurück nach 1 Tag (2 Mal)",
            "meist zurück nach 12 Tagen (3 Mal)",
        ]
    RepairJob.objects.filter(pk=world.job.pk).update(repairer="VALE Workshop")
    assert "usually back after 12 days (3 times)" in folded(world.browser.get(world.at()))
    assert "Hill Workshop: back after 1 day" in folded(world.browser.get(world.at("outside/")))
    monkeypatch.setattr("fleet.workshop.queries.agreed.NEWEST", 5)
    assert {"low workshop", "vale workshop"} == set(turnarounds(world.school))


# The work ordered, and the verdict


def test_the_ticket_prints_the_work_ordered_and_never_the_notes(world):
    RepairJob.objects.update(work_ordered="Ultrasonic clean.\nNew corks.", notes="The family owes money", quote=77)
    world.settle("bell-dented", "not-done", "It does no harm")

    address = f"/s/{world.school.slug}/prints/jobs/{world.job.pk}/ticket.pdf"
    ticket, order = words_of(world.browser.get(address)), words_of(world.browser.get(address + "?as=order"))

    for print_ in (ticket, order):
        assert "Work ordered Ultrasonic clean. New corks." in print_
        assert "string broken" in print_
        assert "owes" not in print_
    assert "bell dented: not done. It does no harm" in ticket
    assert "77.00" in ticket
    assert "bell dented" not in order
    assert "77.00" not in order
    assert "From Alder Row" in order


def test_a_job_with_work_ordered_and_no_fault_is_not_told_to_be_checked_first(world):
    job = make.job(make.horn(world.school), world.technician, work_ordered="Ultrasonic clean")
    address = f"/s/{world.school.slug}/prints/jobs/{{}}/ticket.pdf"

    assert "No fault is named" not in words_of(world.browser.get(address.format(job.pk)))
    bare = make.job(make.horn(world.school), world.technician)
    assert "No fault is named" in words_of(world.browser.get(address.format(bare.pk)))


def test_a_verdict_wants_its_reason_and_a_head_reads_it(world, as_):
    sent = {"state": "waiting", "technician": "", "minutes": "", "parts": "", "cost": "", "notes": "", "seen": "0"}

    no = world.browser.post(world.at(), sent | {"verdict": "no"})
    assert "Say why it is worth mending, or not." in no.content.decode()
    with pytest.raises(Refused, match="Say why it is worth mending"):
        change_job(job=world.job, by=world.head, at=LATER, seen=0, work=Work(state="waiting", verdict="no"))
    world.browser.post(
        world.at(), sent | {"verdict": "no", "verdict_why": "The tubes are thin", "work_ordered": "None"}
    )

    page = folded(as_(world.head).get(world.at()))
    assert "The technician: not worth mending.</b> The tubes are thin" in page
    assert world.job.steps.get().words == "work ordered, not worth mending, reasons noted"


def test_what_is_ordered_for_a_new_job_is_no_private_note(world):
    horn = make.horn(world.school)
    page = f"/s/{world.school.slug}/horns/{horn.pk}/repair/"

    form = world.browser.get(page, {"notes": "Restring it"}).context["form"]
    world.browser.post(page, {"work_ordered": form["work_ordered"].value()})

    job = horn.jobs.get()
    assert (job.work_ordered, job.notes) == ("Restring it", "")


@pytest.mark.parametrize("said", ["done", "not-done"])
def test_the_story_of_a_job_names_its_faults_in_english_whoever_acts(db, said):
    head = make.staff(Role.HEAD, make.school())
    horn = make.horn(head.posts.get().school)
    job = make.job(horn, head)
    make.finding(make.check(horn, head, grade=3), "string-broken", job=job)

    with override("de"):
        settle(job=job, fault="string-broken", said=said, why="no string", by=head, at=make.NOW)

    assert job.steps.get().words.startswith("string broken")
