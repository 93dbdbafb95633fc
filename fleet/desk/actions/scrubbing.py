"""Names taken out of words that stay: a horn's history keeps its sentences, and a tag stands where a name stood."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from typing import Any

from django.db import models

from fleet.counting.models import Line, Sighting
from fleet.exchange.models import Batch, Import
from fleet.lending.models import PastLoan
from fleet.people.models import School
from fleet.register.models import Disposal, Horn, Photograph, StandChange, Standing
from fleet.workshop.models import (
    CheckPhotograph,
    ConditionCheck,
    FaultReport,
    Finding,
    JobStep,
    NotDone,
    OtherQuote,
    RepairJob,
)

GONE = "(removed)"
# Where staff and families write of a horn in their own words: the model, its way to the horn, its columns.
WORDS: tuple[tuple[type[models.Model], str, tuple[str, ...]], ...] = (
    (Horn, "pk", ("notes",)),
    (Standing, "horn", ("reason",)),
    (StandChange, "horn", ("reason",)),
    (Disposal, "horn", ("reason", "answer", "buyer")),
    (Photograph, "horn", ("caption",)),
    (ConditionCheck, "horn", ("notes",)),
    (CheckPhotograph, "check_made__horn", ("caption",)),
    (Finding, "check_made__horn", ("note",)),
    (RepairJob, "horn", ("parts", "work_ordered", "notes", "verdict_why", "bring_words")),
    (NotDone, "job__horn", ("why",)),
    (OtherQuote, "job__horn", ("words",)),
    (JobStep, "job__horn", ("words",)),
    (FaultReport, "horn", ("words", "answer")),
    (Line, "horn", ("reason",)),
    (Sighting, "line__horn", ("note",)),
    (PastLoan, "horn", ("notes",)),
)


def scrub_horns(horns: Collection[int], clean: Callable[[str], str]) -> None:
    """Runs `clean`, as `names_in` makes it, over everything written about these horns."""
    for model, way, fields in WORDS:
        for row in model._default_manager.filter(**{f"{way}__in": horns}):
            scrub_row(row, fields, clean)


def scrub_row(row: models.Model, fields: Collection[str], clean: Callable[[str], str]) -> None:
    cleaned = {field: clean(getattr(row, field)) for field in fields}
    changed = [field for field, words in cleaned.items() if words != getattr(row, field)]
    for field in changed:
        longest = getattr(row._meta.get_field(field), "max_length", None)
        setattr(row, field, cleaned[field][:longest])
    if changed:
        # Not `save`: a count that is signed lets nothing of it be saved, and a name goes all the same.
        type(row)._base_manager.filter(pk=row.pk).update(**{field: getattr(row, field) for field in changed})


def scrub_lists(school: School, whole: list[str]) -> None:
    """Takes names, addresses and ids out of the rows of lists that came in, as they are kept for undoing.

    Whole ones only: a part of a name may be somebody else's in the next row.
    """
    clean = _without({name for name in whole if len(name) > 1})
    for one in Import.objects.at(school):
        _scrub_json(one, ("top",), clean)
    for batch in Batch.objects.filter(batch_of__school=school).iterator(chunk_size=20):
        _scrub_json(batch, ("rows", "seen", "made"), clean)


def names_in(names: list[str]) -> Callable[[str], str]:
    """What replaces these names, and their parts, in a text."""
    return _without({part for name in names for part in (name, *name.split()) if len(part) > 2})


def _without(parts: set[str]) -> Callable[[str], str]:
    if not parts:
        return lambda words: words
    longest_first = sorted(parts, key=len, reverse=True)
    found = re.compile("|".join(rf"(?<!\w){re.escape(part)}(?!\w)" for part in longest_first), re.IGNORECASE)
    return lambda words: found.sub(GONE, words)


def _scrub_json(row: models.Model, fields: Collection[str], clean: Callable[[str], str]) -> None:
    cleaned = {field: _in_all(getattr(row, field), clean) for field in fields}
    changed = [field for field, value in cleaned.items() if value != getattr(row, field)]
    for field in changed:
        setattr(row, field, cleaned[field])
    if changed:
        row.save(update_fields=changed)


def _in_all(value: Any, clean: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, list):
        return [_in_all(one, clean) for one in value]
    if isinstance(value, dict):
        return {clean(key): _in_all(one, clean) for key, one in value.items()}
    return value
