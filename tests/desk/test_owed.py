"""What is owed about a horn is told once: on Today, in the list of horns and on the horn's own page."""

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.ground.wording import day
from fleet.register.actions.disposing import propose
from fleet.register.actions.keeping import keep
from fleet.register.actions.restringing import restring
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn
from fleet.register.queries.horns_now import horns_now, owing_something, owings
from fleet.workshop.models import Part, RepairJob
from tests import make
from tests.reading import horn_now

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("day_as_read")]
NOW = timezone.now()
TODAY = timezone.localdate(NOW)
ROLES = (Role.HEAD, Role.TEACHER, Role.TECHNICIAN)


def ago(days):
    return TODAY - timedelta(days=days)


class Told:
    """One horn of a school, made to wait for each thing in turn."""

    def __init__(self, school):
        self.school = school
        self.head = make.staff(Role.HEAD, school)
        self.pupil = make.pupil(school, make.guardian(school))

    def sound(self, **fields):
        horn = make.horn(self.school, **fields)
        make.check(horn, self.head, at=NOW - timedelta(days=2))
        return horn

    def out(self, **fields):
        given = {"issued_on": ago(30), "due_on": TODAY + timedelta(days=90), **fields}
        return make.loan(self.sound(), self.pupil, self.head, **given)

    def back(self, **fields):
        return self.out(returned_on=TODAY, mouthpiece_cleaned_on=TODAY, mouthpiece_cleaned_by=self.head, **fields)

    def noted(self):
        loan = self.out()
        make.return_note(loan, self.head, at=NOW)
        return loan.horn

    def overdue(self):
        return self.out(due_on=ago(1)).horn

    def unsigned(self):
        return self.out(signed_on=None, from_list=True).horn

    def leaver(self):
        loan = self.out()
        loan.pupil.left_on = TODAY
        loan.pupil.save()
        return loan.horn

    def ask(self):
        loan = self.out()
        make.ask(loan, self.pupil.guardians.get().user)
        return loan.horn

    def recall(self):
        return make.recalled(self.out(due_on=TODAY), self.head).horn

    def found(self):
        loan = self.back(lost_words="Left in a tram")
        return loan.horn

    def mouthpiece(self):
        return self.out(returned_on=TODAY).horn

    def accessory(self):
        loan = self.back()
        loan.accessories.filter(name="case").update(came_back=False)
        return loan.horn

    def charge(self):
        loan = self.back()
        make.charge(loan, self.head)
        return loan.horn

    def signature(self):
        horn = self.sound()
        make.signature(horn, self.pupil, self.head)
        return horn

    def sheet(self):
        horn = self.sound()
        make.sheet(horn, self.pupil, self.head)
        return horn

    def report(self):
        horn = self.sound()
        make.report(horn, self.pupil.guardians.get().user, pupil=self.pupil)
        return horn

    def job(self):
        horn = self.sound()
        make.job(horn, self.head)
        return horn

    def away_late(self):
        horn = self.sound()
        make.job(horn, self.head, state="away", repairer="Brass House", sent_on=ago(20), expected_on=ago(1))
        return horn

    def mended(self):
        horn = self.sound()
        make.check(horn, self.head, grade=3, at=NOW - timedelta(days=1))
        make.job(horn, self.head, state="done", at=NOW - timedelta(hours=1))
        return horn

    def fetch(self):
        horn, before = self.out().horn, NOW - timedelta(hours=2)
        make.job(horn, self.head, state="done", at=before, brought_at=before)
        make.check(horn, self.head, at=NOW)
        return horn

    def check(self):
        horn = make.horn(self.school)
        make.check(horn, self.head, at=NOW - timedelta(days=self.school.check_days + 1))
        return horn

    def reserved(self):
        horn = self.sound()
        make.wish(self.pupil, self.head, horn=horn, reserved_until=TODAY)
        return horn

    def unidentified(self):
        return self.sound(build="")

    def test_note(self):
        horn = self.sound(build="double-full", stands_in="F")
        restring(horn=horn, stands_in="Bb", reason="New class", by=self.head, at=NOW)
        return horn

    def not_found(self):
        horn = self.sound()
        change_standing(horn=horn, kind="not-found", reason="The count", by=self.head, at=NOW)
        return horn

    def to_decide(self):
        horn = self.sound()
        other = make.staff(Role.HEAD, self.school)
        propose(horn=horn, method="sold", on=TODAY, reason="Two of a kind", by=other, at=NOW)
        return horn


CODES = sorted(name for name in vars(Told) if name not in {"sound", "out", "back"} and not name.startswith("_"))


@pytest.fixture
def told():
    return Told(make.school(check_days=365))


@pytest.fixture
def elsewhere():
    return Told(make.school(check_days=365))


def test_each_thing_that_can_be_owed_is_tried_here():
    assert {name.replace("_", "-") for name in CODES} == set(owings())


