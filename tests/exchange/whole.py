"""A whole school read row by row, and a site emptied, to hold what comes back against what went out."""

from __future__ import annotations

from typing import Any

from django.db import models

from fleet.exchange.queries.whole_school import tables
from fleet.people.models import School, User


def rows_of(school: School) -> dict[str, list[dict[str, Any]]]:
    """Every row of a school with references as places in the other table: what must survive, whatever its keys."""
    users = list(User.objects.order_by("email").values_list("pk", "email"))
    places: dict[Any, dict[int, Any]] = {User: dict(users)}
    for table in tables():
        keys = table.rows_of(school).values_list("pk", flat=True)
        places[table.model] = {pk: n for n, pk in enumerate(keys)}
    found = {}
    for table in tables():
        rows = []
        for row in table.rows_of(school).values():
            row.pop("id")
            for field in table.model._meta.concrete_fields:
                if (field.many_to_one or field.one_to_one) and row[field.attname] is not None:
                    row[field.attname] = places[field.related_model][row[field.attname]]
            rows.append(row)
        found[table.name] = rows
    return found


def emptied() -> None:
    for table in reversed(tables()):
        models.QuerySet(table.model)._raw_delete(using="default")
    User.objects.all().delete()
