"""Loads the invented school of fixtures/demo.toml through the same actions that people's clicks go through."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, cast

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from fleet.desk.actions.demo_counts import count_as_told
from fleet.lending.actions.returning import give_back
from fleet.lending.actions.wishes import wait
from fleet.lending.queries.agreements import current_agreement
from fleet.people.actions.accounts import account_for, begin_school
from fleet.people.actions.families import save_guardian
from fleet.people.actions.school_year import keep_holiday
from fleet.people.models import Guardian, Holiday, Post, Pupil, School, User
from fleet.register.actions.horns import Particulars, register_horn
from fleet.register.actions.identifying import put_on_horn
from fleet.register.models import Horn, Place
from fleet.signing.actions.handing_out import hand_out
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.actions.jobs import Work, change_job, open_job
from fleet.workshop.actions.reports import report_fault
from fleet.workshop.models import ConditionCheck, RepairJob
from fleet.workshop.models.faults import catalogue
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


def demo_is_here() -> bool:
    return User.objects.filter(email=SIGN_INS[0][1]).exists()


def anything_is_here() -> bool:
    return User.objects.exists() or School.objects.exists()


@dataclass
class _Demo:
    plan: dict[str, Any]
    now: datetime
    school: School = field(init=False)
    head: User = field(init=False)
    horns: dict[str, Horn] = field(default_factory=dict)

    def day(self, offset: int) -> datetime:
        return self.now + timedelta(days=offset)

    def people(self) -> None:
        plan = self.plan["school"]
        first = self.plan["staff"][0]
        self.school = begin_school(
            name=plan["name"], slug=plan["slug"], head_name=first["name"], head_email=first["email"], at=self.day(-400)
        )
        for name in ("contact", "local_rules", "currency"):
            setattr(self.school, name, plan[name])
        self.school.year_ends = timezone.localdate(self.day(plan["year_ends"]))
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
            first, last = (timezone.localdate(self.day(one[end])) for end in ("first", "last"))
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
        for _, email, password in SIGN_INS:
            account = User.objects.get(email=email)
            account.set_password(password)
            account.save(update_fields=["password"])

    def register(self) -> None:
        places = {str(place): place for place in self.school.places.all()}
        for one in self.plan["horns"]:
            told = {
                k: v
                for k, v in one.items()
                if k not in {"seen", "build", "stands_in", "checked", "place", "value", "acquired"}
            }
            began = self.day(-max(one.get("checked", 0), 330) - 5)
            horn = register_horn(
                school=self.school,
                particulars=cast(
                    Particulars,
                    {
                        **told,
                        "place": places[one["place"]],
                        "value": Decimal(one["value"]) if "value" in one else None,
                        "acquired_on": timezone.localdate(self.day(one["acquired"])) if "acquired" in one else None,
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

    def lend(self) -> None:
        """Checks, loans, returns, repairs and counts in the order in which they happened."""
        checks = [(-one["checked"], one) for one in self.plan["horns"] if "checked" in one]
        events: list[tuple[int, int, Any]] = [(days, 2, one) for days, one in checks]
        for loan in self.plan["loans"]:
            events.append((loan["issued"], 1, loan))
            if "returned" in loan:
                events.append((loan["returned"], 0, loan))
        events += [(repair["days"], 4, repair) for repair in self.plan["repairs"]]
        events += [(count["days"], 3, count) for count in self.plan["counts"]]
        for days, kind, one in sorted(events, key=lambda event: event[:2]):
            if kind == 4:
                self.mend(one, days)
            elif kind == 3:
                count_as_told(one, school=self.school, horns=self.horns, began=self.day(days))
            elif kind == 2:
                horn = self.horns[one["serial_number"]]
                if not Horn.objects.get(pk=horn.pk).holder_name:
                    self.check(horn, days, ConditionCheck.Occasion.YEARLY)
            elif kind == 1:
                self.issue(one, days)
            else:
                self.take_back(one, days)

    def check(self, horn: Horn, days: int, occasion: str, faults: tuple[str, ...] = ()) -> ConditionCheck:
        found = [Found(code, catalogue().fault(code).severity) for code in faults]
        return log_check(horn=horn, by=self.head, at=self.day(days), occasion=occasion, finish_grade=2, found=found)

    def issue(self, plan: dict[str, Any], days: int) -> None:
        horn = self.horns[plan["horn"]]
        look = self.check(horn, days, ConditionCheck.Occasion.BEFORE_LOAN)
        horn.refresh_from_db()
        pupil = Pupil.objects.get(school=self.school, name=plan["pupil"])
        hand_out(
            horn=horn,
            pupil=pupil,
            guardian=pupil.guardians.order_by("pk")[0],
            agreement_version=current_agreement(self.school).version,
            check_seen=look.pk,
            due_on=timezone.localdate(self.day(plan["due"])),
            signed_on=timezone.localdate(self.day(days)),
            accessories=plan["accessories"],
            by=self.head,
            at=self.day(days),
        )

    def take_back(self, plan: dict[str, Any], days: int) -> None:
        loan = self.horns[plan["horn"]].loans.get(returned_on=None)
        on = timezone.localdate(self.day(days))
        give_back(
            loan=loan,
            returned_on=on,
            came_back={one.pk for one in loan.accessories.all()},
            look_over=lambda horn: self.check(horn, days, ConditionCheck.Occasion.ON_RETURN),
            mouthpiece_cleaned_on=on,
            notes="",
            by=self.head,
            at=self.day(days),
        )

    def mend(self, plan: dict[str, Any], days: int) -> None:
        horn = self.horns[plan["horn"]]
        look = self.check(horn, days, ConditionCheck.Occasion.OTHER, tuple(plan["faults"]))
        bench = User.objects.get(email=SIGN_INS[2][1])
        # A fault that stops a horn opens its job by itself; the lighter ones are mended with it.
        job = horn.jobs.filter(closed_at=None).first() or open_job(
            horn=horn, by=bench, at=self.day(days), findings=look.findings.all()
        )
        look.findings.update(job=job)
        cost = Decimal(plan["cost"]) if "cost" in plan else None
        work = Work(state=RepairJob.State.DONE, technician=bench, minutes=plan["minutes"], cost=cost)
        newest = job.steps.order_by("-pk").values_list("pk", flat=True).first() or 0
        change_job(job=job, by=bench, at=self.day(days + 4), seen=newest, work=work)
        self.check(horn, days + 4, ConditionCheck.Occasion.AFTER_REPAIR)

    def trouble(self) -> None:
        for one in self.plan["findings"]:
            self.check(self.horns[one["horn"]], -3, ConditionCheck.Occasion.OTHER, tuple(one["faults"]))
        for one in self.plan["reports"]:
            loan = self.horns[one["horn"]].loans.select_related("pupil").get(returned_on=None)
            by = User.objects.get(guardianships__name=one["by"], guardianships__school=self.school)
            report_fault(
                horn=loan.horn,
                pupil=loan.pupil,
                by=by,
                at=self.day(-1),
                words=one["words"],
                still_plays=one["still_plays"],
            )
        for one in self.plan["wishes"]:
            pupil, at = Pupil.objects.get(school=self.school, name=one["pupil"]), self.day(one["since"])
            sort = {"kind": one["kind"]}
            since = timezone.localdate(at)
            wait(pupil=pupil, horn=None, sort=sort, since=since, reserved_until=None, by=self.head, at=at)


@transaction.atomic
def load(*, at: datetime) -> School:
    """The demo school as if it had worked with the site for a year until `at`. All or nothing."""
    demo = _Demo(tomllib.loads(FIXTURE.read_text(encoding="utf-8")), at)
    demo.people()
    demo.register()
    demo.lend()
    demo.trouble()
    return demo.school
