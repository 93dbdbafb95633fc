"""What nobody needs and nobody misses: ended sessions, old counters and links, files half written, pictures without a
row."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.files.storage import default_storage
from django.db import connection, models, transaction
from django.db.models import OuterRef, Subquery

from fleet.exchange.actions.measuring import measure_tables
from fleet.ground.files.folder import all_kept
from fleet.lending.models import Loan, Wish
from fleet.letters.models import Letter
from fleet.people.actions.accounts import remove_account
from fleet.people.models import AddressChange, School, User
from fleet.people.queries.seats import nobodys
from fleet.register.actions.keeping import keep_all
from fleet.workshop.models import Finding, RepairJob, RepairJobQuerySet

COUNTERS = "throttle_counters"
# What says of which school it is, and whose school that is.
OF_A_SCHOOL: tuple[tuple[type[models.Model], str], ...] = (
    (Loan, "horn__school"),
    (RepairJob, "horn__school"),
    (Finding, "check_made__horn__school"),
    (Wish, "pupil__school"),
    (Letter, "guardian__school"),
)
# A picture is written before its row, a file before it has its name: both within minutes.
LIES_FOR = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Litter:
    """What lies about: how many sessions, counters and links are over, which accounts are nobody's, which files are
    left from something cut off."""

    sessions: int
    counters: int
    links: int
    accounts: list[User]
    drafts: list[Path]
    pictures: list[str]

    def __str__(self) -> str:
        counts = (
            (self.sessions, "ended sessions"),
            (self.counters, "old counters of the sign-in pages"),
            (self.links, "addresses that can object no more"),
            (len(self.accounts), "accounts that are nobody’s"),
            (len(self.drafts), "files half written"),
            (len(self.pictures), "pictures of no record"),
        )
        return ", ".join(f"{count} {what}" for count, what in counts if count)


def litter(*, at: datetime) -> Litter:
    """What `tidy` would remove."""
    return Litter(
        _sessions(at).count(),
        _counters(at, "SELECT cache_key"),
        AddressChange.objects.over(at).count(),
        nobodys(at - LIES_FOR),
        _drafts(at),
        _pictures(at),
    )


def tidy(*, at: datetime) -> Litter:
    """Removes it, and says what it was."""
    gone = litter(at=at)
    _sessions(at).delete()
    _counters(at, "DELETE")
    AddressChange.objects.over(at).delete()
    for person in gone.accounts:
        remove_account(person)
    for path in gone.drafts:
        path.unlink(missing_ok=True)
    for name in gone.pictures:
        default_storage.delete(name)
    # What the version before lent, took to the bench or wrote down while this one was put in place.
    for model, whose in OF_A_SCHOOL:
        rows = model._default_manager.order_by()
        rows.filter(school=None).update(school=Subquery(rows.filter(pk=OuterRef("pk")).values(whose)))
    # Usual times of the catalogue may have changed with a version.
    keep_in_turn(jobs=RepairJob.objects.open())
    measure_tables()
    return gone


def keep_in_turn(*, jobs: RepairJobQuerySet) -> None:
    """Keeps the turns of these open jobs anew, and what else is kept of their horns; school by school, so that nobody
    waits for all."""
    for school in School.objects.filter(pk__in=jobs.values("school")):
        with transaction.atomic():
            keep_all(jobs.at(school).values_list("horn", flat=True))


def _sessions(at: datetime) -> models.QuerySet[Session]:
    return Session.objects.filter(expire_date__lt=at)


def _counters(at: datetime, do: str) -> int:
    """Selects or deletes the counters that are over; how many there are. A site that never counted has no table."""
    if COUNTERS not in connection.introspection.table_names():
        return 0
    with connection.cursor() as cursor:
        over = connection.ops.adapt_datetimefield_value(at.replace(microsecond=0))
        cursor.execute(f"{do} FROM {COUNTERS} WHERE expires < %s", [over])
        return cursor.rowcount if do == "DELETE" else len(cursor.fetchall())


def _drafts(at: datetime) -> list[Path]:
    """Files that a backup, a restore or the closing of a school left when it was killed."""
    data = Path(settings.DATA_DIR)
    found = [path for folder in (data, data / "backups", data / "closed") for path in folder.glob(".*.part")]
    return [path for path in found if _lies_since(path, at)]


def _pictures(at: datetime) -> list[str]:
    """Files among the pictures that no row names.

    Where no row names any of them, the store may be another site's, or the database a new one: all stay.
    """
    there = set(all_kept())
    named = {
        str(name)
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, models.FileField)
        for name in model._base_manager.values_list(field.name, flat=True)
    }
    if not named & there:
        return []
    return [name for name in sorted(there - named) if _was_written(name) < at - LIES_FOR]


def _was_written(name: str) -> datetime:
    try:
        return default_storage.get_modified_time(name)
    except FileNotFoundError:
        return datetime.max.replace(tzinfo=UTC)


def _lies_since(path: Path, at: datetime) -> bool:
    try:
        return path.stat().st_mtime < (at - LIES_FOR).timestamp()
    except FileNotFoundError:
        return False
