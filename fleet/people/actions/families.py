"""Pupils and guardians written down; guardians tied to pupils and let go, each in one transaction."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from fleet.people.actions.accounts import account_for
from fleet.people.models import Guardian, Pupil, School, User
from fleet.people.queries.addresses import is_new_to
from fleet.people.queries.objections import digest_of
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved, set_out

# What an act tells of somebody new.
OF_PUPIL = ("family_name", "year", "group", "pupil_id", "needs_wrap", "needs_kind")
OF_GUARDIAN = ("email", "telephone", "language")


@transaction.atomic
def add_pupil(*, school: School, said: Mapping[str, Any], by: User, at: datetime) -> Pupil:
    """A new pupil of the school; `said` names columns of `Pupil`."""
    pupil = Pupil.objects.create(school=school, **said)
    record(deed=Deed.PUPIL_NEW, school=school, by=by, at=at, pupil=pupil, told=set_out(pupil, OF_PUPIL))
    return pupil


@transaction.atomic
def save_guardian(
    *, guardian: Guardian, pupil: Pupil | None = None, secret: str = "", by: User | None, at: datetime
) -> Guardian:
    """Writes a guardian's record and ties it to the account of its e-mail address, and to a pupil if given.

    A guardian already on record at the school under the same address is tied rather than doubled, and gets a telephone
    number or language where there was none. An address that is another than before, or new to a pupil who had somebody
    already, does not sign for a while (`Guardian.signs_from`).
    `secret` is that of the link by which the address before can object.
    """
    guardian.email = guardian.email.lower()
    if guardian.pk is None:
        known = Guardian.objects.filter(school=guardian.school, email__iexact=guardian.email).exclude(email="").first()
        if known is not None:
            known.telephone = known.telephone or guardian.telephone
            known.language = known.language or guardian.language
        guardian = known or guardian
    before = Guardian.objects.select_for_update().filter(pk=guardian.pk).first()
    if before is None or before.email.lower() != guardian.email:
        guardian.address_by = by
        guardian.address_since = at if before is not None else None
    if pupil is not None and is_new_to(pupil, guardian):
        guardian.address_by, guardian.address_since = by, at
    guardian.user = account_for(email=guardian.email, name=guardian.name) if guardian.email else None
    guardian.save()
    if before is not None and before.email and before.email.lower() != guardian.email and secret:
        guardian.address_changes.create(before=before.email, at=at, digest=digest_of(secret))
    ready = guardian.signs_from(at) if guardian.email and guardian.address_since == at else None
    waits = [["signs on the family’s page from", timezone.localdate(ready).isoformat()]] if ready else []
    if before is None:
        told = set_out(guardian, OF_GUARDIAN)
        record(deed=Deed.GUARDIAN_NEW, school=guardian.school, by=by, at=at, guardian=guardian, told=told)
    elif told := moved(before, {name: getattr(guardian, name) for name in ("name", *OF_GUARDIAN)}):
        told += waits
        record(deed=Deed.GUARDIAN_CHANGED, school=guardian.school, by=by, at=at, guardian=guardian, told=told)
    if pupil is not None:
        pupil.guardians.add(guardian)
        about = {"guardian": guardian, "pupil": pupil}
        record(deed=Deed.GUARDIAN_TIED, school=guardian.school, by=by, at=at, told=waits, **about)
    return guardian


@transaction.atomic
def speak(*, account: User, language: str, by: User, at: datetime) -> None:
    """From now on this language, at every school of the account's families that has switched it on, and on the pages
    of staff where theirs has."""
    if any(language in post.school.languages_of_staff for post in account.posts.select_related("school")):
        account.language = language
        account.save(update_fields=["language"])
    records = Guardian.objects.filter(user=account).select_related("school").order_by("pk")
    for guardian in records.select_for_update(of=("self",)):
        if language in guardian.school.languages and (told := moved(guardian, {"language": language})):
            guardian.language = language
            guardian.save(update_fields=["language"])
            record(deed=Deed.GUARDIAN_CHANGED, school=guardian.school, by=by, at=at, guardian=guardian, told=told)


@transaction.atomic
def let_go(*, guardian: Guardian, pupil_ids: Collection[int], by: User, at: datetime) -> None:
    """The guardian no longer answers for these pupils; their loans keep who signed."""
    gone = list(guardian.pupils.filter(pk__in=pupil_ids))
    guardian.pupils.remove(*gone)
    Pupil.objects.filter(pk__in=[pupil.pk for pupil in gone]).update(guardian_let_go_at=at)
    for pupil in gone:
        record(deed=Deed.GUARDIAN_LET_GO, school=guardian.school, by=by, at=at, guardian=guardian, pupil=pupil)
