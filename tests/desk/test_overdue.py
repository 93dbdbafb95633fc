"""What is overdue is told once: every list, page and letter draws the line between the same two days."""

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.ground.due import DueDay
from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.letters.models import LendingRules
from fleet.letters.queries.due import due_letters
from fleet.workshop.models import RepairJob
from fleet.workshop.queries.bench import Waiting
from fleet.workshop.queries.care import care_due, care_of, first_due
from fleet.workshop.queries.in_turn import turns
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("day_as_read")]
NOW = timezone.now()
TODAY = timezone.localdate(NOW)
DAY = timedelta(days=1)
ENDS = {"long over": -30, "yesterday": -1, "today": 0, "tomorrow": 1}
OVER = {"long over", "yesterday"}


@pytest.mark.parametrize(
    ("days", "is_over", "near", "words"),
    [
        (-2, True, True, "2 days overdue"),
        (-1, True, True, "1 day overdue"),
        (0, False, True, "due today"),
        (1, False, True, "1 day left"),
        (14, False, True, "14 days left"),
        (15, False, False, "15 days left"),
    ],
)
def test_a_due_day_is_over_from_the_day_after(days, is_over, near, words):
    due = DueDay(TODAY + days * DAY, TODAY)
    assert (due.is_over, due.is_near(14), due.words) == (is_over, near, words)


class School:
    """Horns out with families of their own, one for each of `ENDS`, named by it."""

    def __init__(self):
        self.school = make.school(soon_days=14, check_days=3650)
        self.head = make.staff(Role.HEAD, self.school)
        self.loans = {name: self.lend(name, days) for name, days in ENDS.items()}

    def lend(self, name, days):
        horn = make.horn(self.school, number=f"N-{name.replace(' ', '-')}")
        pupil = make.pupil(self.school, make.guardian(self.school), name=f"Child of {name}")
        return make.loan(horn, pupil, self.head, issued_on=TODAY - 60 * DAY, due_on=TODAY + days * DAY)

    def at(self, page):
        return f"/s/{self.school.slug}/{page}"


@pytest.fixture
def world():
    School()
    return School()


def names(world, said):
    """Which of the loans a text or rows name."""
    return {name for name, loan in world.loans.items() if loan.horn.number in said}


def in_the_list_of_loans(world, browser):
    return names(
        world, [loan.horn.number for loan in browser.get(world.at("loans/?state=overdue")).context["page"].rows]
    )


def marked_in_the_list_of_loans(world, browser):
    return rows_marked(world, browser.get(world.at("loans/")))


def in_the_list_of_horns(world, browser):
    rows = browser.get(world.at("horns/?owed=overdue")).context["page"].rows
    return names(world, [horn.number for horn in rows])


def marked_in_the_list_of_horns(world, browser):
    return rows_marked(world, browser.get(world.at("horns/")))


def rows_marked(world, answer):
    rows = [row for row in folded(answer).split("<tr") if "overdue</span>" in row]
    return names(world, " ".join(rows))


def on_today(world, browser):
    piles = browser.get(world.at("")).context["piles"]
    return names(world, " ".join(task.what for pile in piles if pile.title == "Overdue" for task in pile.tasks))


def on_the_horns_page(world, browser):
    pages = {name: browser.get(world.at(f"horns/{loan.horn_id}/")) for name, loan in world.loans.items()}
    return {name for name, page in pages.items() if "overdue</span>" in folded(page)}


def on_the_horns_loans(world, browser):
    pages = {name: browser.get(world.at(f"horns/{loan.horn_id}/loans/")) for name, loan in world.loans.items()}
    return {name for name, page in pages.items() if "overdue</span>" in folded(page)}


def on_the_loans_page(world, browser):
    pages = {name: browser.get(world.at(f"loans/{loan.pk}/")) for name, loan in world.loans.items()}
    return {name for name, page in pages.items() if "overdue</span>" in folded(page)}


def on_the_familys_page(world, browser):
    found = set()
    for name, loan in world.loans.items():
        browser.force_login(loan.guardian.user)
        if "It was due back on" in folded(browser.get(f"/family/{loan.pk}/")):
            found.add(name)
    browser.force_login(world.head)
    return found


def by_the_letters(world, browser):
    rules = LendingRules(school=world.school, days_before="", days_after="1")
    return {
        name
        for name, loan in world.loans.items()
        if loan in [one for one, _ in due_letters(world.school, rules, TODAY)]
    }


PLACES = [
    in_the_list_of_loans,
    marked_in_the_list_of_loans,
    in_the_list_of_horns,
    marked_in_the_list_of_horns,
    on_today,
    on_the_horns_page,
    on_the_horns_loans,
    on_the_loans_page,
    on_the_familys_page,
    by_the_letters,
]


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place.__name__)
def test_every_place_tells_the_same_loans_as_overdue(as_, world, place):
    assert place(world, as_(world.head)) == OVER


def test_a_loan_that_has_ended_is_overdue_nowhere(as_, world):
    Loan.objects.filter(pk__in=[loan.pk for loan in world.loans.values()]).update(returned_on=TODAY)

    browser = as_(world.head)
    assert on_the_loans_page(world, browser) == set()
    assert on_the_horns_loans(world, browser) == set()
    assert rows_marked(world, browser.get(world.at("loans/?state=ended"))) == set()


