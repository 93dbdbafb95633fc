"""Open jobs stand in one order wherever they are told, whatever it is that moves one of them."""

from __future__ import annotations

import re
from datetime import timedelta
from functools import partial

import pytest
from django.core.management import call_command

from fleet.ground.access import Role
from fleet.lending.actions.pupils import amend, merge
from fleet.people.models import Pupil
from fleet.workshop.actions.jobs import move_job, note_stand_in
from fleet.workshop.actions.parts import count_parts, order_parts, part_arrived, put_back, save_part, use_part
from fleet.workshop.models import Part, PartUsed, RepairJob
from fleet.workshop.queries.bench import Waiting
from fleet.workshop.queries.in_turn import kept_otherwise, turns
from tests import make
from tests.at_once import all_at_once
from tests.pages import on_paper

NUMBER = re.compile(r"H-\d\d")


class Bench:
    def __init__(self, as_) -> None:
        self.as_, self.school = as_, make.school()
        self.technician, self.head = make.staff(Role.TECHNICIAN, self.school), make.staff(Role.HEAD, self.school)
        self.who = {"by": self.technician, "at": make.NOW}
        self.horns = [make.horn(self.school, number=f"H-{n}0") for n in range(1, 5)]
        self.part = make.part(self.school, name="string", on_hand=1, mends=["string-broken"])

    def job(self, nth: int, fault: str) -> RepairJob:
        return make.job_with(self.horns[nth], self.technician, (fault, "r"))

    def lend(self, nth: int, pupil: Pupil):
        make.check(self.horns[nth], self.technician)
        return make.loan(self.horns[nth], pupil, self.technician, due_on=make.TODAY + timedelta(days=90))

    def give_back(self, loan) -> None:
        loan.returned_on, loan.returned_to = make.TODAY, self.technician
        loan.mouthpiece_cleaned_on = make.TODAY
        loan.save()
        make.keep([loan.horn])

    def orders(self) -> dict[str, list[str]]:
        """The numbers of the horns, by what tells them."""
        browser, root = self.as_(self.head), f"/s/{self.school.slug}/"
        piles = {pile.title: pile for pile in self.as_(self.technician).get(root).context["piles"]}
        told = {
            "Today": " ".join(task.what for task in piles["On the bench list"].tasks),
            "bench": " ".join(str(turn.job.horn.number) for turn in browser.get(f"{root}bench/").context["turns"]),
            "file": browser.get(f"{root}exchange/jobs/?as=csv").getvalue().decode(),
            "list": " ".join(on_paper(browser.get(f"{root}prints/repair-list.pdf").content)),
            "day": " ".join(on_paper(browser.get(f"{root}prints/bench-day.pdf").content)),
        }
        jobs = set(RepairJob.objects.open().values_list("horn__number", flat=True))
        return {
            what: [one for one in dict.fromkeys(NUMBER.findall(said)) if one in jobs] for what, said in told.items()
        }


@pytest.fixture
def world(db: None, as_):
    return Bench(as_)


def in_one_order(world, *numbers: str) -> bool:
    """Whether all tell these numbers, in this order; and whether the nightly comparison finds nothing."""
    call_command("reconcile")
    orders = world.orders()
    # Its paper for a day tells what is here alone.
    here = orders.pop("day")
    assert here == [one for one in numbers if one in here]
    assert orders == {what: list(numbers) for what in ("Today", "bench", "file", "list")}
    return True


def test_what_the_stock_lacks_moves_a_job_back_on_every_page_and_what_comes_moves_it_forward(world):
    wants, other, part = world.job(0, "string-broken"), world.job(1, "slide-loose"), world.part
    assert in_one_order(world, "H-10", "H-20")

    # The last one goes into another job.
    use_part(job=other, part=part, count=1, **world.who)
    assert in_one_order(world, "H-20", "H-10")
    put_back(job=other, used=PartUsed.objects.get().pk, **world.who)
    assert in_one_order(world, "H-10", "H-20")

    # It is in the job itself: nothing lacks.
    use_part(job=wants, part=part, count=1, **world.who)
    assert in_one_order(world, "H-10", "H-20")
    put_back(job=wants, used=PartUsed.objects.get().pk, **world.who)

    count_parts(school=world.school, counted={part.pk: (1, 0)}, **world.who)
    assert in_one_order(world, "H-20", "H-10")
    order_parts(parts=[part.pk], school=world.school, **world.who)
    part_arrived(part=part, count=4, **world.who)
    assert in_one_order(world, "H-10", "H-20")


