"""What points to a row made to point to another: two records of one thing become one."""

from __future__ import annotations

from django.db.models import Model

from fleet.record.queries.pointing import pointing_to, ties_to


def lead_over(gone: Model, into: Model) -> None:
    """All rows that point to `gone` point to `into`, but for ties of many to many. The caller holds both."""
    for relation in pointing_to(type(into)):
        name = relation.field.name
        relation.related_model._base_manager.filter(**{name: gone}).update(**{name: into})


def tie_over(gone: Model, into: Model) -> None:
    """What is tied to `gone`, many to many, is tied to `into`; what was tied to both is tied once."""
    for relation in ties_to(type(into)):
        ties, mine = relation.related_model._base_manager, relation.field.name
        ends = [field for field in relation.related_model._meta.fields if field.is_relation]
        other = next(field.attname for field in ends if field.name != mine)
        twice = list(ties.filter(**{mine: into}).values_list(other, flat=True))
        ties.filter(**{mine: gone, f"{other}__in": twice}).delete()
        ties.filter(**{mine: gone}).update(**{mine: into})
