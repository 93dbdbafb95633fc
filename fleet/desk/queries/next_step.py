"""The one sensible thing to do next with a horn, for the person who is looking at it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse

from fleet.lending.models import Loan
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn
from fleet.signing.models import OnlineSignature
from fleet.signing.queries.awaited import address_of
from fleet.workshop.models import FaultReport, RepairJob
from fleet.workshop.queries.condition import Condition


@dataclass(frozen=True, slots=True)
class Standing:
    """What the slices say of one horn at this moment."""

    horn: Horn
    loan: Loan | None
    condition: Condition
    reports: list[FaultReport]
    uncleaned: Loan | None
    question: str
    # Put before a family and no loan yet.
    asked: OnlineSignature | None = None

    @property
    def job(self) -> RepairJob | None:
        return self.condition.job


@dataclass(frozen=True, slots=True)
class NextStep:
    """`label` is what the button says; without an address the step is for somebody else, and `why` says for whom."""

    why: str
    label: str = ""
    address: str = ""


def next_step(of: Standing, seat: Seat, today: date) -> NextStep:
    """The first that applies: what stops the horn from being lent comes before what merely should be done."""
    horn = of.horn

    def to(name: str, *args: object, query: str = "") -> str:
        return reverse(name, args=(seat.school.slug, *args)) + query

    def step(view: str, label: str, why: str, *args: object, query: str = "") -> NextStep:
        if not seat.may(view, write=view != "identify:walk"):
            return NextStep(why)
        return NextStep(why, label, to(view, *args, query=query))

    if horn.withdrawn_on:
        return NextStep("It is withdrawn. Its record and its number stay.")
    if horn.not_found_on:
        return step("register:standing", "It was found", "It is missing since the last look.", horn.pk)
    if not horn.is_identified:
        walk = f"?horn={horn.pk}"
        return step("identify:walk", "Find out what it is", "Nothing is lent before it is identified.", query=walk)
    if of.reports:
        return step("workshop:report", "Answer the family", "A family reported a fault.", of.reports[0].pk)
    if of.loan is not None and of.loan.due_on < today:
        return step("loans:return", "Take it back", "The loan is overdue.", of.loan.pk)
    if of.loan is not None:
        return step("loans:return", "Take it back", "It is out on loan.", of.loan.pk)
    if horn.test_note_owed:
        walk = f"?horn={horn.pk}"
        return step(
            "identify:walk", "Sound the test note", "Its stand was changed and nobody has heard it since.", query=walk
        )
    if of.job is not None:
        return step(
            "workshop:job", "Go to the repair job", f"A repair job is open: {of.job.get_state_display()}.", of.job.pk
        )
    if horn.checked_on is None:
        return step("workshop:check-new", "Check its condition", "Nobody has looked it over yet.", horn.pk)
    if of.condition.mended_since:
        return step(
            "workshop:check-new", "Check it after the repair", "It is mended; nobody has tried it since.", horn.pk
        )
    if horn.grade and horn.grade >= Horn.Grade.REPAIR_FIRST:
        return step("workshop:job-new", "Open a repair job", "It may not be lent as it is.", horn.pk)
    if of.uncleaned is not None:
        return step(
            "loans:mouthpiece",
            "Record the cleaning",
            "The mouthpiece was not cleaned since the last player.",
            of.uncleaned.pk,
        )
    if horn.checked_on < today - timedelta(days=seat.school.check_days):
        return step("workshop:check-new", "Check its condition", "The last look is too long ago.", horn.pk)
    if of.asked is not None:
        signed = of.asked.signed_at is not None
        who = (
            f"{of.asked.guardian} has signed for {of.asked.pupil}."
            if signed
            else (f"It waits on {of.asked.guardian}’s page to be signed for {of.asked.pupil}.")
        )
        if not seat.may("loans:issue", write=True):
            return NextStep(who)
        return NextStep(who, "Hand it out" if signed else "See what is asked", address_of(seat.school, [of.asked]))
    return step("loans:issue", "Issue it", "It is ready to be lent.", query=f"?horn={horn.pk}")
