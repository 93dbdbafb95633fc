"""What waits to be signed when a new school year begins: its due day moves as those of loans do, before the family."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from fleet.ground.refusal import Refused
from fleet.lending.queries.new_year import NewYear
from fleet.people.models import User
from fleet.signing.actions.putting_before import put_before
from fleet.signing.queries.waiting import until_old_end


@transaction.atomic
def ask_until_new_end(*, done: NewYear, by: User, at: datetime) -> int:
    """Puts what pupils of renewed classes are asked for, and nobody has signed yet, before their families anew until
    the new end; gives how many. What is refused stays as it is.

    The caller has their horns locked.
    """
    asked = 0
    waiting = until_old_end(done, timezone.localdate(at)).order_by("pk")
    for one in waiting.select_related("horn", "pupil", "guardian", "agreement"):
        try:
            put_before(**one.terms | {"due_on": done.until}, by=by, at=at)
        except Refused:
            continue
        asked += 1
    return asked
