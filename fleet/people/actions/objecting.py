"""A change of a guardian's address that the address before calls not its own: undone, and a head looks into it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.access import HEADS
from fleet.ground.refusal import Refused
from fleet.people.actions.accounts import account_for
from fleet.people.models import AddressChange, Guardian, Post, User
from fleet.people.models.families import SIGNS_AFTER
from fleet.people.queries.objections import may_be_objected_to, objected_of
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved


@transaction.atomic
def object_to_change(*, change: AddressChange, by: User | None, at: datetime) -> AddressChange:
    """Puts back the address there was before. `by` is None: who holds the link has not signed in.

    It signs a week later, as after every change. Where another guardian of the school has that address by now, the new
    one stays and waits for another week. What came after this change can be objected to no more. Raises Refused when
    this one cannot.
    """
    guardian = Guardian.objects.select_for_update().select_related("school").get(pk=change.guardian_id)
    change = AddressChange.objects.select_for_update().filter(pk=change.pk).first() or AddressChange(objected_at=at)
    if not may_be_objected_to(change, at):
        raise Refused(gettext("This link was used already."))
    others = Guardian.objects.filter(school=guardian.school, email__iexact=change.before).exclude(pk=guardian.pk)
    back = {} if others.exists() else {"email": change.before}
    told = moved(guardian, back)
    for column, value in back.items():
        setattr(guardian, column, value)
    if back:
        guardian.user = account_for(email=change.before, name=guardian.name)
    guardian.address_by, guardian.address_since = None, at
    guardian.save()
    guardian.address_changes.filter(pk__gt=change.pk).delete()
    change.objected_at = at
    change.save(update_fields=["objected_at"])
    told.append(["signs on the family’s page from", timezone.localdate(at + SIGNS_AFTER).isoformat()])
    record(deed=Deed.ADDRESS_OBJECTED, school=guardian.school, by=by, at=at, guardian=guardian, told=told)
    return change


@transaction.atomic
def look_into(*, guardian: Guardian, by: User, at: datetime) -> None:
    """A head has looked into what was objected to. Raises Refused when there is nothing."""
    found, _ = guardian.address_changes.objected().delete()
    if not found:
        raise Refused(_s("Somebody has looked into it already."))
    record(deed=Deed.OBJECTION_SETTLED, school=guardian.school, by=by, at=at, guardian=guardian)


def may_change_address(*, guardian: Guardian, by: User, at: datetime) -> None:
    """Raises Refused where an earlier change was objected to, for all but heads."""
    if objected_of(guardian) is None:
        return
    if not Post.objects.filter(school=guardian.school, user=by, role__in=HEADS).exists():
        raise Refused(
            _s("Whoever had an earlier address of %(guardian)s says that they asked for no change. A head looks first.")
            % {"guardian": guardian}
        )
