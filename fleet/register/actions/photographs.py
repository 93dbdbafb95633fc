"""Photographs of a horn added and taken away."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.files import delete_with, save_with
from fleet.register.actions.locking import locked
from fleet.register.models import Horn, Photograph

MOST_PHOTOGRAPHS = 24


@transaction.atomic
def add_photograph(
    *,
    horn: Horn,
    image: ContentFile[bytes],
    width: int,
    height: int,
    caption: str = "",
    sent_as: UUID | None = None,
    waited: timedelta = timedelta(),
    by: User,
    at: datetime,
) -> Photograph:
    """Keeps a picture that `fleet.ground.pictures.redrawn` has drawn anew; sizes in pixels.

    Sent again under the same `sent_as`, the one that is kept; one that `waited` for a connection was taken so much
    before `at`.
    """
    now = locked(horn)
    there = Photograph.objects.filter(sent_as=sent_as).first() if sent_as else None
    if there is not None and (there.by_id, there.horn_id) == (by.pk, now.pk):
        return there
    if there is not None:
        # No browser makes the same id twice: this one was copied. Nothing of the other photograph is told.
        raise Refused(_s("Take the photograph again: it cannot be kept from here."))
    if now.photographs.count() >= MOST_PHOTOGRAPHS:
        raise Refused(_s("A horn has at most %(most)s photographs. Take one away first.") % {"most": MOST_PHOTOGRAPHS})
    photograph = Photograph(horn=now, width=width, height=height, caption=caption, by=by, at=at - waited)
    photograph.sent_as = sent_as
    save_with(photograph.image, image)
    record(deed=Deed.PHOTOGRAPH_ADDED, school=now.school, by=by, at=at, horn=now)
    return photograph


@transaction.atomic
def remove_photograph(*, photograph: Photograph, by: User, at: datetime) -> None:
    """Takes a picture away; its file goes once the row is really gone."""
    horn = locked(photograph.horn)
    record(deed=Deed.PHOTOGRAPH_REMOVED, school=horn.school, by=by, at=at, horn=horn)
    delete_with(photograph.image)
