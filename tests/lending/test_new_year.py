"""A new school year: what is proposed for each class, what comes of what is chosen, and that all of it is done."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.actions.dates import renew
from fleet.lending.actions.new_year import begin_year
from fleet.lending.forms.new_year import NewYearForm
from fleet.lending.models import Loan
from fleet.lending.queries.new_year import (
    ClassNow,
    ClassWish,
    YearWish,
    classes_with_pupils,
    last_class,
    look_over,
)
from fleet.letters.queries.due import occasion_of
from fleet.people.models import Holiday, Pupil, School
from fleet.people.queries.school_days import SchoolDays, school_days
from fleet.record.models import Act, Deed
from fleet.register.models import Horn
from tests import make
from tests.pages import folded

DAY = timedelta(days=1)
# The year that runs ends on a Friday, the next on a Saturday.
ENDS, NEXT = date(2027, 7, 30), date(2028, 7, 29)
LAST = date(2027, 7, 28)

pytestmark = [pytest.mark.either_engine, pytest.mark.usefixtures("at_noon")]


@pytest.mark.parametrize(
    ("year", "group", "number", "then"),
    [
        ("", "5a", 5, ("", "6a")),
        ("5", "5a", 5, ("6", "6a")),
        ("", "Brass 9", 9, ("", "Brass 10")),
        ("5", "Band", 5, ("6", "Band")),
        ("", "Band", None, ("", "Band")),
        ("", "", None, ("", "")),
        # A number that is no year is part of the name.
        ("5", "Band 2", 5, ("6", "Band 2")),
        ("", "1a", 1, ("", "2a")),
        ("", "0a", None, ("", "0a")),
        ("", "13", 13, ("", "14")),
        ("", "14", None, ("", "14")),
        ("", "Big Band 2000", None, ("", "Big Band 2000")),
        ("²", "5a", 5, ("²", "6a")),
        ("Q", "5a", 5, ("Q", "6a")),
    ],
)
def test_the_next_name_of_a_class_is_proposed_from_its_number(year, group, number, then):
    one = ClassNow(year, group)
    assert (one.number, (one.next_year, one.next_group)) == (number, then)


@pytest.mark.parametrize(
    ("groups", "leaves"),
    [(["5a", "6b", "6c"], 6), (["5a", "5b"], None), (["5a", "Band"], None), (["Band"], None), ([], None)],
)
def test_the_highest_year_is_proposed_to_leave_where_there_are_several(groups, leaves):
    assert last_class([ClassNow("", group) for group in groups]) == leaves


def a_class(*loans: Loan, group: str = "5a") -> ClassNow:
    pupils = [Pupil(pk=at, name=f"P{at}", group=group) for at, _ in enumerate(loans, 1)]
    for pupil, loan in zip(pupils, loans, strict=True):
        pupil.out = [loan]
    return ClassNow("", group, pupils)


def lent(due_on: date, grade: int = 1) -> Loan:
    return Loan(horn=Horn(number="H", grade=grade), due_on=due_on)


def then(now: ClassNow, loans: str, *, leaves=False, last_day=LAST, holidays=(), today=make.TODAY, **more):
    wish = YearWish(NEXT, last_day, {now.key: ClassWish(leaves, "6a", loans)})
    return look_over([now], wish, SchoolDays(300, ENDS, holidays), left_out=more.get("left_out", ()), today=today)


@pytest.mark.parametrize(
    ("due_on", "renewed"), [(ENDS, 1), (date(2028, 7, 27), 1), (date(2028, 7, 28), 0), (date(2028, 7, 29), 0)]
)
def test_a_loan_is_renewed_until_the_last_school_day_of_the_new_year_if_that_is_later(due_on, renewed):
    plan = then(a_class(lent(due_on)), "renew")
    assert plan.until == date(2028, 7, 28)
    assert (len(plan.renewed), len(plan.classes[0].as_is)) == (renewed, 1 - renewed)


@pytest.mark.parametrize(("grade", "renewed"), [(3, 1), (4, 0)])
def test_a_horn_that_must_not_be_played_is_not_renewed(grade, renewed):
    assert len(then(a_class(lent(ENDS, grade)), "renew").renewed) == renewed


@pytest.mark.parametrize(("due_on", "recalled"), [(LAST + DAY, 1), (LAST, 0)])
def test_a_loan_is_called_back_by_the_last_day_if_it_is_due_later(due_on, recalled):
    plan = then(a_class(lent(due_on)), "recall", leaves=True)
    assert (plan.back_by, len(plan.recalled)) == (LAST, recalled)


@pytest.mark.parametrize(
    ("last_day", "today", "back_by"),
    [
        # In a holiday: on the school day before, never after the last day.
        (LAST, make.TODAY, date(2027, 7, 26)),
        # No school day is left before it.
        (LAST, date(2027, 7, 27), LAST),
        (LAST, LAST, LAST),
        # Past already: on the next school day.
        (LAST, date(2027, 7, 29), date(2027, 7, 29)),
        (LAST, date(2027, 7, 31), date(2027, 8, 2)),
    ],
)
def test_horns_of_leavers_are_wanted_by_a_school_day_and_not_after_their_last(last_day, today, back_by):
    away = [Holiday(name="Trip", first=date(2027, 7, 27), last=date(2027, 7, 28))]
    plan = then(a_class(lent(NEXT)), "recall", leaves=True, last_day=last_day, today=today, holidays=away)
    assert plan.back_by == back_by


def test_what_stays_as_it_is_and_who_is_left_out_move_nothing():
    plan = then(a_class(lent(ENDS), lent(ENDS)), "as-is", left_out={1})
    assert (plan.renewed, plan.recalled) == ([], [])
    assert [pupil.pk for pupil in plan.changes] == [2]
    assert len(plan.classes[0].as_is) == 1


def test_two_classes_that_would_bear_one_name_are_pointed_out():
    first, second = a_class(lent(ENDS)), a_class(lent(ENDS), group="6a")
    wish = YearWish(NEXT, LAST, {first.key: ClassWish(False, "6a", "as-is")})
    assert look_over([first, second], wish, SchoolDays(300), left_out=(), today=make.TODAY).together == ["6a"]
    wish.classes[second.key] = ClassWish(True, "", "recall")
    assert look_over([first, second], wish, SchoolDays(300), left_out=(), today=make.TODAY).together == []
    # Pupils of several classes may be in none afterwards.
    wish.classes.update({one.key: ClassWish(False, "", "as-is") for one in (first, second)})
    assert look_over([first, second], wish, SchoolDays(300), left_out=(), today=make.TODAY).together == []


def said(form: NewYearForm, **changes):
    filled = {name: field.initial if field.initial is not None else "" for name, field in form.fields.items()}
    return {**filled, **form.initial, **changes}


def form_of(*groups: str, ends: date | None = ENDS, sent=None):
    classes = [ClassNow("", group) for group in groups]
    more = {"school": School(year_ends=ends), "classes": classes, "days": SchoolDays(300, ends), "today": make.TODAY}
    return NewYearForm(said(NewYearForm(**more), **sent) if sent is not None else None, **more)


@pytest.mark.parametrize(
    ("sent", "wrong"),
    [
        ({}, None),
        ({"ends": ""}, "ends"),
        ({"ends": ENDS}, "ends"),
        ({"ends": ENDS + DAY}, None),
        ({"ends": make.TODAY + 733 * DAY}, "ends"),
        ({"last_day": make.TODAY - 366 * DAY}, None),
        ({"last_day": make.TODAY - 367 * DAY}, "last_day"),
        ({"last_day": date(2028, 7, 29)}, None),
        ({"last_day": date(2028, 7, 30)}, "last_day"),
        ({"c0-ticked": "", "c1-ticked": "", "c2-ticked": ""}, "__all__"),
        ({"were": "other classes"}, "__all__"),
        ({"c0-group": ""}, "c0-group"),
        ({"c0-group": "x" * 60}, None),
        ({"c0-group": "x" * 61}, "c0-group"),
        ({"c0-ticked": "", "c0-group": ""}, None),
        ({"c1-group": ""}, None),
        ({"c1-loans": "renew"}, "c1-loans"),
        ({"c0-loans": "recall"}, None),
        ({"c0-pupils": "?"}, "c0-pupils"),
        ({"c0-group": "Wind-Band"}, "c0-another"),
        ({"c0-group": "Wind-Band", "c0-another": "on"}, None),
        ({"c0-group": "Wind-Band", "c0-ticked": ""}, None),
        ({"c1-group": "Wind-Band"}, None),
        ({"c0-group": "Wind band"}, None),
        ({"c2-group": "Wind bands"}, "c2-another"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(sent, wrong):
    form = form_of("5a", "6a", "Wind band", sent=sent)
    assert [*form.errors] == ([wrong] if wrong else [])


def test_what_is_proposed_goes_on_but_for_the_last_year():
    form = form_of("5a", "6a", "Band", sent={})
    assert form.is_valid(), form.errors
    wish = form.wish()
    assert (wish.ends, wish.last_day) == (date(2028, 7, 30), ENDS)
    assert list(wish.classes.values()) == [
        ClassWish(False, "6a", "renew"), ClassWish(True, "7a", "recall"), ClassWish(False, "Band", "renew"),
    ]  # fmt: skip


@pytest.fixture
def world(db, as_):
    """Two classes, each with a horn out that is due when the year ends."""
    school = make.school(year_ends=ENDS, family_languages=["de"])
    head = make.staff(Role.HEAD, school)
    loans = []
    for group, year, spoken in (("5a", "5", ""), ("6a", "6", "de")):
        pupil = make.pupil(school, make.guardian(school, language=spoken), group=group, year=year)
        loans.append(make.loan(make.horn(school), pupil, head, due_on=ENDS))
    return school, head, loans


def here(school):
    return reverse("loans:new-year", args=[school.slug])


def sent(page):
    form = page.context["form"]
    return {name: value for name in form.fields if (value := form[name].value()) not in (None, False)}


def test_a_school_year_begins_with_what_was_looked_over(world, as_):
    school, head, (stays, goes) = world
    client = as_(head)
    make.ask(stays, stays.guardian.user, kind="renew")
    out = make.pupil(school, group="5a", year="5")
    chosen = {**sent(client.get(here(school))), "last_day": LAST.isoformat()}

    look = client.post(here(school), {**chosen, "do": "look"})
    assert look.status_code == 200
    text = " ".join(look.content.decode().split())
    assert "Becomes <b>year 6, 6a</b>." in text
    assert "Leaves the school on 28 July 2027." in text
    assert "it cannot be undone" in text
    assert client.post(here(school), {**chosen, "do": "change"}).status_code == 200
    assert School.objects.get(pk=school.pk).year_ends == ENDS

    seen = look.context["plan"].proof
    answer = client.post(here(school), {**sent(look), "do": "begin", "seen": seen, "left_out": out.pk}, follow=True)
    assert "Loans renewed: 1. Called back: 1. The next letters say so." in answer.content.decode()

    for row in (stays, goes, out, stays.pupil, goes.pupil, stays.horn, goes.horn, school):
        row.refresh_from_db()
    assert (school.year_ends, stays.due_on, goes.due_on) == (date(2028, 7, 30), date(2028, 7, 28), LAST)
    assert (stays.pupil.group, stays.pupil.year, stays.pupil.left_on) == ("6a", "6", None)
    assert (goes.pupil.group, goes.pupil.left_on) == ("6a", LAST)
    assert (out.group, out.year) == ("5a", "5")
    assert (stays.horn.due_on, stays.horn.holder_group, goes.horn.due_on) == (stays.due_on, "6a", LAST)
    assert stays.asks.get().answer == "Yes: it is due back on 28 July 2028 now."
    assert (occasion_of(goes, [], [], make.TODAY), goes.recall.reason) == ("recalled", "Das Schuljahr ist zu Ende.")
    told = Act.objects.get(deed=Deed.YEAR_BEGUN).lines
    assert told == [
        ["the school year ends on", "2027-07-30", "2028-07-30"],
        ["class of 1", "year 5, 5a", "year 6, 6a"],
        ["class of 1", "year 6, 6a", "left on 2027-07-28"],
        ["loans renewed", "1, due on 2028-07-28"],
        ["loans called back", "1, due on 2027-07-28"],
    ]
    assert not Act.objects.filter(deed__in=[Deed.LOAN_RENEWED, Deed.LOAN_RECALLED, Deed.PUPIL_CHANGED]).exists()


@pytest.mark.parametrize("meanwhile", ["a loan", "a pupil", "nothing"])
def test_what_somebody_changed_meanwhile_refuses_all_of_it(world, meanwhile):
    school, head, (stays, _) = world
    found = classes_with_pupils(school)
    wish = YearWish(NEXT, LAST, {one.key: ClassWish(False, one.next_group, "renew") for one in found})
    seen = look_over(found, wish, school_days(school), left_out=(), today=make.TODAY).proof
    if meanwhile == "a loan":
        renew(loan=stays, due_on=ENDS + DAY, due_seen=ENDS, reason="", by=head, at=make.NOW)
    elif meanwhile == "a pupil":
        make.pupil(school, group="5a", year="5")

    act = {"school": school, "wish": wish, "left_out": (), "seen": seen, "by": head, "at": make.NOW}
    if meanwhile == "nothing":
        assert len(begin_year(**act).renewed) == 2
        return
    with pytest.raises(Refused, match="meanwhile"):
        begin_year(**act)
    assert Pupil.objects.get(pk=stays.pupil_id).group == "5a"


def test_a_stale_look_comes_back_with_how_it_is_now_and_who_was_left_out(world, as_):
    school, head, (stays, _) = world
    client = as_(head)
    chosen = {**sent(client.get(here(school))), "do": "begin"}
    answer = client.post(here(school), {**chosen, "seen": "0" * 64, "left_out": stays.pupil_id})
    assert (answer.status_code, (page := folded(answer)).count("checked")) == (409, 1)
    assert "Look it over once more." in page
    assert f'name="left_out" value="{stays.pupil_id}" checked' in page


def test_a_school_without_pupils_is_told_so(db, as_):
    school = make.school()
    assert "No pupil is on record" in as_(make.staff(Role.HEAD, school)).get(here(school)).content.decode()


@pytest.mark.parametrize("rows", [1, 3])
def test_a_school_year_takes_as_many_queries_for_three_as_for_one(db, as_, rows, django_assert_num_queries):
    school = make.school(year_ends=ENDS)
    head = make.staff(Role.HEAD, school)
    for n in range(rows):
        pupil = make.pupil(school, make.guardian(school), group=f"{n + 5}a", year="")
        make.loan(make.horn(school), pupil, head, due_on=ENDS)
    client = as_(head)
    with django_assert_num_queries(7):  # session, account, seat, holidays, classes, their pupils, their loans
        page = client.get(here(school))
    with django_assert_num_queries(7):
        look = client.post(here(school), {**sent(page), "do": "look"})
    assert len(look.context["plan"].classes) == rows
