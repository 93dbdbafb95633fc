"""Which change of a guardian's address a letter's link objects to, and which objections a head has not looked into."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256

from django.db.models import QuerySet

from fleet.people.models import AddressChange, Guardian, School


def digest_of(secret: str) -> str:
    """A plain hash is enough for a secret of 160 random bits: there is nothing to try out."""
    return sha256(secret.encode(errors="replace")).hexdigest()


def change_of(secret: str, at: datetime) -> AddressChange | None:
    """The change that this secret objects to, while it can be objected to. One query."""
    found = AddressChange.objects.select_related("guardian__school").filter(digest=digest_of(secret)).first()
    return found if found is not None and may_be_objected_to(found, at) else None


def may_be_objected_to(change: AddressChange, at: datetime) -> bool:
    return change.objected_at is None and at < change.objected_until


def objected(school: School) -> QuerySet[AddressChange]:
    """What was objected to at a school, and no head has looked into yet."""
    return AddressChange.objects.objected().filter(guardian__school=school).select_related("guardian")


def objected_of(guardian: Guardian) -> AddressChange | None:
    return guardian.address_changes.objected().order_by("pk").last()
