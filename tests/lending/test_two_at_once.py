"""Two people lending the same horn at the same moment, with real threads and real connections."""

from __future__ import annotations

from functools import partial

import pytest

from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.register.models import Horn
from tests import make
from tests.at_once import all_at_once
from tests.lent import set_up

PEOPLE = 6


@pytest.mark.django_db(transaction=True)
def test_one_of_those_who_lend_a_horn_at_once_succeeds_and_the_others_read_who_has_it():
    lending = set_up()
    pupils = [make.pupil(lending.school, lending.guardian) for _ in range(PEOPLE)]

    outcomes = all_at_once([partial(lending.issue, pupil=pupil) for pupil in pupils])

    loan = Loan.objects.select_related("pupil").get(horn=lending.horn)
    refusals = [outcome for outcome in outcomes if isinstance(outcome, Refused)]
    assert outcomes.count(loan) == 1
    assert len(refusals) == PEOPLE - 1
    assert {no.sentence for no in refusals} == {
        f"{lending.horn} is out: {loan.pupil.name} has it, due back on 2 April 2027."
    }
    horn = Horn.objects.get(pk=lending.horn.pk)
    assert (horn.holder_name, horn.due_on) == (loan.pupil.name, loan.due_on)


@pytest.mark.django_db(transaction=True)
def test_a_horn_that_two_take_back_at_once_comes_back_once_with_one_check():
    lending = set_up()
    loan = lending.issue()

    outcomes = all_at_once([lambda: lending.give_back(loan)] * 2)

    assert sorted(type(outcome).__name__ for outcome in outcomes) == ["Loan", "Refused"]
    assert lending.horn.checks.filter(occasion="on-return").count() == 1


@pytest.mark.django_db(transaction=True)
def test_horns_lent_at_once_to_one_pupil_all_go_out_and_the_first_words_are_kept_once():
    lending = set_up()
    horns = [make.horn(lending.school) for _ in range(4)]
    checks = [make.check(horn, lending.teacher) for horn in horns]

    outcomes = all_at_once(
        [partial(lending.issue, horn=horn, check_seen=check.pk) for horn, check in zip(horns, checks, strict=True)]
    )

    assert [type(outcome).__name__ for outcome in outcomes] == ["Loan"] * 4
    assert lending.school.agreements.count() == 1
