"""What the head wishes of a matching: how much each rule matters, and what each class plays on and where."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from fleet.ground.languages.marks import _s_lazy
from fleet.matching.solving.rows import LEVELS, MUST, Weights
from fleet.people.models import School

_LEVELS = [level for level, _ in LEVELS]
_OR_MUST = [*_LEVELS, MUST]


class MatchingRules(models.Model):
    """A school's weights. A school without a row has the usual ones."""

    school = models.OneToOneField(School, on_delete=models.CASCADE, related_name="matching_rules")
    keep = models.PositiveSmallIntegerField(default=Weights.keep)
    stand = models.PositiveSmallIntegerField(default=Weights.stand)
    wrap = models.PositiveSmallIntegerField(default=Weights.wrap)
    better = models.PositiveSmallIntegerField(default=Weights.better)
    carry = models.PositiveSmallIntegerField(default=Weights.carry)

    class Meta:
        app_label = "loans"
        constraints = [
            models.CheckConstraint(
                condition=Q(keep__in=_LEVELS, better__in=_LEVELS, carry__in=_LEVELS)
                & Q(stand__in=_OR_MUST, wrap__in=_OR_MUST),
                name="matching_weights_known",
            ),
        ]

    @property
    def weights(self) -> Weights:
        return Weights(keep=self.keep, stand=self.stand, wrap=self.wrap, better=self.better, carry=self.carry)


class ClassPlan(models.Model):
    """The stand a class or ensemble plays on and the room it plays in, where somebody has said so."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="class_plans")
    group = models.CharField(_s_lazy("class or ensemble"), max_length=60)
    stands_in = models.CharField(_s_lazy("stands in"), max_length=12, blank=True)
    room = models.CharField(max_length=60, blank=True)

    class Meta:
        app_label = "loans"
        constraints = [
            models.UniqueConstraint("school", Lower("group"), name="one_plan_a_class"),
        ]
        ordering = ["group", "pk"]

    def __str__(self) -> str:
        return self.group
