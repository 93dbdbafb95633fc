"""Many horns at once, as a list brings them in: registered, amended and taken back, each batch in one transaction.

The caller holds the transaction and has looked every value over with the fields of `HornForm`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import connection

from fleet.people.models import School, User
from fleet.register.models import Horn, Place

# SQLite takes so many values in a statement; the library assumes far fewer and sends a statement every 30 horns.
_DERIVED = ("number_stem", "number_tail", "search")


def register_many(*, school: School, particulars: Sequence[Mapping[str, Any]], by: User, at: datetime) -> list[Horn]:
    """New horns with their search columns, in the order given."""
    made = [Horn(school=school, created=at, created_by=by, **one) for one in particulars]
    return Horn.objects.bulk_create(made)


def amend_many(changes: Mapping[Horn, Mapping[str, Any]]) -> None:
    """Writes the changed columns of each horn, and the columns that follow from them."""
    fields: set[str] = set()
    for horn, changed in changes.items():
        for name, value in changed.items():
            setattr(horn, name, value)
        fields.update(changed)
        horn.derive()
    if fields:
        Horn.objects.bulk_update(list(changes), sorted(fields | {*_DERIVED}), batch_size=100)


def what_happened_to(horns: Iterable[int]) -> str:
    """Whether anything at all is recorded of these horns besides themselves: what, in a word, or ""."""
    keys = list(horns)
    for relation in Horn._meta.related_objects:
        model, name = relation.related_model, relation.field.name
        if model._default_manager.filter(**{f"{name}__in": keys}).exists():
            return str(model._meta.verbose_name)
    return ""


def take_back(horns: Sequence[int]) -> None:
    """Removes horns that a list brought in by mistake and to which nothing has happened.

    The one exception to the rule that a horn is never deleted: these were never more than lines of a file. The
    caller has made sure with `what_happened_to`; the database's own references refuse the rest.
    """
    for start in range(0, len(horns), 500):
        found = Horn.objects.filter(pk__in=horns[start : start + 500])
        found._raw_delete(using=connection.alias)


def places_for(school: School, wanted: Iterable[tuple[str, str]]) -> tuple[dict[tuple[str, str], Place], list[int]]:
    """The school's place for each (room, shelf), made where there is none; with the keys of those that were made."""
    known = {(place.room.lower(), place.shelf.lower()): place for place in Place.objects.filter(school=school)}
    made = []
    for room, shelf in wanted:
        key = (room.lower(), shelf.lower())
        if key not in known:
            known[key] = Place.objects.create(school=school, room=room, shelf=shelf)
            made.append(known[key].pk)
    return known, made


def take_back_places(keys: Iterable[int]) -> None:
    """Removes places that a list brought in, as far as no horn is kept there."""
    Place.objects.filter(pk__in=list(keys), horns=None).delete()
