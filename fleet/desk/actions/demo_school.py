"""What the parts of the demo school share: its plan, its days and its people."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.utils import timezone

from fleet.lending.models import Loan
from fleet.people.models import Pupil, School, User
from fleet.register.models import Horn
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.models import ConditionCheck
from fleet.workshop.models.faults import catalogue


@dataclass
class DemoSchool:
    """`plan` is what fixtures/demo.toml says, its days counted from `now`; `horns` are by serial number."""

    plan: dict[str, Any]
    now: datetime
    school: School = field(init=False)
    head: User = field(init=False)
    horns: dict[str, Horn] = field(default_factory=dict)

    def day(self, offset: int) -> datetime:
        return self.now + timedelta(days=offset)

    def on(self, offset: int) -> date:
        return timezone.localdate(self.day(offset))

    def person(self, email: str) -> User:
        return User.objects.get(email=email)

    def pupil(self, name: str) -> Pupil:
        return Pupil.objects.get(school=self.school, name=name)

    def loan(self, serial: str) -> Loan:
        """The newest of the horn's loans."""
        return self.horns[serial].loans.select_related("guardian__user", "pupil").latest("pk")

    def check(self, horn: Horn, days: int, occasion: str, faults: tuple[str, ...] = ()) -> ConditionCheck:
        found = [Found(code, catalogue().fault(code).severity) for code in faults]
        return log_check(horn=horn, by=self.head, at=self.day(days), occasion=occasion, finish_grade=2, found=found)
