"""Loads the invented school of fixtures/demo.toml through the same actions that people's clicks go through."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from functools import partial
from typing import Any, cast

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.db import transaction

from fleet.desk.actions import demo_bench as bench
from fleet.desk.actions import demo_families as families
from fleet.desk.actions import demo_office as office
from fleet.desk.actions import demo_pictures as pictures
from fleet.desk.actions.demo_families import issue, lose_on_loan, take_back
from fleet.desk.actions.demo_school import DemoSchool
from fleet.people.actions.accounts import account_for, begin_school
from fleet.people.actions.families import save_guardian
from fleet.people.actions.school_year import keep_holiday
from fleet.people.models import Guardian, Holiday, Post, Pupil, School, User
from fleet.register.actions.horns import Particulars, register_horn
from fleet.register.actions.identifying import put_on_horn
from fleet.register.models import Horn, Place
from fleet.workshop.models import ConditionCheck
from identify.core.reasoning.evidence import read_observations

FIXTURE = settings.BASE_DIR / "fixtures" / "demo.toml"
# Invented people on this computer only; the demo is never loaded beside a school's own data.
PASSWORD = "five staff lines"  # noqa: S105
SIGN_INS = (
    ("department head", "head@demo.example", PASSWORD),
    ("teacher", "teacher@demo.example", PASSWORD),
    ("technician", "technician@demo.example", PASSWORD),
    ("guardian", "guardian@demo.example", PASSWORD),
)

# What the plan lists under each name happens like this; on one day in this order.
HAPPENS: dict[str, Callable[[DemoSchool, dict[str, Any]], None]] = {
    "counts": office.count,
    "repairs": bench.mend,
    "parts": bench.keep_part,
    "findings": bench.find_faults,
    "outside": bench.mend_outside,
    "begun": bench.begin,
    "care": bench.care,
    "reports": bench.report,
    "lists": office.bring_in,
    "moved": families.move_due_day,
    "charges": families.charge,
    "leavers": families.leave,
    "agreements": families.add_to_agreement,
    "asks": families.ask,
    "wishes": families.wish,
    "put_before": families.put_before_family,
    "batches": families.send_sheets_home,
    "disposals": office.give_up,
    "letters": families.send_letters,
    "photographs": pictures.photograph,
    "signed_sheets": pictures.keep_sheet,
}


def demo_is_here() -> bool:
    return User.objects.filter(email=SIGN_INS[0][1]).exists()


def anything_is_here() -> bool:
    return User.objects.exists() or School.objects.exists()


class _Demo(DemoSchool):
    def people(self) -> None:
        plan = self.plan["school"]
        first = self.plan["staff"][0]
        self.school = begin_school(
            name=plan["name"], slug=plan["slug"], head_name=first["name"], head_email=first["email"], at=self.day(-400)
        )
        for name in ("contact", "local_rules", "rules_in_languages", "currency", "family_languages"):
            setattr(self.school, name, plan[name])
        self.school.approve_above, self.school.bench_rate = Decimal(plan["approve_above"]), Decimal(plan["bench_rate"])
        self.school.year_ends = self.on(plan["year_ends"])
        # Whoever tries the demo has no phone at hand for it.
        self.school.second_step_days = 365
        self.school.save()
        others = {other["slug"]: School.objects.create(**other) for other in plan["others"]}
        for person in self.plan["staff"]:
            account = account_for(email=person["email"], name=person["name"])
            for slug in person.get("schools", [self.school.slug]):
                school = others.get(slug, self.school)
                Post.objects.get_or_create(user=account, school=school, defaults={"role": person["role"]})
        self.head = User.objects.get(email=first["email"])
        for one in self.plan["holidays"]:
            first, last = self.on(one["first"]), self.on(one["last"])
            new = Holiday(school=self.school)
            keep_holiday(holiday=new, name=one["name"], first=first, last=last, by=self.head, at=self.now)
        for place in self.plan["places"]:
            Place.objects.create(school=self.school, **place)
        guardians = {
            one["name"]: save_guardian(guardian=Guardian(school=self.school, **one), by=self.head, at=self.now)
            for one in self.plan["guardians"]
        }
        for one in self.plan["pupils"]:
            told = {name: value for name, value in one.items() if name != "guardians"}
            Pupil.objects.create(school=self.school, **told).guardians.set(guardians[name] for name in one["guardians"])
        # The password is hashed once: that takes as long as all the rest of this.
        hashed = make_password(PASSWORD)
        for _, email, _ in SIGN_INS:
            User.objects.filter(email=email).update(password=hashed)

    def register(self) -> None:
        places = {str(place): place for place in self.school.places.all()}
        for one in self.plan["horns"]:
            told = {
                k: v
                for k, v in one.items()
                if k not in {"seen", "build", "stands_in", "checked", "place", "value", "price", "acquired"}
            }
            began = self.day(-max(one.get("checked", 0), 330) - 5)
            horn = register_horn(
                school=self.school,
                particulars=cast(
                    Particulars,
                    {
                        **told,
                        "place": places[one["place"]],
                        **{name: Decimal(one[name]) for name in ("value", "price") if name in one},
                        "acquired_on": self.on(one["acquired"]) if "acquired" in one else None,
                    },
                ),
                by=self.head,
                at=began,
            )
            self.horns[one.get("serial_number", "")] = horn
            if "seen" in one:
                observations, wrong = read_observations(one["seen"])
                if wrong:
                    raise ValueError(f"the fixture's observations cannot be read: {wrong}")
                put_on_horn(
                    horn=horn,
                    observations=observations,
                    build=one["build"],
                    stands_in=one["stands_in"],
                    by=self.head,
                    at=began,
                )

    def live(self) -> None:
        """A year of checks, loans, returns, repairs, counts and letters in the order in which they happened."""
        events: list[tuple[int, int, Callable[[], object]]] = []
        for one in self.plan["loans"]:
            events.append((one["issued"], 1, partial(issue, self, one)))
            for ending, act in (("returned", take_back), ("lost", lose_on_loan)):
                if ending in one:
                    events.append((one[ending], 0, partial(act, self, one)))
        for one in self.plan["horns"]:
            if "checked" in one:
                events.append((-one["checked"], 2, partial(self.look_over, one)))
        for order, (name, happen) in enumerate(HAPPENS.items(), start=3):
            events += [(one["days"], order, partial(happen, self, one)) for one in self.plan[name]]
        for _, _, happened in sorted(events, key=lambda event: event[:2]):
            happened()

    def look_over(self, plan: dict[str, Any]) -> None:
        horn = self.horns[plan["serial_number"]]
        if not Horn.objects.get(pk=horn.pk).holder_name:
            self.check(horn, -plan["checked"], ConditionCheck.Occasion.YEARLY)


@transaction.atomic
def load(*, at: datetime) -> School:
    """The demo school as if it had worked with the site for a year until `at`. All or nothing."""
    demo = _Demo(tomllib.loads(FIXTURE.read_text(encoding="utf-8")), at)
    demo.people()
    demo.register()
    demo.live()
    return demo.school
