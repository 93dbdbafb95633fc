"""What the site that `serve` runs does by itself, once a day: a backup, schools closed, what lies about removed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import date, datetime

from django.db import DatabaseError, connection
from django.utils import timezone

from fleet.desk.actions.tidying import tidy
from fleet.exchange.actions.closing import close_school, to_close
from fleet.exchange.actions.daily_backups import KEPT, back_up_daily
from fleet.ground.refusal import Refused

LOOK_AGAIN = 3600


def each_day(over: threading.Event, say: Callable[[str], object]) -> None:
    """At once and then once a day until it is over. What goes wrong is said and tried again an hour later."""
    done: date | None = None
    while True:
        now = timezone.now()
        if timezone.localdate(now) != done and _did(now, say):
            done = timezone.localdate(now)
        if over.wait(LOOK_AGAIN):
            return


def _did(now: datetime, say: Callable[[str], object]) -> bool:
    try:
        if made := back_up_daily(at=now):
            say(f"Backed up: {made}. The last {KEPT} days are kept there; copy them to another disk too.")
        for school in to_close(at=now):
            file = close_school(school=school, at=now)
            say(f"{school} is closed. All it had is in {file}: hand it over, then delete it.")
        if gone := str(tidy(at=now)):
            say(f"Removed: {gone}.")
    except Refused as no:
        say(f"Not done today: {no.sentence}")
        return True
    except (OSError, DatabaseError) as trouble:
        say(f"Not done yet: {trouble}. It is tried again within the hour.")
        return False
    finally:
        connection.close()
    return True