@pytest.mark.parametrize("name", CODES)
def test_what_is_owed_is_told_of_the_horn_and_of_no_other_on_today_and_in_the_list_too(as_, told, elsewhere, name):
    code = name.replace("_", "-")
    plain, horn, other = told.sound(), getattr(told, name)(), getattr(elsewhere, name)()
    horns = Horn.objects.at(told.school)

    now = horns_now([one.pk for one in (plain, horn, other)], school=told.school, today=TODAY)

    assert code in {owed.code for owed in now[horn.pk].owed}
    assert now[plain.pk].owed == []
    assert other.pk not in now
    assert list(owing_something(horns, school=told.school, today=TODAY, code=code)) == [horn]
    assert list(owing_something(horns, school=told.school, today=TODAY)) == [horn]
    assert now[horn.pk].owed == horn_now(Horn.objects.get(pk=horn.pk), today=TODAY).owed

    another = told.mouthpiece() if name == "charge" else told.charge()
    client = as_(told.head)
    base = f"/s/{told.school.slug}/"
    piles = [pile for pile in client.get(base).context["piles"] if pile.title == owings()[code].title]
    listed = client.get(f"{base}horns/?owed={code}").content.decode()

    assert [str(horn) in task.what for pile in piles for task in pile.tasks] == [True]
    # No day is said twice.
    assert not [task for pile in piles for task in pile.tasks if task.when and day(task.when) in task.why]
    assert [str(one) in listed for one in (horn, other, another)] == [True, False, False]
    assert str(another) in client.get(f"{base}horns/?owed=something").content.decode()


@pytest.mark.parametrize(
    ("role", "codes"),
    [
        (Role.TEACHER, {"mouthpiece", "not-found", "recall", "charge", "accessory", "mended", "leaver", "overdue"}),
        (Role.TECHNICIAN, {"away-late", "mended", "job", "report", "mouthpiece", "test-note"}),
    ],
)
def test_each_role_sees_what_it_can_do_something_about(as_, told, role, codes):
    for code in codes:
        getattr(told, code.replace("-", "_"))()

    piles = {pile.title for pile in as_(make.staff(role, told.school)).get(f"/s/{told.school.slug}/").context["piles"]}

    assert {owings()[code].title for code in codes} <= piles


def test_a_technicians_day_has_the_visit_the_care_and_the_parts_to_order(as_, told):
    told.job()
    make.part(told.school, name="String, long", on_hand=0, minimum=2)

    page = as_(make.staff(Role.TECHNICIAN, told.school)).get(f"/s/{told.school.slug}/")

    titles = [pile.title for pile in page.context["piles"]]
    assert {"Care that is due", "Parts to order"} <= set(titles)
    assert "minutes" in page.context["visit_form"].fields
    assert "Order 2 × String, long" in page.content.decode()
    assert not any(task.late for pile in page.context["piles"] for task in pile.tasks)


def test_a_part_that_is_on_its_way_is_not_to_be_ordered_again(as_, told):
    part = make.part(told.school, on_hand=0, minimum=2, ordered_on=make.TODAY, arrived_on=None)
    client = as_(make.staff(Role.TECHNICIAN, told.school))

    def titles() -> set[str]:
        return {pile.title for pile in client.get(f"/s/{told.school.slug}/").context["piles"]}

    assert "Parts to order" not in titles()
    Part.objects.filter(pk=part.pk).update(arrived_on=make.TODAY)
    assert "Parts to order" in titles()


@pytest.mark.parametrize("count", [1, 3])
def test_what_is_so_of_horns_asks_for_what_is_owed_alone_however_many(told, django_assert_num_queries, count):
    horns = [horn.pk for _ in range(count) for horn in (told.mouthpiece(), told.job())]

    # What is owed, and all rows; a mouthpiece stands on the horn itself.
    with django_assert_num_queries(2):
        horns_now(horns, school=told.school, today=TODAY)


def test_either_side_of_the_days(told):
    assert "overdue" not in {owed.code for owed in horn_now(told.out(due_on=TODAY).horn, today=TODAY).owed}
    recalled = told.recall()
    assert {owed.code for owed in horn_now(recalled, today=TODAY).owed} == {"recall"}
    assert {owed.code for owed in horn_now(recalled, today=TODAY + timedelta(days=1)).owed} == {"overdue"}
    away = told.away_late()
    RepairJob.objects.update(expected_on=TODAY)
    assert {owed.code for owed in horn_now(away, today=TODAY).owed} == {"job"}
    looked = make.horn(told.school)
    make.check(looked, told.head, at=NOW - timedelta(days=told.school.check_days))
    assert horn_now(looked, today=TODAY).owed == []
    assert {owed.code for owed in horn_now(looked, today=TODAY + timedelta(days=1)).owed} == {"check"}


def test_what_was_mended_is_owed_one_check_and_not_two_however_long_ago_it_was_looked_over(told):
    horn = told.check()
    make.job(horn, told.head, state="done", at=NOW - timedelta(hours=1))

    assert [owed.code for owed in horn_now(Horn.objects.get(pk=horn.pk), today=TODAY).owed] == ["mended"]


def test_ready_in_the_list_is_what_nothing_keeps_back(as_, told):
    for name in CODES:
        getattr(told, name)()
    keep(Horn.objects.at(told.school))
    horns = list(Horn.objects.at(told.school))

    page = as_(told.head).get(f"/s/{told.school.slug}/horns/?ready=yes").content.decode()

    assert {horn.pk for horn in horns if not horn.kept_back} == {horn.pk for horn in horns if horn.may_be_lent}
    assert {str(horn) for horn in horns if str(horn) in page} == {str(horn) for horn in horns if horn.may_be_lent}


def test_of_what_is_owed_about_a_horn_the_late_stands_first(told):
    horn = told.ask()
    make.job(horn, told.head, state="away", repairer="Brass House", sent_on=ago(20), expected_on=ago(1))

    late = [one.late for one in horn_now(horn, today=TODAY).owed]

    assert late == sorted(late, reverse=True)
    assert set(late) == {True, False}
