"""Parts kept for the bench: how many lie there, what one costs, which faults want one."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School


class PartQuerySet(models.QuerySet["Part"]):
    def at(self, school: School) -> PartQuerySet:
        return self.filter(school=school)

    def to_order(self) -> PartQuerySet:
        """Parts of which fewer lie there than the least the bench wants to have, and that are not on their way."""
        return self.filter(Q(ordered_on=None) | Q(arrived_on__isnull=False), on_hand__lt=F("minimum"))


class Part(models.Model):
    """One kind of part. `mends` holds the codes of the faults that want one of it.

    `ordered_on` is the day of the last order; until it has its `arrived_on`, some are on their way.
    """

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="parts")
    name = models.CharField(max_length=80, help_text=_s_lazy("As the bench calls it: string, water key cork, bumper."))
    mends = models.JSONField(default=list, blank=True)
    on_hand = models.PositiveIntegerField(
        _s_lazy("pieces there now"), default=0, validators=[MaxValueValidator(100_000)]
    )
    minimum = models.PositiveIntegerField(
        _s_lazy("order when fewer than"), default=0, validators=[MaxValueValidator(100_000)]
    )
    cost = models.DecimalField(
        _s_lazy("cost of one"), max_digits=8, decimal_places=2, default=0, validators=[MinValueValidator(0)]
    )

    supplier = models.CharField(max_length=120, blank=True, default="", db_default="")
    order_number = models.CharField(_s_lazy("their number"), max_length=60, blank=True, default="", db_default="")
    shelf = models.CharField(_s_lazy("where it lies"), max_length=60, blank=True, default="", db_default="")
    ordered_on = models.DateField(null=True, blank=True, editable=False)
    arrived_on = models.DateField(null=True, blank=True, editable=False)

    objects = PartQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "school",
                Lower("name"),
                name="part_name_unique",
                violation_error_message=_s_lazy("There is already a part of this name."),
            ),
            models.CheckConstraint(
                condition=Q(on_hand__gte=0),
                name="part_never_below_none",
                violation_error_message=_s_lazy("There cannot be fewer than none."),
            ),
            models.CheckConstraint(
                condition=Q(cost__gte=0),
                name="part_cost_not_negative",
                violation_error_message=_s_lazy("A part cannot cost less than nothing."),
            ),
        ]
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    @property
    def short(self) -> int:
        """How many are wanting to have the least there should be."""
        return max(0, self.minimum - self.on_hand)

    @property
    def is_coming(self) -> bool:
        return self.ordered_on is not None and self.arrived_on is None

    @property
    def order_cost(self) -> Decimal:
        """What the wanting pieces cost."""
        return self.short * self.cost
