"""Rows of a count: none is ever taken away."""

from __future__ import annotations

from typing import NoReturn, Self, TypeVar

from django.core.exceptions import ValidationError
from django.db import models

from fleet.ground.languages.marks import _s_lazy

Row = TypeVar("Row", bound=models.Model, covariant=True)
KEPT = _s_lazy("A count is kept as it is.")


class KeptQuerySet(models.QuerySet[Row]):
    """Rows of a count: none is ever taken away."""

    def delete(self) -> NoReturn:
        raise ValidationError(KEPT)


class SeenQuerySet(KeptQuerySet[Row]):
    """What somebody saw at a shelf, which they may take back."""

    def standing(self) -> Self:
        """What nobody took back."""
        return self.filter(undone_at=None)
