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
    Kind.OIL: "A drop of rotor or piston oil in each slide, bearing oil under each cap, linkage oil at the joints.",
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
            has = fitted(horn)
            if kind == Kind.OIL and has is not None and "valves" not in has:
                continue
            last = getattr(horn, kind.value)
            due_on = last + timedelta(days=days_between(school, kind)) if last else date.min
            if due_on <= today:
                found[kind].append(Due(horn, kind, last, due_on))
    for waiting in found.values():
        waiting.sort(key=lambda one: (one.due_on, one.horn.number_stem, one.horn.number_tail))
    return found


def days_between(school: School, kind: Kind) -> int:
    return {Kind.OIL: school.oil_days, Kind.CLEAN: school.clean_days, Kind.SERVICE: school.service_days}[kind]


@transaction.atomic
def care_for(*, horns: Iterable[int], kind: Kind, school: School, by: User, at: datetime) -> int:
    """Notes the care of these horns of the school; gives how many. Withdrawn ones and strangers are left out."""
    there = list(Horn.objects.select_for_update().at(school).kept().filter(pk__in=list(horns)).order_by("pk"))
    day = timezone.localdate(at)
    Care.objects.bulk_create(
        [Care(horn=horn, kind=kind, on=day, by=by) for horn in there], ignore_conflicts=True, batch_size=200
    )
    return len(there)
