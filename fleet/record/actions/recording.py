"""One more act on the record."""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from django.db import models, transaction

from fleet.ground.languages.known import kept_in_english
from fleet.record.actions.sealing import seal
from fleet.record.models import Act, Deed
from fleet.record.models.acts import sum_of
from fleet.record.queries.page import ON_PAGE
from fleet.record.queries.telling import Told

# Who and what an act is about, in the order in which it is told.
ABOUT = ("account", "guardian", "pupil", "horn")
WORDS = {"account": "person"}


@dataclass(frozen=True, slots=True)
class About:
    """What one act is about, and what it tells: `[what, who or which]`, `[what, from, to]`."""

    told: Sequence[Sequence[str]] = ()
    account: models.Model | None = None
    guardian: models.Model | None = None
    pupil: models.Model | None = None
    horn: models.Model | None = None


def record(
    *,
    deed: Deed,
    school: models.Model | None,
    by: models.Model | None,
    at: datetime,
    told: Sequence[Sequence[str]] = (),
    account: models.Model | None = None,
    guardian: models.Model | None = None,
    pupil: models.Model | None = None,
    horn: models.Model | None = None,
) -> None:
    """Writes who did what, inside the transaction of the action that did it, and has it sealed right after.

    `school` is None for what is the site's. `by` is None for a command, or a stranger. What it is about is named in
    what is told by itself.
    """
    about = About(told, account, guardian, pupil, horn)
    record_many(deed=deed, school=None if school is None else school.pk, by=by, at=at, acts=[about])


def record_many(
    *, deed: Deed, school: int | None, by: models.Model | None, at: datetime, acts: Iterable[About]
) -> None:
    """`record` for many of the same deed, by the key of the school."""
    made = [_act(deed, school, by, at, about) for about in acts]
    Act.objects.bulk_create(made, batch_size=200)
    if made:
        # What cannot be sealed now is sealed with the next act; the act it belongs to is done.
        transaction.on_commit(partial(seal, school=school), robust=True)


def _act(deed: Deed, school: int | None, by: models.Model | None, at: datetime, about: About) -> Act:
    named = {name: row for name in ABOUT if (row := getattr(about, name)) is not None}
    # One language for the whole chain, whoever acts.
    with kept_in_english():
        told: Told = [[WORDS.get(name, name), str(row)] for name, row in named.items()]
        told += [[str(one) for one in line] for line in about.told]
    keys: dict[str, Any] = {f"{name}_id": row.pk for name, row in named.items()}
    act = Act(school_id=school, at=at, deed=deed, page=ON_PAGE.get(), by_id=by.pk if by else None, **keys)
    act.keys = act.keys_now()
    act.by_name = str(by)[:254] if by else ""
    act.told = json.dumps(told, ensure_ascii=False) if told else ""
    # Without its salt nobody can try out which name it was.
    act.by_salt = secrets.token_hex(16) if act.by_name else ""
    act.told_salt = secrets.token_hex(16) if act.told else ""
    act.by_sum, act.told_sum = sum_of(act.by_salt, act.by_name), sum_of(act.told_salt, act.told)
    return act
