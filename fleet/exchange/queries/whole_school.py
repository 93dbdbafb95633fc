"""Which tables a whole school consists of and how their rows are written, worked out from the models themselves.

A table that a slice adds later comes along by itself; one that leads to no school has to be named here, or a test
fails. Keys are replaced by running numbers, so that the same school always gives the same files.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.apps import apps
from django.db import models

from fleet.exchange.reading.cells import plain, safe
from fleet.people.models import School, User

SLICES = ("record", "people", "register", "workshop", "loans", "counting")
ALSO = ("exchange.RememberedColumns",)
# Secret addresses belong to the site that gave them out; a person asks for a new one.
LEFT_OUT = {"loans.CalendarKey"}
# The way to the school where the reference may be empty: the record is kept of the site as well.
WAYS = {"record.Act": "school", "record.Chain": "school"}
FORMAT = 1
# A text that is not there at all, beside one that is empty.
NOTHING = "\\N"
KEY = "key"


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its model, the way from its rows to the school, its columns, and the references among them."""

    model: type[models.Model]
    way: str
    columns: tuple[models.Field[Any, Any], ...]

    @property
    def name(self) -> str:
        return f"{self.model._meta.app_label}-{self.model._meta.model_name}"

    def rows_of(self, school: School) -> models.QuerySet[Any]:
        if self.model is School:
            return School.objects.filter(pk=school.pk)
        return self.model._base_manager.filter(**{self.way: school}).order_by("pk")


def references(field: models.Field[Any, Any]) -> type[models.Model] | None:
    return field.related_model if field.many_to_one or field.one_to_one else None


@lru_cache(maxsize=1)
def tables() -> tuple[Table, ...]:
    """Every table of a school but the accounts, those that others refer to first."""
    found = {
        model: way for model in _models() if model._meta.label not in LEFT_OUT and (way := _way(model)) is not None
    }
    needed = {
        model: {other for field in _columns(model) if (other := references(field)) in found and not field.null}
        - {model}
        for model in found
    }
    ordered: list[type[models.Model]] = []

    def needs(model: Any, other: Any) -> bool:
        return other in needed[model] or any(needs(one, other) for one in needed[model])

    def place(model: Any) -> None:
        if model in ordered:
            return
        for one in sorted(needed[model], key=lambda one: one._meta.label):
            place(one)
        for field in _columns(model):
            # References that may be empty are filled at once too, wherever the two do not wait for each other.
            other = references(field)
            if other in found and other is not model and other not in ordered and not needs(other, model):
                place(other)
        if model not in ordered:
            ordered.append(model)

    for model in sorted(found, key=lambda one: one._meta.label):
        place(model)
    return tuple(Table(model, found[model], _columns(model)) for model in ordered)


def _models() -> Iterator[type[models.Model]]:
    for label in SLICES:
        yield from apps.get_app_config(label).get_models(include_auto_created=True)
    for name in ALSO:
        yield apps.get_model(name)


def without_a_school() -> set[str]:
    """Tables of the slices that are not part of any one school."""
    return {model._meta.label for model in _models() if _way(model) is None}


def _way(model: type[models.Model], seen: frozenset[type[models.Model]] = frozenset()) -> str | None:
    """The look-up that leads from a row to its school (`horn__school`), the shortest; None when there is none."""
    if model is School:
        return "pk"
    if model._meta.label in WAYS:
        return WAYS[model._meta.label]
    ways = []
    for field in model._meta.concrete_fields:
        other = references(field)
        if other is None or field.null or other in seen or other is model or other is User:
            continue
        further = "" if other is School else _way(other, seen | {model})
        if further is not None:
            ways.append(f"{field.name}__{further}".rstrip("_") if further else field.name)
    return min(ways, key=lambda way: (way.count("__"), way), default=None)


def _columns(model: type[models.Model]) -> tuple[models.Field[Any, Any], ...]:
    return tuple(field for field in model._meta.concrete_fields if not field.primary_key and not field.generated)


# What is kept of an account. No password goes into a file that changes hands: people sign in by e-mailed code.
ACCOUNT = ("email", "name", "is_active", "created")


def written(field: models.Field[Any, Any], row: models.Model) -> str:
    """A column's value as text, from which `read` gives it back."""
    value = field.value_from_object(row)
    if value is None:
        return NOTHING
    if isinstance(field, models.JSONField):
        return safe(json.dumps(value, ensure_ascii=False, sort_keys=True))
    text = field.value_to_string(row) if not isinstance(field, models.FileField) else str(value)
    return f"'{text}" if text == NOTHING else safe(text)


def read(field: models.Field[Any, Any], text: str) -> Any:
    """The value of a column from its text. Raises ValidationError for nonsense."""
    if text == NOTHING:
        return None
    text = plain(text) if text != f"'{NOTHING}" else NOTHING
    if isinstance(field, models.JSONField):
        return json.loads(text)
    return field.to_python(text)
