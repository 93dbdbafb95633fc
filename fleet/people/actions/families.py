"""Pupils and guardians written down; guardians tied to pupils and let go, each in one transaction."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from fleet.people.actions.accounts import account_for
from fleet.people.models import Guardian, Pupil, School, User


def add_pupil(*, school: School, said: Mapping[str, Any], by: User, at: datetime) -> Pupil:
    """A new pupil of the school; `said` names columns of `Pupil`."""
    return Pupil.objects.create(school=school, **said)


@transaction.atomic
def save_guardian(*, guardian: Guardian, pupil: Pupil | None = None) -> Guardian:
    """Writes a guardian's record and ties it to the account of its e-mail address, and to a pupil if given.

    A guardian already on record at the school under the same address is tied rather than doubled.
    """
    guardian.email = guardian.email.lower()
    if guardian.pk is None and guardian.email:
        known = Guardian.objects.filter(school=guardian.school, email__iexact=guardian.email).first()
        guardian = known or guardian
    guardian.user = account_for(email=guardian.email, name=guardian.name) if guardian.email else None
    guardian.save()
    if pupil is not None:
        pupil.guardians.add(guardian)
    return guardian


@transaction.atomic
def let_go(*, guardian: Guardian, pupil_ids: set[int]) -> None:
    """The guardian no longer answers for these pupils; their loans keep who signed."""
    guardian.pupils.remove(*guardian.pupils.filter(pk__in=pupil_ids))
