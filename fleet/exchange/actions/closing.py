"""A school leaves the site: one person proposes it, another agrees, and a day later all it had is one file and gone.

Until then either can take it back. The file is read again before anything is removed.
"""

from __future__ import annotations

import json
import zipfile
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.core.files.storage import default_storage
from django.db import IntegrityError, models, transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.exchange.models import Batch, Closing, Import
from fleet.exchange.queries.packing import sum_of
from fleet.exchange.queries.school_out import accounts_of, export_school
from fleet.exchange.queries.whole_school import tables
from fleet.ground.refusal import Refused
from fleet.letters.models import CalendarKey
from fleet.people.actions.accounts import remove_account
from fleet.people.actions.schools import locked_school
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed

WRITTEN_MEANWHILE = "Somebody wrote at {school} while its file was made. It is tried again the next night."


@transaction.atomic
def propose_closing(*, school: School, reason: str, by: User, at: datetime) -> Closing:
    """A service head proposes that the school leaves. Nothing changes until another person agrees."""
    locked_school(school.pk)
    if Closing.objects.filter(school=school).exists():
        raise Refused(_s("Closing this school is proposed already."))
    record(deed=Deed.CLOSING_PROPOSED, school=school, by=by, at=at, told=[["why", reason]])
    return Closing.objects.create(school=school, reason=reason, proposed_by=by, proposed_at=at)


@transaction.atomic
def agree_to_closing(*, school: School, by: User, at: datetime) -> Closing:
    """A second person agrees: the first night a day from now, the school is closed."""
    closing = _closing(school)
    if closing.agreed_at is not None:
        raise Refused(_s("%(person)s has agreed already.") % {"person": closing.agreed_by})
    if closing.proposed_by_id == by.pk:
        raise Refused(_s("You proposed it yourself. Another head agrees."))
    closing.agreed_by, closing.agreed_at = by, at
    closing.save(update_fields=["agreed_by", "agreed_at"])
    record(deed=Deed.CLOSING_AGREED, school=school, by=by, at=at)
    return closing


@transaction.atomic
def take_closing_back(*, school: School, by: User, at: datetime) -> None:
    """The school stays. Any of its heads may say so until it is closed."""
    _closing(school).delete()
    record(deed=Deed.CLOSING_TAKEN_BACK, school=school, by=by, at=at)


def to_close(*, at: datetime) -> list[School]:
    """Schools whose closing two people agreed on at least a day ago."""
    return list(School.objects.filter(closing__agreed_at__lte=at - Closing.WAITS).order_by("pk"))


def close_school(*, school: School, at: datetime) -> Path:
    """Writes all the school has into one file in data/closed, reads it again, and removes the school from the site.

    Accounts that nothing else on the site names go too. Raises Refused where somebody wrote meanwhile: the next night
    tries again.
    """
    folder = Path(settings.DATA_DIR) / "closed"
    folder.mkdir(exist_ok=True)
    file = folder / f"{school.slug}-{timezone.localdate(at)}.zip"
    counts = export_school(school=school, to=file, at=at)
    with zipfile.ZipFile(file) as archive:
        facts = json.loads(archive.read("contents.json"))
        if any(sum_of(archive, name) != total for name, total in facts["sha256"].items()):
            raise Refused(f"{file} cannot be read again as it was written. {school} stays.")
    try:
        _remove(school, counts, at)
    except IntegrityError as trouble:
        raise Refused(WRITTEN_MEANWHILE.format(school=school)) from trouble
    return file


@transaction.atomic
def _remove(school: School, counts: dict[str, int], at: datetime) -> None:
    School.objects.select_for_update().get(pk=school.pk)
    closing = _closing(school)
    if closing.closes_from is None or closing.closes_from > at:
        raise Refused(f"Closing {school} was taken back.")
    if any(table.rows_of(school).count() != counts[table.name] for table in tables()):
        raise Refused(WRITTEN_MEANWHILE.format(school=school))
    people, pictures = accounts_of(school), _pictures(school)
    # Its own record goes with it, so that of the site says who wanted it.
    who = [["proposed by", str(closing.proposed_by)], ["agreed to by", str(closing.agreed_by)]]
    record(deed=Deed.SCHOOL_CLOSED, school=None, by=None, at=at, told=[["school", f"{school}, {school.slug}"], *who])
    closing.delete()
    CalendarKey.objects.filter(school=school).delete()
    Batch.objects.filter(batch_of__school=school).delete()
    Import.objects.filter(school=school).delete()
    for table in reversed(tables()):
        rows = table.rows_of(school).order_by()
        rows._raw_delete(using=rows.db)
    for person in User.objects.filter(pk__in=people):
        remove_account(person)

    def remove_files() -> None:
        for name in pictures:
            default_storage.delete(name)

    transaction.on_commit(remove_files)


def _pictures(school: School) -> list[str]:
    return [
        str(name)
        for table in tables()
        for field in table.columns
        if isinstance(field, models.FileField)
        for name in table.rows_of(school).values_list(field.name, flat=True)
        if name
    ]


def _closing(school: School) -> Closing:
    locked_school(school.pk)
    closing = Closing.objects.filter(school=school).first()
    if closing is None:
        raise Refused(_s("Nobody proposes to close this school, or it was taken back."))
    return closing
