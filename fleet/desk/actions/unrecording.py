"""Names taken out of the record of acts: whatever an act tells goes whole where one stands in it, as its seal hangs on
all of it."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection
from datetime import datetime
from typing import Any

from django.db.models import Q

from fleet.people.models import Pupil, User
from fleet.record.actions.emptying import empty
from fleet.record.models import Act, Deed


def forget_in_record(
    *,
    pupil: Pupil,
    guardians: Collection[int],
    accounts: Collection[int],
    horns: Collection[int],
    whole: Collection[str],
    clean: Callable[[str], str],
    by: User | None,
    at: datetime,
) -> None:
    """Empties the acts about the pupil, these guardians and accounts; those of these horns in whose words `clean` finds
    a name or a part of one; and those of the school that tell one of `whole`. Who did an act stays, but for these
    accounts. An act says that it was done, and which acts were emptied.
    """
    about = Q(pupil=pupil) | Q(guardian__in=guardians) | Q(account__in=accounts)
    of_horns = Act.objects.filter(horn__in=horns)
    told = {act.pk for act in of_horns.exclude(told="").iterator(chunk_size=1000) if clean(act.told) != act.told}
    names = {name.casefold() for name in whole if len(name) > 1}
    of_school = Act.objects.of(pupil.school_id).exclude(told="")
    told |= {act.pk for act in of_school.iterator(chunk_size=1000) if names & _words(json.loads(act.told))}
    # Asked for by their keys in one question: SQLite takes 32,000 of them, far more than one family has acts.
    empty(
        told=about | Q(pk__in=told),
        named=Q(by__in=accounts),
        deed=Deed.FORGOTTEN,
        by=by,
        at=at,
        say=pupil.school_id,
        also=[["pupil", f"former pupil {pupil.pk}"]],
    )


def _words(told: Any) -> set[str]:
    return {part.casefold() for line in told for part in line}
