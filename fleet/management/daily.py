"""What the site that `serve` runs does by itself: letters every hour of the day, and once a day a backup, schools
closed, what lies about removed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import date, datetime

from django.db import DatabaseError, connection
from django.utils import timezone

from fleet.desk.actions.tidying import tidy
from fleet.exchange.actions.closing import close_school, to_close
from fleet.exchange.actions.daily_backups import KEPT, back_up_daily
from fleet.ground.addresses import from_the_path
from fleet.ground.refusal import Refused
from fleet.letters.actions.reminding import remind
from fleet.mail.actions.posting import post_soon
from fleet.mail.queries import has_server
from fleet.people.models import School

LOOK_AGAIN = 3600
# A code is good for a quarter of an hour: seconds count.
POST_AGAIN = 20
# Nobody is written to at night: the first hour of the day in which letters go, and the first in which none do.
LETTERS_FROM, LETTERS_UNTIL = 7, 19


def each_day(over: threading.Event, say: Callable[[str], object]) -> None:
    """At once and then once a day until it is over, letters each hour. What goes wrong is said and tried again an hour
    later."""
    from_the_path()
    done: date | None = None
    while True:
        now = timezone.now()
        try:
            if timezone.localdate(now) != done and _did(now, say):
                done = timezone.localdate(now)
            _send(now, say)
        finally:
            # Nothing is held open until the next hour.
            connection.close()
        if over.wait(LOOK_AGAIN):
            return


def each_moment(over: threading.Event) -> None:
    """Codes and notices that the mail server did not take at once go with the next of these."""
    while has_server() and not over.wait(POST_AGAIN):
        post_soon()


def _send(now: datetime, say: Callable[[str], object]) -> None:
    """The letters that are due. Each is claimed before it goes, so that whoever else sends them sends no second one."""
    if not has_server():
        return
    try:
        schools = School.objects.order_by("pk")
        awake = [one for one in schools if LETTERS_FROM <= timezone.localtime(now, one.zone).hour < LETTERS_UNTIL]
        told = remind(schools=awake, now=now)
        if told.counts:
            say(f"Letters: {', '.join(f'{count} {what}' for what, count in told.in_words)}.")
        if told.server_trouble:
            say(f"The mail server is away: {told.server_trouble}. Letters wait and are tried again within the hour.")
    except (OSError, DatabaseError) as trouble:
        say(f"Letters not sent yet: {trouble}. They are tried again within the hour.")


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
    return True
