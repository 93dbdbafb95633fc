"""Who waits for a horn: for a kind of horn, for a certain one, or for one that is kept for them until a day."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _s

from fleet.ground.due import over
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.people.models import Pupil, School, User
from fleet.register.models import Horn
from fleet.register.models.kinds import sort_of, sought


class WishQuerySet(models.QuerySet["Wish"]):
    def at(self, school: School) -> WishQuerySet:
        return self.filter(school=school)

    def in_force(self, today: date) -> WishQuerySet:
        """Not ended, of a pupil who is there, and no reservation whose last day is over: it ends by itself."""
        return self.filter(~over("reserved_until", today) | Q(reserved_until=None), ended_on=None, pupil__left_on=None)

    def reserved(self, today: date) -> WishQuerySet:
        return self.in_force(today).filter(horn__isnull=False, reserved_until__isnull=False)

    def waiting(self, today: date) -> WishQuerySet:
        """Who waits for a horn that nobody has promised them, who came first in front."""
        found = self.in_force(today).filter(reserved_until=None).select_related("pupil", "horn")
        return found.order_by("since", "pk")

    @staticmethod
    def met_by_any(horns: Iterable[Horn]) -> Q:
        """That it is for a kind of horn of which one of these would do (`Wish.is_met_by`)."""
        met = Q(pk=None)
        for sort, stands_in in {(sort_of(horn.build, horn.wrap), horn.stands_in) for horn in horns}:
            if sort is not None:
                such = Q(family__in=["", sort.family], kind__in=["", sort.kind], stands_in__in=["", stands_in])
                met |= such & (Q() if sort.compact else Q(compact=False))
        return met & Q(horn=None)


class Wish(models.Model):
    """A pupil waits for a horn. With `reserved_until` that horn is kept for them to the end of that day. It warns
    whoever lends the horn to somebody else, and forbids nothing."""

    class Family(models.TextChoices):
        ANY = "", _s_lazy("any")
        HORN = "horn", _s_lazy("French horn")
        WAGNER = "wagner", _s_lazy("Wagner tuba")
        OTHER = "other", _s_lazy("another instrument")

    # Its pupil's; empty only of what the version before wrote down while this one was put in place, for a night.
    school = models.ForeignKey(School, on_delete=models.PROTECT, null=True, db_index=False, related_name="+")
    pupil = models.ForeignKey(Pupil, on_delete=models.PROTECT, related_name="wishes")
    horn = models.ForeignKey(Horn, on_delete=models.PROTECT, null=True, blank=True, related_name="wishes")
    # What any horn has to be that would do, where no certain one is waited for; "" for whatever it is.
    family = models.CharField(max_length=8, blank=True, choices=Family, default="")
    kind = models.CharField(max_length=8, blank=True, choices=Pupil.NeedsKind, default="")
    stands_in = models.CharField(max_length=12, blank=True, default="")
    compact = models.BooleanField(default=False)
    since = models.DateField(_s_lazy("waits since"))
    reserved_until = models.DateField(_s_lazy("kept for them until"), null=True, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    ended_on = models.DateField(null=True, blank=True)

    objects = WishQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "wishes"
        constraints = [
            models.CheckConstraint(
                condition=Q(reserved_until=None) | Q(horn__isnull=False),
                name="reserved_is_a_horn",
                violation_error_message=_s_lazy("Say which horn is kept for them."),
            ),
            models.CheckConstraint(
                condition=Q(horn=None) | Q(family="", kind="", stands_in="", compact=False), name="wish_of_one_sort"
            ),
            models.UniqueConstraint(
                fields=["horn"],
                condition=Q(ended_on=None, reserved_until__isnull=False),
                name="one_reservation_a_horn",
                violation_error_message=_s_lazy("This horn is kept for somebody already."),
            ),
        ]
        indexes = [
            models.Index(fields=["school", "since", "id"], condition=Q(ended_on=None), name="wish_in_order"),
            models.Index(
                fields=["school", "since", "id"], condition=Q(ended_on=None, horn__isnull=False), name="wish_for_a_horn"
            ),
        ]
        ordering = ["since", "pk"]

    def __str__(self) -> str:
        return _s("%(pupil)s waits for %(what)s") % {"pupil": self.pupil, "what": self.what}

    @property
    def what(self) -> str:
        """`HN-5`, `a compact single French horn that stands in F`, `any horn`."""
        if self.horn is not None:
            return str(self.horn)
        sort = {name: getattr(self, name) for name in ("family", "kind", "compact", "stands_in")}
        return sought(**sort) if any(sort.values()) else _s("any horn")

    @property
    def until(self) -> str:
        """`until 3 May 2027`, "" where nothing is kept."""
        return _s("until %(day)s") % {"day": day(self.reserved_until)} if self.reserved_until else ""

    def is_met_by(self, horn: Horn) -> bool:
        """Whether this horn is one that is waited for."""
        if self.horn_id is not None:
            return self.horn_id == horn.pk
        sort = sort_of(horn.build, horn.wrap)
        return (
            sort is not None
            and self.family in {"", sort.family}
            and self.kind in {"", sort.kind}
            and self.stands_in in {"", horn.stands_in}
            and (sort.compact or not self.compact)
        )
