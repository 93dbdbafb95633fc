"""The record of acts is in English, in whatever language whoever acts reads the pages."""

from __future__ import annotations

import ast
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from django.utils.translation import get_language, override

from fleet.ground.access import Role
from fleet.ground.languages.known import kept_in_english
from fleet.lending.actions import accessories, charges
from fleet.lending.actions.pupils import merge
from fleet.lending.actions.wishes import wait_no_longer
from fleet.people.actions.staff import appoint, change_post
from fleet.record.models import Act
from fleet.register.actions.disposing import propose
from fleet.register.actions.identifying import put_on_horn
from fleet.register.models import Disposal
from fleet.workshop.actions.care import take_back_care
from identify.core.reasoning.evidence import Observations
from tests import make
from tests.house import modules

pytestmark = pytest.mark.django_db


def told() -> str:
    return Act.objects.latest("pk").told


@pytest.fixture
def by() -> Any:
    return make.staff(Role.HEAD, make.school())


def a_post_given(by: Any) -> None:
    new = {"name": "Bo", "email": "bo@example.org", "role": "technician"}
    appoint(school=by.posts.get().school, **new, by_role="head", by=by, at=make.NOW)


def a_post_changed(by: Any) -> None:
    post = make.staff(Role.TEACHER, by.posts.get().school).posts.get()
    change_post(post=post, role="technician", by_role="head", by=by, at=make.NOW)


def a_charge_paid(by: Any) -> None:
    loan = make.loan(make.horn(by.posts.get().school), make.pupil(by.posts.get().school), by)
    charges.settle(charge=make.charge(loan, by), state="paid", by=by, at=make.NOW)


def a_thing_settled(by: Any) -> None:
    loan = make.loan(make.horn(by.posts.get().school), make.pupil(by.posts.get().school), by)
    missing = loan.accessories.create(name="mute", came_back=False)
    accessories.settle(accessory=missing, settled_as="replaced", by=by, at=make.NOW)


def a_horn_to_be_given_up(by: Any) -> None:
    horn = make.horn(by.posts.get().school)
    propose(horn=horn, method=Disposal.Method.values[0], on=make.TODAY, reason="Worn", by=by, at=make.NOW)


def care_taken_back(by: Any) -> None:
    school = by.posts.get().school
    noted = make.care(make.horn(school), by, "oil")
    take_back_care(of=noted.pk, school=school, by=by, at=make.NOW)


def a_wish_ended(by: Any) -> None:
    wish = make.wish(make.pupil(by.posts.get().school), by, kind="single", compact=True, stands_in="F")
    wait_no_longer(wish=wish, by=by, at=make.NOW)


def a_horn_identified(by: Any) -> None:
    horn = make.horn(by.posts.get().school, build="single-f", stands_in="F")
    found = {"build": "double-full", "stands_in": "Bb"}
    put_on_horn(horn=horn, observations=Observations({"valves": "4"}), **found, by=by, at=make.NOW)


def two_records_of_a_pupil_merged(by: Any) -> None:
    school = by.posts.get().school
    merge(twice=make.pupil(school, year="5"), into=make.pupil(school), by=by, at=make.NOW)


ACTS = [
    a_post_given,
    a_post_changed,
    a_charge_paid,
    a_thing_settled,
    a_horn_to_be_given_up,
    care_taken_back,
    a_wish_ended,
    a_horn_identified,
    two_records_of_a_pupil_merged,
]


@pytest.mark.parametrize("act", ACTS)
def test_what_is_told_is_english_whoever_acts(act: Any, by: Any) -> None:
    act(by)
    english = told()

    with override("de"):
        other = make.staff(Role.HEAD, make.school())
        act(other)

    assert words_of(told()) == words_of(english)


def test_two_who_act_at_the_same_moment_go_on_each_in_their_own_language() -> None:
    both_inside = Barrier(2, timeout=30)

    @kept_in_english()
    def kept() -> None:
        both_inside.wait()

    def act(language: str) -> str | None:
        with override(language):
            kept()
            return get_language()

    with ThreadPoolExecutor(2) as threads:
        assert list(threads.map(act, ("de", "fr"))) == ["de", "fr"]


def test_no_function_is_put_into_a_language_that_all_threads_share() -> None:
    shared = {
        f"{module.path}: {ast.unparse(one)}"
        for module in modules().values()
        for node in ast.walk(module.tree)
        for one in getattr(node, "decorator_list", ())
        if ast.unparse(one).partition("(")[0].rpartition(".")[2] == "override"
    }

    assert shared == set()


def words_of(told: str) -> list[str]:
    """Without what names the rows themselves."""
    return [word for word in told.replace('"', " ").split() if not any(sign.isdigit() for sign in word)]
