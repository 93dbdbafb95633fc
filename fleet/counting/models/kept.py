"""Rows of a count: none is ever taken away."""

from __future__ import annotations

from typing import Any, NoReturn

from django.core.exceptions import ValidationError
from django.db import models

KEPT = "A count is kept as it is."


class KeptQuerySet(models.QuerySet[Any]):
    """Rows of a count: none is ever taken away."""

    def delete(self) -> NoReturn:
        raise ValidationError(KEPT)
