"""Where a pile of Today leads when it has more than it shows: to as many as it says, or to a list of more, unsaid."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.register.models import Horn
from tests import make

pytestmark = pytest.mark.django_db
MANY = 7
DAY = timedelta(days=1)


@pytest.fixture
def world(as_):
    class World:
        school = make.school(soon_days=14)
        head = make.staff(Role.HEAD, school)
        browser = as_(head)
        today = timezone.localdate()

        def out(self, due_on, **pupil):
            pupil = make.pupil(self.school, make.guardian(self.school), **pupil)
            return make.loan(make.horn(self.school), pupil, self.head, issued_on=self.today - 9 * DAY, due_on=due_on)

        def leads(self, title):
            """What the link under the pile says, and the page it leads to."""
            page = self.browser.get(f"/s/{self.school.slug}/")
            pile = next(pile for pile in page.context["piles"] if pile.title == title)
            said = page.content.decode().split(f"<h2>{title}</h2>")[1].split("</section>")[0].split("<p>")[1]
            return said.split(">")[1].split("<")[0], self.browser.get(pile.everything)

    return World()


def test_horns_due_for_a_check_are_as_many_in_the_list(world):
    for _ in range(MANY):
        make.horn(world.school)
    make.check(make.horn(world.school), world.head, at=timezone.now())

    said, leads_to = world.leads("Due for a check")

    assert said == f"All {MANY}"
    assert len(leads_to.context["page"].rows) == MANY


def test_horns_not_identified_are_as_many_in_the_list_without_those_not_found(world):
    for _ in range(MANY):
        make.horn(world.school, build="")
    Horn.objects.filter(pk=make.horn(world.school, build="").pk).update(not_found_on=world.today)

    said, leads_to = world.leads("Not identified yet")

    assert said == f"All {MANY}"
    assert len(leads_to.context["page"].rows) == MANY


def test_loans_due_soon_lead_to_a_list_that_has_the_called_back_too_and_say_no_number(world):
    for _ in range(MANY):
        world.out(world.today + 5 * DAY)
    make.recalled(world.out(world.today + 5 * DAY), world.head)

    said, leads_to = world.leads("Due soon")

    assert said == "All of them"
    assert len(leads_to.context["page"].rows) == MANY + 1


def test_what_leads_to_a_list_of_more_than_itself_says_no_number(world):
    for _ in range(MANY):
        horn = make.horn(world.school)
        make.report(horn, world.head)
        make.job(horn, world.head)
        kept = make.horn(world.school)
        make.wish(make.pupil(world.school), world.head, horn=kept, reserved_until=world.today + 9 * DAY)

    for title in ("Families report", "On the bench list", "Kept for a pupil"):
        assert world.leads(title)[0] == "All of them", title


def test_who_waits_for_a_horn_that_is_ready_leads_to_all_who_wait(world):
    ready = make.horn(world.school, build="single-f", stands_in="F")
    make.check(ready, world.head)
    for _ in range(MANY):
        make.wish(make.pupil(world.school), world.head)

    assert world.leads("Somebody waits for a horn that is ready")[0] == "All of them"
