"""The first rows of many piles in as many queries as there are sorts of rows: their keys first, all at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django.db.models import F, JSONField, Model, QuerySet, Subquery


class FirstKeys(Subquery):
    """The keys of the first `many` rows of a queryset, in its order, as a list."""

    output_field = JSONField()

    def __init__(self, rows: QuerySet[Any], many: int) -> None:
        super().__init__(rows.values(key=F("pk"))[:many])

    def as_sqlite(self, compiler: Any, connection: Any) -> Any:
        return self.as_sql(compiler, connection, "(SELECT json_group_array(key) FROM (%(subquery)s) AS first)")

    def as_postgresql(self, compiler: Any, connection: Any) -> Any:
        together = "(SELECT coalesce(jsonb_agg(key), '[]'::jsonb) FROM (%(subquery)s) AS first)"
        return self.as_sql(compiler, connection, together)


def rows_of(asked: Mapping[Any, tuple[QuerySet[Any], list[int]]]) -> dict[Any, list[Any]]:
    """Of each of these its rows with these keys, in their order. One query for each model."""
    by_model: dict[type[Model], list[tuple[QuerySet[Any], list[int]]]] = {}
    for rows, keys in asked.values():
        by_model.setdefault(rows.model, []).append((rows, keys))
    found: dict[type[Model], dict[int, Any]] = {}
    for model, several in by_model.items():
        rows = several[0][0].order_by()
        if len(several) > 1:
            # What each fetches along, all fetch.
            along = {name for one, _ in several for name in _named(one.query.select_related or {})}
            rows = model._default_manager.select_related(*along)
        found[model] = {row.pk: row for row in rows.filter(pk__in={key for _, keys in several for key in keys})}
    return {code: [found[rows.model][key] for key in keys] for code, (rows, keys) in asked.items()}


def _named(tree: Any, before: str = "") -> Iterator[str]:
    """`{"loan": {"horn": {}}}` as `select_related` is told it: `loan`, `loan__horn`."""
    for name, further in tree.items():
        yield f"{before}{name}"
        yield from _named(further, f"{before}{name}__")
