"""Care by the school: oiling, cleaning and the repairer's service, each after the days that Settings say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import models, transaction
from django.db.models import Max, Q
from django.utils import timezone
from django.utils.dateformat import format as dated

from fleet.people.models import School, User
from fleet.refused import Refused
from fleet.register.models import Horn
from fleet.workshop.fitted import fitted


class Care(models.Model):
    """One horn cared for on one day. Tapped twice, it is one."""

    class Kind(models.TextChoices):
        OIL = "oil", "oiling"
        CLEAN = "clean", "cleaning"
        SERVICE = "service", "service"

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="care")
    kind = models.CharField(max_length=8, choices=Kind)
    on = models.DateField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["horn", "kind", "on"], name="care_once_a_day"),
            models.CheckConstraint(condition=Q(kind__in=["oil", "clean", "service"]), name="care_kind_known"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.on}"


Kind = Care.Kind
# What is done, and the cautions of the fault catalogue that go with it. Common practice, no source.
DO = {
    Kind.OIL: "Rotors: a drop of oil in each slide, bearing oil under each cap, linkage oil at the joints. "
    "Pistons: oil on the piston itself.",
    Kind.CLEAN: "Leadpipe and slides with a flexible brush; fresh grease; the mouthpiece and the case too.",
    Kind.SERVICE: "The repairer takes it apart, cleans it inside and sets strings, corks and springs.",
}
MIND = {Kind.OIL: ("oil", "rotor"), Kind.CLEAN: ("water", "hygiene"), Kind.SERVICE: ("professional",)}


@dataclass(frozen=True, slots=True)
class Due:
    horn: Horn
    kind: Kind
    last: date | None
    due_on: date

    @property
    def why(self) -> str:
        return "no record yet" if self.last is None else f"last on {dated(self.last, 'j M Y')}"


def due(school: School, today: date) -> dict[Kind, list[Due]]:
    """What is due by kind, the longest overdue first. One query.

    A horn that a family has is oiled and cleaned by them; the repairer's service stays the school's.
    """
    lasts = {kind.value: Max("care__on", filter=Q(care__kind=kind)) for kind in Kind}
    found: dict[Kind, list[Due]] = {kind: [] for kind in Kind}
    for horn in Horn.objects.at(school).at_hand().select_related("place").annotate(**lasts):
        for kind in Kind:
            if kind != Kind.SERVICE and horn.holder_name:
                continue
            if not needs(kind, horn):
                continue
            last = getattr(horn, kind.value)
            due_on = last + timedelta(days=days_between(school, kind)) if last else date.min
            if due_on <= today:
                found[kind].append(Due(horn, kind, last, due_on))
    for waiting in found.values():
        waiting.sort(key=lambda one: (one.due_on, one.horn.number_stem, one.horn.number_tail))
    return found


@dataclass(frozen=True, slots=True)
class Kept:
    """How one kind of care stands with a horn: `due_on` is None where nothing was ever noted, `by_family` where the
    family who has the horn does it."""

    kind: Kind
    days: int
    last: Care | None
    due_on: date | None
    is_due: bool
    by_family: bool


def care_of(horn: Horn, today: date) -> tuple[list[Kept], list[Care]]:
    """How each kind of care stands with a horn, and all the care it had, newest first. One query."""
    had = list(horn.care.select_related("by").order_by("-on", "-pk"))
    stands = []
    for kind in Kind:
        if not needs(kind, horn):
            continue
        days = days_between(horn.school, kind)
        last = next((care for care in had if care.kind == kind), None)
        due_on = last.on + timedelta(days=days) if last else None
        by_family = kind != Kind.SERVICE and bool(horn.holder_name)
        is_due = not by_family and (due_on is None or due_on <= today)
        stands.append(Kept(kind, days, last, due_on, is_due, by_family))
    return stands, had


def needs(kind: Kind, horn: Horn) -> bool:
    """Whether this kind of care is anything to this horn: without valves there is nothing to oil."""
    has = fitted(horn)
    return kind != Kind.OIL or has is None or "valves" in has


def days_between(school: School, kind: Kind) -> int:
    return {Kind.OIL: school.oil_days, Kind.CLEAN: school.clean_days, Kind.SERVICE: school.service_days}[kind]


@transaction.atomic
def care_for(
    *, horns: Iterable[int], kind: Kind, school: School, by: User, at: datetime, on: date | None = None
) -> int:
    """Notes the care of these horns of the school; gives how many. Withdrawn ones and strangers are left out.

    `on` is the day it was done where that was before today. Raises Refused for a day to come.
    """
    today = timezone.localdate(at)
    day = on or today
    if day > today:
        raise Refused("This day is still to come.")
    there = list(Horn.objects.select_for_update().at(school).kept().filter(pk__in=list(horns)).order_by("pk"))
    Care.objects.bulk_create(
        [Care(horn=horn, kind=kind, on=day, by=by) for horn in there], ignore_conflicts=True, batch_size=200
    )
    return len(there)
