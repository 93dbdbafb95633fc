"""What is done to the whole site, on the record of each of its schools: a head reads there who has a copy."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from django.db import transaction
from django.utils import timezone

from fleet.people.models import School
from fleet.record.actions.recording import record
from fleet.record.models import Deed


def record_backup(*, file: Path, at: datetime) -> None:
    """A copy of the site was written; where there is no school yet, the site's own record says so."""
    _record(Deed.BACKED_UP, at, [["file", file.name]])


def record_restored(*, file: Path, made_at: datetime, at: datetime) -> None:
    """The site came back from a copy that was `made_at`: what was recorded since then is not here."""
    made = timezone.localtime(made_at).isoformat(timespec="minutes")
    _record(Deed.RESTORED, at, [["file", file.name], ["made", made]])


@transaction.atomic
def _record(deed: Deed, at: datetime, told: list[list[str]]) -> None:
    for school in School.objects.order_by("pk") or [None]:
        record(deed=deed, school=school, by=None, at=at, told=told)
