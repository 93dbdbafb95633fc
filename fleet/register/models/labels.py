"""The sheets of labels a school buys. Sizes in millimetres, as they stand on the packet."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School

# Below these a code of 25 modules is not read by a phone any more, or no number fits beside it.
LEAST_WIDTH, LEAST_HEIGHT = 25.0, 16.0
PAPERS = {School.Paper.A4.value: (210.0, 297.0), School.Paper.LETTER.value: (215.9, 279.4)}


def _length(label: str, default: float, *, least: float = 0.0) -> models.FloatField[Any, float]:
    return models.FloatField(label, default=default, validators=[MinValueValidator(least), MaxValueValidator(300.0)])


def _count(label: str, default: int) -> models.PositiveSmallIntegerField[Any, int]:
    return models.PositiveSmallIntegerField(
        label, default=default, validators=[MinValueValidator(1), MaxValueValidator(30)]
    )


class LabelSheet(models.Model):
    """How labels lie on the school's sheets. A school without a row prints three across, eight down."""

    school = models.OneToOneField(School, on_delete=models.CASCADE, related_name="label_sheet")
    paper = models.CharField(max_length=6, choices=School.Paper, default=School.Paper.A4)
    across = _count(_s_lazy("labels across"), 3)
    down = _count(_s_lazy("labels down"), 8)
    width = _length(_s_lazy("width of a label"), 70.0, least=LEAST_WIDTH)
    height = _length(_s_lazy("height of a label"), 36.0, least=LEAST_HEIGHT)
    left = _length(_s_lazy("from the left edge to the first label"), 0.0)
    top = _length(_s_lazy("from the top edge to the first label"), 4.5)
    gap_across = _length(_s_lazy("gap between labels across"), 0.0)
    gap_down = _length(_s_lazy("gap between labels down"), 0.0)

    def __str__(self) -> str:
        return _s("%(across)s × %(down)s labels of %(width)s × %(height)s mm") % {
            "across": self.across,
            "down": self.down,
            "width": f"{self.width:g}",
            "height": f"{self.height:g}",
        }

    @property
    def count(self) -> int:
        return self.across * self.down

    def corner(self, place: int) -> tuple[float, float]:
        """Top left corner of a label in mm; places count from 0, along the rows."""
        row, column = divmod(place, self.across)
        return self.left + column * (self.width + self.gap_across), self.top + row * (self.height + self.gap_down)

    def clean(self) -> None:
        wide, high = PAPERS[self.paper]
        x, y = self.corner(self.count - 1)
        # A tenth of a millimetre is what packets round away.
        if x + self.width > wide + 0.1:
            raise ValidationError(
                _s("The labels are %(width)s mm wide in all; the paper is %(wide)s mm.")
                % {"width": f"{x + self.width:g}", "wide": f"{wide:g}"}
            )
        if y + self.height > high + 0.1:
            raise ValidationError(
                _s("The labels are %(height)s mm high in all; the paper is %(high)s mm.")
                % {"height": f"{y + self.height:g}", "high": f"{high:g}"}
            )


def label_sheet_of(school: School) -> LabelSheet:
    """The school's own sheet or an unsaved usual one for its paper. One query."""
    own = LabelSheet.objects.filter(school=school).first()
    if own is not None:
        return own
    if school.paper == School.Paper.LETTER:
        return LabelSheet(
            school=school,
            paper="letter",
            across=3,
            down=10,
            width=66.7,
            height=25.4,
            left=4.8,
            top=12.7,
            gap_across=3.2,
        )
    return LabelSheet(school=school)
