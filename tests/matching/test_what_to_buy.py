"""What to buy, at a school whose cupboard is full of horns that nobody has looked at yet."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.matching.queries.buying import pupils_in_classes, to_buy
from fleet.register.models import Horn
from tests import make
from tests.pages import folded, on_paper

pytestmark = pytest.mark.django_db


class Cupboard:
    """A school with one class, and the horns in the cupboard as a list has brought them in."""

    def __init__(self, *, pupils: int, horns: int, **fields):
        self.school = make.school()
        self.head = make.staff(Role.HEAD, self.school)
        self.pupils = [
            make.pupil(self.school, make.guardian(self.school), name=f"Wren {n:02d}", group="5b") for n in range(pupils)
        ]
        self.horns = [make.horn(self.school, **{"build": "", **fields}) for _ in range(horns)]
        self.home = f"/s/{self.school.slug}/"

    def bought(self):
        return [(lack.what, lack.horns) for lack in to_buy(self.school).lacks]

    def proposal(self, client):
        return client.get(f"{self.home}matching/", {"class": "5b"})

    def picture(self, client):
        return client.get(f"{self.home}picture/")


SINGLE = "single horn that stands in F"


@pytest.mark.parametrize(("pupils", "bought"), [(19, []), (20, [(SINGLE, 1)]), (27, [(SINGLE, 8)])])
def test_only_what_nineteen_horns_nobody_has_identified_cannot_serve_is_to_be_bought(pupils, bought):
    assert Cupboard(pupils=pupils, horns=19).bought() == bought


def test_a_horn_never_checked_is_not_bought_once_more():
    assert Cupboard(pupils=3, horns=2, build="single-f", stands_in="F").bought() == [(SINGLE, 1)]


def test_the_proposal_has_finding_out_and_checking_first_and_equal_lines_once(as_):
    world = Cupboard(pupils=27, horns=19)

    answer = world.proposal(as_(world.head))

    identify, buy = answer.context["steps"]
    assert (identify["what"], len(identify["horns"])) == ("Identify", 19)
    assert identify["words"] == (
        ": nobody has found out yet what it is; it has never been checked, about 20 minutes each."
    )
    assert buy["what"] == f"Buy 8 × {SINGLE}"
    assert (identify["serves"], buy["serves"]) == ("19 pupils", "8 pupils")
    text = folded(answer)
    assert "19 horns could be lent within minutes" in text
    assert text.count("Buy ") == 1
    for horn, address in identify["horns"]:
        assert address == f"{world.home}identify/?horn={horn.pk}"


def test_the_link_beside_the_sentence_shows_just_those_horns(as_):
    world = Cupboard(pupils=27, horns=3)
    make.check(make.horn(world.school), world.head)
    make.horn(world.school, build="", not_found_on=timezone.localdate())
    client = as_(world.head)

    for page in (world.proposal(client), world.picture(client)):
        assert "3 horns could be lent within minutes" in folded(page)
        assert f'href="{world.home}horns/?ready=minutes"' in page.content.decode()
    assert client.get(f"{world.home}horns/?ready=minutes").context["page"].rows == world.horns


def test_the_picture_and_the_yearly_report_say_what_to_do_before_anything_is_bought(as_):
    world = Cupboard(pupils=27, horns=19)
    client = as_(world.head)

    paper = client.get(f"{world.home}prints/yearly-report.pdf").content
    printed = " ".join(on_paper(paper))

    for text in (folded(world.picture(client)), printed):
        assert "19 horns could be lent within minutes" in text
        assert "they may serve 19 pupils who have none" in text
    assert f"{SINGLE} 5b 8" in printed


def test_a_school_that_needs_no_horn_beside_those_says_so(as_):
    world = Cupboard(pupils=1, horns=2)

    text = folded(world.picture(as_(world.head)))

    assert "2 horns could be lent within minutes" in text
    assert "they may serve 1 pupil who has none" in text
    assert "lack no horn that would have to be bought" in text


def test_where_no_pupil_is_served_by_looking_nothing_is_said_of_it(as_):
    world = Cupboard(pupils=1, horns=2, build="marching-mellophone-f")

    page = world.picture(as_(world.head))

    assert world.bought() == [(SINGLE, 1)]
    assert "within minutes" not in folded(page).partition('id="buy"')[2]


def test_a_pupil_who_holds_a_horn_nobody_identified_gets_no_new_one():
    world = Cupboard(pupils=1, horns=1)
    make.loan(world.horns[0], world.pupils[0], world.head)

    assert world.bought() == []


@pytest.mark.parametrize("where", ["elsewhere", "not found", "not to be played"])
def test_a_horn_that_something_keeps_back_for_long_is_not_counted_upon(where):
    world = Cupboard(pupils=1, horns=1)
    (horn,) = world.horns
    if where == "elsewhere":
        make.loan(horn, make.pupil(world.school, group=""), world.head)
    elif where == "not found":
        Horn.objects.filter(pk=horn.pk).update(not_found_on=timezone.localdate())
    else:
        make.check(horn, world.head, grade=4)

    assert world.bought() == [(SINGLE, 1)]


def test_a_mended_horn_is_looked_over_and_not_mended_again(as_):
    world = Cupboard(pupils=1, horns=1, build="single-f", stands_in="F")
    (horn,) = world.horns
    check = make.check(horn, world.head, grade=3)
    later = check.at + timedelta(hours=1)
    make.finding(check, job=make.job(horn, world.head, state="done", at=later), mended_at=later)
    make.keep([horn])
    assert [reason.code for reason in Horn.objects.get().kept_back] == ["mended"]

    (step,) = world.proposal(as_(world.head)).context["steps"]

    assert step["what"] == "Check"
    assert step["words"] == ": nobody has looked it over since it was mended, about 15 minutes."


def test_looking_comes_before_a_repair_that_takes_less_time(as_):
    world = Cupboard(pupils=2, horns=1)
    broken = make.horn(world.school)
    make.finding(make.check(broken, world.head, grade=3), "string-broken", "r")

    steps = world.proposal(as_(world.head)).context["steps"]

    assert [(step["what"], step["words"][-18:]) for step in steps] == [
        ("Identify", " about 20 minutes."),
        ("Mend", " about 15 minutes."),
    ]


def test_only_the_schools_own_pupils_of_today_count_for_how_long_the_answer_takes():
    world, other = Cupboard(pupils=2, horns=0), Cupboard(pupils=1, horns=0)
    make.pupil(world.school, make.guardian(world.school), group="")
    make.pupil(world.school, make.guardian(world.school), group="5b", left_on=timezone.localdate())

    assert (pupils_in_classes(world.school), pupils_in_classes(other.school)) == (2, 1)
