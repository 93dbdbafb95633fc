"""What points to the rows of a model: asked before one is removed, struck out or put together with another.

Found from the models, since slices above know more of them. Acts point to nothing that they keep (`loose`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from typing import Any

from django.db.models import Model
from django.utils.translation import gettext, ngettext


def pointing_to(model: type[Model]) -> list[Any]:
    """The relations by which other rows point to those of this model, hidden ones too; no ties of many to many."""
    return [one for one in _held(model) if one.field.db_constraint and not one.related_model._meta.auto_created]


def ties_to(model: type[Model]) -> list[Any]:
    """The relations by which the tables of ties, many to many, point to those of this model."""
    return [one for one in _held(model) if one.related_model._meta.auto_created]


def _held(model: type[Model]) -> list[Any]:
    fields: list[Any] = list(model._meta.get_fields(include_hidden=True))
    return [one for one in fields if (one.one_to_many or one.one_to_one) and one.auto_created and not one.concrete]


def on_record(row: Model, *, besides: Collection[type[Model]] = ()) -> dict[str, int]:
    """How many rows of what point to this one, with the words for it in the language spoken: `2 loans`."""
    found: Counter[type[Model]] = Counter()
    for relation in pointing_to(type(row)):
        about = relation.related_model
        if about not in besides:
            found[about] += about._base_manager.filter(**{relation.field.name: row}).count()
    return {ngettext(*counted(about), many) % {"count": many}: many for about, many in found.items() if many}


def counted(model: type[Model]) -> tuple[str, str]:
    """How one and several rows of a model are said in English."""
    return f"%(count)s {model._meta.verbose_name}", f"%(count)s {model._meta.verbose_name_plural}"


def what_points_to(
    model: type[Model],
    keys: Iterable[int],
    *,
    besides: Collection[type[Model]] = (),
    only: Collection[str] = (),
) -> str:
    """What at all points to the rows with these keys, in a word of the language spoken, or "".

    `besides` are models that do not count; with `only` those of these names alone do (`model_name`).
    """
    wanted = list(keys)
    for relation in pointing_to(model):
        about = relation.related_model
        if about in besides or (only and about._meta.model_name not in only):
            continue
        if about._base_manager.filter(**{f"{relation.field.name}__in": wanted}).exists():
            return gettext(str(about._meta.verbose_name))
    return ""