def test_another_part_for_its_fault_moves_a_job_and_a_part_for_other_faults_lets_it_go(world):
    world.job(0, "string-broken"), world.job(1, "slide-loose")

    cork = save_part(part=Part(school=world.school, name="cork", mends=["string-broken"]), was=None, **world.who)
    assert in_one_order(world, "H-20", "H-10")

    cork.mends = ["bell-dented"]
    save_part(part=cork, was=0, **world.who)
    assert in_one_order(world, "H-10", "H-20")


def test_who_plays_a_stand_in_moves_a_job_as_it_comes_and_goes(world):
    swapped, _, waits = (world.job(nth, "slide-loose") for nth in range(3))
    mia, jo = (make.pupil(world.school, name=name) for name in ("Mia Vale", "Jo Hart"))
    make.report(swapped.horn, world.technician, pupil=mia, job=swapped)
    make.report(waits.horn, world.technician, pupil=jo, job=waits)
    assert in_one_order(world, "H-10", "H-30", "H-20")

    note_stand_in(horn=swapped.horn, stand_in=world.horns[3], **world.who)
    loan = world.lend(3, mia)
    assert in_one_order(world, "H-30", "H-10", "H-20")
    # Whoever has it now, it is not who waits.
    world.give_back(loan)
    loan = world.lend(3, jo)
    assert in_one_order(world, "H-10", "H-30", "H-20")
    world.give_back(loan)
    assert in_one_order(world, "H-10", "H-30", "H-20")


def test_a_pupil_who_is_called_like_the_horns_holder_waits_for_it_all_the_same(world):
    _, waits = (world.job(nth, "slide-loose") for nth in range(2))
    mia, jo = (make.pupil(world.school, name=name) for name in ("Mia Vale", "Jo Hart"))
    make.report(world.horns[0], world.technician, pupil=mia)
    make.report(waits.horn, world.technician, pupil=jo, job=waits)
    world.lend(0, mia)
    world.lend(1, make.pupil(world.school, name="Ada Quill"))

    amend(pupil=jo, changes={"name": "Ada Quill"}, by=world.head, at=make.NOW)

    assert in_one_order(world, "H-20", "H-10")
    assert [turn.waiting for turn in turns(world.school, make.TODAY)] == [Waiting.HANDED_IN, Waiting.FAMILY]


@pytest.mark.django_db(transaction=True)
def test_whoever_takes_the_last_part_while_others_go_on_with_their_jobs_all_have_their_turns():
    world = Bench(None)
    jobs = [world.job(nth, "string-broken") for nth in range(4)]
    make.part(world.school, name="cork", on_hand=1, mends=["string-broken"])
    use = [
        partial(use_part, job=job, part=part, count=1, **world.who)
        for job, part in zip(jobs, Part.objects.order_by("-pk"), strict=False)
    ]
    seen = [job.steps.values_list("pk", flat=True).last() or 0 for job in jobs]
    tap = [
        partial(move_job, job=job, seen=step, state="bench", **world.who)
        for job, step in zip(jobs[2:], seen[2:], strict=True)
    ]

    outcomes = all_at_once([*use, *tap])

    assert [one for one in outcomes if isinstance(one, Exception)] == []
    assert list(kept_otherwise([job.pk for job in jobs])) == []


def test_two_records_of_a_pupil_put_together_leave_no_job_in_another_turn(world):
    job = world.job(0, "slide-loose")
    twice, into = (make.pupil(world.school, name=name) for name in ("Jo Hart", "Jo Hart"))
    make.report(job.horn, world.technician, pupil=twice, job=job)
    world.lend(0, into)

    merge(twice=twice, into=into, by=world.head, at=make.NOW)

    assert in_one_order(world, "H-10")
