"""A school that has a row of every state that some list, count or figure asks for."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from fleet.counting.actions.counts import begin
from fleet.counting.models import Count
from fleet.exchange.models import Closing, Import
from fleet.ground.access import Role
from fleet.lending.models import Loan, PastLoan
from fleet.letters.models import LendingRules
from fleet.matching.models import ClassPlan, MatchingRules
from fleet.people.models import AddressChange, School, User
from fleet.register.models import Disposal, FormerNumber, Horn, Identification, LabelSheet, StandChange
from fleet.workshop.models import Invoice, LabourPrice, NotDone, OtherQuote, Part, PartUsed, Sitting, WorkOrdered
from identify.core.reasoning.assumed import ENOUGH_HORNS
from tests import make
from tests.doors import World

DAY = timedelta(days=1)
TODAY = make.TODAY
# A class of this name is in every school, so that asking for it tells whether the school is asked for too.
BAND = "Band"
# What is typed at a school where no horn has this number.
TYPED = "Old-777"
# Long enough ago for every rule that counts days.
LONG_AGO = make.NOW - 900 * DAY


def live(world: World) -> None:
    """Adds to a school with one of everything what else can be so."""
    lend(world)
    sign(world)
    mend(world)
    keep(world)
    plan(world)
    # Before everything of the other school, so that they come first where a list shows the first few.
    Horn.objects.at(world.school).update(created=LONG_AGO)


def lend(world: World) -> None:
    school, head = world.school, world.people[Role.HEAD]

    def lent(**said: Any) -> Loan:
        guardian = make.guardian(school)
        pupil = make.pupil(school, guardian, group=BAND, **said.pop("pupil", {}))
        return make.loan(make.horn(school, value=700), pupil, head, **{"issued_on": TODAY - 200 * DAY, **said})

    soon = lent(due_on=TODAY + 5 * DAY)
    late = lent(due_on=TODAY - 60 * DAY)
    lent(due_on=TODAY + 100 * DAY, pupil={"left_on": TODAY - DAY})
    lost = lent(returned_on=TODAY - DAY, lost_words="Left in a tram")
    lost.horn.checks.update(at=make.NOW - 9 * DAY)
    make.keep([lost.horn])
    before = lent(returned_on=TODAY - DAY)
    lent(in_place_of=before, issued_on=TODAY - DAY)
    incomplete = lent(returned_on=TODAY - 2 * DAY)
    incomplete.accessories.update(came_back=False)
    make.recalled(lent(due_on=TODAY + 20 * DAY), head)
    make.ask(soon, soon.guardian.user, kind="lost")
    make.return_note(lent(), head, words="Strap torn")
    make.charge(late, head, due_on=TODAY - 9 * DAY)
    make.charge(late, head, state="paid", settled_on=TODAY)
    make.letter(late, state="bounced")
    make.letter(soon, state="no-address", occasion="before-14")
    PastLoan.objects.create(horn=world.horn, pupil=world.pupil, issued_on=LONG_AGO.date(), returned_on=LONG_AGO.date())
    AddressChange.objects.create(
        guardian=make.guardian(school), before="old@example.org", at=make.NOW, digest=school.slug, objected_at=make.NOW
    )
    make.agreement(school, version=2, words="We look after the horn and its case.", made_at=make.NOW)


def sign(world: World) -> None:
    school, head = world.school, world.people[Role.HEAD]
    signed = {"signed_at": make.NOW, "typed_name": "Signed"}
    states: tuple[dict[str, Any], ...] = ({}, signed, {"withdrawn_at": make.NOW})
    for said in states:
        pupil = make.pupil(school, make.guardian(school), group=BAND)
        made = make.signature(make.horn(school), pupil, head, **said)
        make.letter(made, state="refused")
    waits = make.pupil(school, make.guardian(school), group=BAND)
    make.wish(waits, head, kind="double")
    make.wish(waits, head, horn=make.horn(school), reserved_until=TODAY + 9 * DAY)


def mend(world: World) -> None:
    school, head, technician = world.school, world.people[Role.HEAD], world.people[Role.TECHNICIAN]
    LabourPrice.objects.create(school=school, work="overhaul", minutes=900, price=900)
    for state in ("bench", "parts", "done", "given-up"):
        horn = make.horn(school)
        said: dict[str, Any] = {"technician": technician, "quote": 900, "minutes": 30, "cost": 950}
        said |= {"work_ordered": "Overhaul", "verdict": "no", "verdict_why": "Too thin"}
        job = make.job(horn, head, state=state, **said)
        make.finding(make.check(horn, head, grade=3), job=job)
        make.report(horn, head, job=job, answered_at=make.NOW, answered_by=head)
        NotDone.objects.create(job=job, fault="bell-dented", why="The family wants it so", at=make.NOW, by=head)
        WorkOrdered.objects.create(job=job, work="overhaul", minutes=900, price=900, at=make.NOW, by=head)
        ended = make.NOW if state in {"done", "given-up"} else None
        Sitting.objects.create(job=job, by=make.user(), began_at=make.NOW, ended_at=ended, minutes=ended and 30)
        Invoice.objects.create(job=job, number="R-7", amount=950, at=make.NOW, by=head)
        OtherQuote.objects.create(job=job, repairer="Second", amount=800, words="In May", at=make.NOW, by=head)
        make.finding(make.check(horn, head, grade=3), "bell-dented", job=job)
        PartUsed.objects.create(job=job, part=world.part, count=2, cost_each=3, at=make.NOW, by=head)
    away: dict[str, Any] = {"repairer": "Repairer", "sent_on": TODAY - 60 * DAY, "expected_on": TODAY - 9 * DAY}
    make.job(make.horn(school), head, state="away", **away)
    mended = make.horn(school)
    make.check(mended, head, at=LONG_AGO)
    make.job(mended, head, state="done")
    for state in ("waiting", "done"):
        lent = make.loan(make.horn(school), make.pupil(school), head).horn
        said = {"bring_on": TODAY, "bring_words": "Room 10", "bring_seen_at": make.NOW, "fetch_on": TODAY}
        make.job(lent, head, state=state, brought_at=make.NOW if state == "done" else None, **said)
        make.check(lent, head, at=make.NOW)
    said = {"supplier": "Supplier", "order_number": "S-1", "shelf": "Drawer"}
    make.part(school, on_hand=1, minimum=4, mends=["string-broken"], **said)
    Part.objects.create(school=school, name="On its way", minimum=2, ordered_on=TODAY, **said)
    make.finding(make.check(make.horn(school), head, grade=4), severity="x")
    make.check(make.horn(school, created=LONG_AGO), head, at=LONG_AGO)


def keep(world: World) -> None:
    school, head = world.school, world.people[Role.HEAD]
    make.horn(school, build="", described_as="double horn")
    restrung = make.horn(school, build="double-full", stands_in="F")
    StandChange.objects.create(horn=restrung, at=make.NOW, by=head, before="B♭", after="F", reason="For the band.")
    make.keep([restrung])
    for column in ("withdrawn_on", "not_found_on"):
        make.keep([make.horn(school, **{column: TODAY - DAY})])
    old = make.horn(school)
    FormerNumber.objects.create(school=school, horn=old, number=TYPED, at=make.NOW, by=head)
    # As many as it takes for a school's own to count towards what is thought common.
    for number in (TYPED, *(f"T-{n}" for n in range(ENOUGH_HORNS - 1))):
        found = make.horn(school, number=number, build="triple-full", stands_in="F")
        Identification.objects.create(horn=found, at=make.NOW, by=head, build=found.build, stands_in="F")
    gone = {"method": "sold", "on": TODAY, "reason": "Sold", "proposed_at": make.NOW, "proposed_by": head}
    decided = {"decided_at": make.NOW, "decided_by": world.people[Role.SERVICE], "approved": True}
    Disposal.objects.create(horn=make.horn(school, withdrawn_on=TODAY), **gone, **decided)
    shelf = make.place(school)
    make.horn(school, place=shelf)
    ended = begin(school=school, places=[shelf], by=head, at=make.NOW)
    Count.objects.filter(pk=ended.pk).update(ended_at=make.NOW, ended_by=head)
    LabelSheet.objects.create(school=school, across=2, width=90)
    Closing.objects.create(school=school, reason="Merged", proposed_by=world.people[Role.SERVICE], proposed_at=make.NOW)


def plan(world: World) -> None:
    school, head = world.school, world.people[Role.HEAD]
    MatchingRules.objects.create(school=school, keep=1, stand=1, wrap=1, better=1, carry=1)
    LendingRules.objects.create(school=school, before_subject="Soon", after_subject="Late", names_kept_days=99)
    ClassPlan.objects.create(school=school, group=BAND, stands_in="B♭", room="Hall")
    written(school, head)


def written(school: School, by: User, maker: str = "Bell") -> Import:
    """A list that is on record and may be undone while no newer one is."""
    made = make.a_list(school, by, maker)
    made.batches.update(written=True)
    Import.objects.filter(pk=made.pk).update(state="written")
    return made