def test_a_family_with_two_horns_reads_which_is_overdue(as_, world):
    guardian = world.loans["today"].guardian
    guardian.pupils.add(world.loans["yesterday"].pupil)

    cards = folded(as_(guardian.user).get("/family/")).split('<li class="card">')[1:]

    assert [("Child of yesterday" in card, "1 day overdue" in card) for card in cards] == [(False, False), (True, True)]


def test_a_loan_that_came_back_after_its_day_says_so_in_the_horns_loans_and_one_on_its_day_does_not(as_, world):
    browser, said = as_(world.head), {}
    for name in ("yesterday", "today"):
        loan = world.loans[name]
        Loan.objects.filter(pk=loan.pk).update(returned_on=TODAY)
        said[name] = "It came late." in folded(browser.get(world.at(f"horns/{loan.horn_id}/loans/")))
    assert said == {"yesterday": True, "today": False}


def test_a_charge_is_overdue_the_day_after_it_was_to_be_paid_in_the_list_and_on_today(as_, world):
    loan, browser = world.loans["tomorrow"], as_(world.head)
    for days in (-1, 0):
        make.charge(loan, world.head, what=f"fee {days}", due_on=TODAY + days * DAY)

    rows = folded(browser.get(world.at("loans/charges/"))).split("<tr")
    pile = next(one for one in browser.get(world.at("")).context["piles"] if one.title == "Charges not paid yet")

    assert [("fee -1" in row, "1 day overdue" in row) for row in rows if "fee " in row] == [
        (True, True),
        (False, False),
    ]
    assert [(task.late, task.why) for task in pile.tasks] == [
        (True, "1 day overdue"),
        (False, f"to be paid by {day(TODAY)}"),
    ]


@pytest.mark.parametrize(("days", "over"), [(-17, True), (0, False)])
def test_a_charge_is_told_alike_wherever_staff_read_of_it(as_, world, days, over):
    loan, browser = world.loans["tomorrow"], as_(world.head)
    charge = make.charge(loan, world.head, due_on=TODAY + days * DAY)
    by = f"to be paid by {day(charge.due_on)}"

    for page in (f"pupils/{loan.pupil_id}/", f"horns/{loan.horn_id}/"):
        told = folded(browser.get(world.at(page)))
        assert ("17 days overdue" in told, by in told) == (over, not over)
    for page in (f"loans/{loan.pk}/", f"loans/charges/{charge.pk}/"):
        assert ("17 days overdue" in folded(browser.get(world.at(page)))) is over
    assert by in folded(browser.get(world.at(f"loans/{loan.pk}/")))


@pytest.mark.parametrize(
    ("fields", "late"),
    [
        ({}, True),
        ({"expected_on": TODAY}, False),
        ({"expected_on": None}, False),
        ({"state": "bench", "back_on": TODAY}, False),
        ({"state": "given-up", "closed_at": NOW}, False),
    ],
    ids=["a day late", "on the day", "no day said", "back", "given up"],
)
def test_a_repairer_is_late_on_the_jobs_page_where_today_says_so(as_, world, fields, late):
    horn = make.horn(world.school)
    job = make.job(horn, world.head, state="away", repairer="Brass House", sent_on=TODAY - 9 * DAY, at=NOW - 9 * DAY)
    RepairJob.objects.filter(pk=job.pk).update(**{"expected_on": TODAY - DAY, **fields})
    browser = as_(world.head)

    page = folded(browser.get(world.at(f"jobs/{job.pk}/")))
    piles = {pile.title: pile.tasks[0].why for pile in browser.get(world.at("")).context["piles"]}

    assert ("1 day overdue</span>" in page, piles.get("Late at the repairer’s")) == (
        late,
        "1 day overdue" if late else None,
    )
    assert RepairJob.objects.late(TODAY).filter(pk=job.pk).exists() is late


@pytest.mark.parametrize(("days", "waiting"), [(-1, 3), (14, 3), (15, 4)])
def test_the_bench_knows_whose_loan_ends_soon_and_says_of_one_that_it_is_over(world, days, waiting):
    loan = world.lend("bench", days)
    make.job(loan.horn, world.head)

    turn = next(one for one in turns(world.school, TODAY))

    assert turn.waiting == Waiting(waiting)
    assert ("1 day overdue" in turn.why) is (days < 0)


@pytest.mark.parametrize(("ago", "is_due"), [(29, False), (30, True), (31, True)])
def test_care_is_due_on_its_day_in_the_list_on_today_and_on_the_horns_own_page(ago, is_due):
    school = make.school(oil_days=30, clean_days=3650, service_days=3650, exercise_days=0)
    head, horn = make.staff(Role.HEAD, school), make.horn(school)
    for kind, days in (("oil", ago), ("clean", 1), ("service", 1)):
        make.care(horn, head, kind, TODAY - days * DAY)

    listed = [due.horn for kind in care_due(school, TODAY).values() for due in kind]
    of_today = [due.horn for due in first_due(school, TODAY, 6)]
    of_horn = [one for one in care_of(horn, TODAY)[0] if one.is_due]

    assert [bool(listed), bool(of_today), bool(of_horn)] == [is_due] * 3


def test_nobody_is_told_to_oil_what_is_at_the_repairers_on_any_page():
    school = make.school()
    head, horn = make.staff(Role.HEAD, school), make.horn(school)
    make.job(horn, head, state="away", repairer="Brass House", sent_on=TODAY)
    horn.refresh_from_db()

    # Its own page says that a service is due; the list is of horns that are here.
    assert {str(one.kind) for one in care_of(horn, TODAY)[0] if one.is_due} == {"service"}
    assert not any(care_due(school, TODAY).values())
