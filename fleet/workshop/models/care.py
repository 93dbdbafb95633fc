"""Care by the school: oiling, cleaning, the repairer's service and exercise, each done to one horn on one day."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import User
from fleet.register.models import Horn


class Care(models.Model):
    """One horn cared for on one day. Tapped twice, it is one."""

    class Kind(models.TextChoices):
        OIL = "oil", _s_lazy("oiling")
        CLEAN = "clean", _s_lazy("cleaning")
        SERVICE = "service", _s_lazy("service")
        EXERCISE = "exercise", _s_lazy("exercise")

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="care")
    kind = models.CharField(max_length=8, choices=Kind)
    on = models.DateField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["horn", "kind", "on"], name="care_once_a_day"),
            models.CheckConstraint(
                condition=Q(kind__in=["oil", "clean", "service", "exercise"]), name="care_kind_known"
            ),
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
    Kind.EXERCISE: "Play it for five minutes on a mouthpiece of your own, every valve in turn. Who does not play works "
    "each valve twenty times and moves each slide. Then empty the water and leave it to dry.",
}
MIND = {
    Kind.OIL: ("oil", "rotor"),
    Kind.CLEAN: ("water", "hygiene"),
    Kind.SERVICE: ("professional",),
    Kind.EXERCISE: ("hygiene",),
}
# What is due sooner where a child plays the horn.
BY_USE = (Kind.CLEAN, Kind.SERVICE)
