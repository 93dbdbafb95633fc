"""The backups a site keeps of itself: one a day, the last seven."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from fleet.exchange.actions.site_recorded import record_backup
from fleet.exchange.queries.site_out import back_up
from fleet.people.models import School

KEPT = 7


def back_up_daily(*, at: datetime) -> Path | None:
    """Makes the day's backup and removes those before the last seven. None where it is there, or the site is empty.

    An empty site has lost its data or not begun: its backups would push out those that are worth something.
    """
    folder = Path(settings.DATA_DIR) / "backups"
    file = folder / f"horns-{timezone.localdate(at)}.zip"
    if file.exists() or not School.objects.exists():
        return None
    folder.mkdir(exist_ok=True)
    # Of a day on which the machine went off midway: copies of the data that nobody would look for.
    for half in folder.glob(".horns-*.part"):
        half.unlink()
    back_up(to=file, at=at)
    for old in sorted(folder.glob("horns-????-??-??.zip"))[:-KEPT]:
        old.unlink()
    record_backup(file=file, at=at)
    return file
