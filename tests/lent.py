from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import pytest

from fleet.ground.access import Role
from fleet.lending.actions import returning
from fleet.lending.models import Loan
from fleet.people.models import Guardian, Pupil, School, User
from fleet.register.models import Horn
from fleet.signing.actions.handing_out import hand_out
from fleet.signing.actions.putting_before import put_before
from fleet.signing.models import OnlineSignature
from fleet.workshop.models import ConditionCheck
from tests import make
from tests.browser_client import Browser


@dataclass
class Lending:
    """A school with everything one loan needs, and another school with the same, so that a leak would show."""

    school: School
    teacher: User
    guardian: Guardian
    pupil: Pupil
    horn: Horn
    check: ConditionCheck

    def terms(self, **changes: Any) -> dict[str, Any]:
        """What a loan is to be."""
        return {
            "horn": self.horn,
            "pupil": self.pupil,
            "guardian": self.guardian,
            "agreement_version": 1,
            "check_seen": self.check.pk,
            "due_on": make.TODAY + timedelta(days=100),
            "accessories": ["case"],
            **changes,
        }

    def issue(self, **changes: Any) -> Loan:
        """The issue action with everything in order but for the changes."""
        usual = {"due_on": make.TODAY + timedelta(days=200), "accessories": ["mouthpiece", "case"]}
        said = {**usual, "signed_on": make.TODAY, "by": self.teacher, "at": make.NOW}
        return hand_out(**self.terms(**{**said, **changes}))

    def put_before(self, **changes: Any) -> OnlineSignature:
        return put_before(**self.terms(**{"by": self.teacher, "at": make.NOW, **changes}))

    def give_back(self, loan: Loan, **changes: Any) -> Loan:
        said: dict[str, Any] = {
            "returned_on": make.TODAY,
            "came_back": [thing.pk for thing in loan.accessories.all()],
            "look_over": lambda horn: make.check(horn, self.teacher, occasion="on-return"),
            "mouthpiece_cleaned_on": make.TODAY,
            "notes": "",
            "by": self.teacher,
            "at": make.NOW,
        }
        return returning.give_back(loan=loan, **{**said, **changes})


def set_up(**horn: Any) -> Lending:
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    guardian = make.guardian(school)
    pupil = make.pupil(school, guardian)
    lent = make.horn(school, **horn)
    return Lending(school, teacher, guardian, pupil, lent, make.check(lent, teacher))


@pytest.fixture
def lending(db: None) -> Lending:
    return set_up()


@pytest.fixture
def elsewhere(db: None) -> Lending:
    """The same at another school, with a loan of its own that runs."""
    other = set_up()
    other.issue()
    return other


@pytest.fixture
def client(lending: Lending, as_: Callable[[User], Browser]) -> Browser:
    """The teacher's."""
    return as_(lending.teacher)


@pytest.fixture
def out(lending: Lending) -> Loan:
    return lending.issue()


@pytest.fixture
def today() -> date:
    return make.TODAY


@pytest.fixture
def at_noon(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Pages that read the clock at the edge read the tests' own moment."""

    def stop() -> None:
        monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)

    stop()
    return stop
