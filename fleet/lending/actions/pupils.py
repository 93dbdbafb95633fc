"""Pupils amended, with the horns that carry their names and classes: a new one moves a horn, so it is an action like
any other. Two records of one pupil, or of one guardian, put together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import kept_in_english
from fleet.ground.refusal import Refused
from fleet.people.actions import many
from fleet.people.actions.families import OF_GUARDIAN, save_guardian
from fleet.people.models import AddressChange, Guardian, Opening, Pupil, User
from fleet.record.actions.pointing import lead_over
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries import pointing
from fleet.record.queries.telling import moved, set_out
from fleet.register.actions.keeping import keep_all
from fleet.register.actions.locking import locked_all
from fleet.register.models import Horn

# What a horn tells of the pupil who has it.
CARRIED = {"name", "group"}
# What an act calls the key of a guardian who was put together with another.
KEY = "their key"
# What a pupil takes over from a second record of theirs where it is empty.
FILLED = ("family_name", "pupil_id", "year", "group", "needs_wrap", "needs_kind")


@transaction.atomic
def amend(*, pupil: Pupil, changes: Mapping[str, Any], by: User, at: datetime) -> Pupil:
    """Writes what differs from the pupil's row and returns it as it is now, the horns that carry the name with it.

    The horns are locked first and the pupil after them, as in every action about a loan: a return at the same moment
    comes before and leaves nothing to carry, or waits and takes the new name away with it. Refused where the pupil was
    struck out: without the day they left, they would be in the lists again.
    """
    hold_horns_of([pupil.pk])
    now = held(pupil)
    if now.struck_out:
        raise Refused(_s("%(now)s is struck out, so nothing about them is changed any more.") % {"now": now})
    changed = {name: value for name, value in changes.items() if getattr(now, name) != value}
    if not changed:
        return now
    # With the pupil's row held no horn can come to carry the name any more.
    carrying = _carrying([now.pk]) if CARRIED & {*changed} else []
    record(deed=Deed.PUPIL_CHANGED, school=now.school, by=by, at=at, pupil=now, told=moved(now, changed))
    for name, value in changed.items():
        setattr(now, name, value)
    now.save(update_fields=list(changed))
    keep_all(carrying)
    return now


@transaction.atomic
def strike_out(*, pupil: Pupil, reason: str, by: User, at: datetime) -> Pupil:
    """A pupil who was entered by mistake leaves the lists; the id may be given to the right one. Refused where anything
    was done for them: then it was no mistake."""
    hold_horns_of([pupil.pk])
    now = held(pupil)
    if now.struck_out:
        raise Refused(_s("%(now)s is struck out already.") % {"now": now})
    if there := on_record(now):
        raise Refused(
            _s("On record of %(now)s: %(there)s. So this was no mistake; say when they left instead.")
            % {"now": now, "there": ", ".join(there)}
        )
    _leave_lists(now, reason, at)
    record(deed=Deed.PUPIL_STRUCK_OUT, school=now.school, by=by, at=at, pupil=now, told=[["reason", reason]])
    return now


@transaction.atomic
def merge(*, twice: Pupil, into: Pupil, by: User, at: datetime) -> Pupil:
    """All that is on record of a pupil who was entered twice goes to `into`, and `twice` is struck out.

    What is empty of `into` is filled; who answers for `twice` answers for `into` too, and as anybody new to a pupil
    does not sign at once. It cannot be undone. Refused where both wait to sign for the same horn.
    """
    hold_horns_of([twice.pk, into.pk])
    rows = {key: held(pupil) for key, pupil in sorted({twice.pk: twice, into.pk: into}.items())}
    gone, now = rows[twice.pk], rows[into.pk]
    if gone.pk == now.pk or gone.school_id != now.school_id:
        raise Refused(_s("Choose another pupil of this school."))
    if gone.struck_out or now.struck_out:
        raise Refused(_s("%(now)s is struck out already.") % {"now": gone if gone.struck_out else now})
    carrying = _carrying([gone.pk, now.pk])
    with kept_in_english():
        told = [["entered twice as", gone.described]]
    record(deed=Deed.PUPILS_MERGED, school=now.school, by=by, at=at, pupil=now, told=told)
    try:
        with transaction.atomic():
            lead_over(gone, now)
    except IntegrityError as trouble:
        raise Refused(
            _s("%(gone)s and %(now)s both wait to sign for the same horn. Take one of the two back first.")
            % {"gone": gone, "now": now}
        ) from trouble
    for guardian in gone.guardians.exclude(pk__in=now.guardians.all()).order_by("pk"):
        save_guardian(guardian=guardian, pupil=now, by=by, at=at)
    gone.guardians.clear()
    filled = [name for name in FILLED if not getattr(now, name) and getattr(gone, name)]
    for name in filled:
        setattr(now, name, getattr(gone, name))
    _leave_lists(gone, f"Entered twice: {now}", at)
    now.save(update_fields=filled)
    keep_all(carrying)
    return now


@transaction.atomic
def merge_guardians(*, twice: Guardian, into: Guardian, by: User, at: datetime) -> Guardian:
    """All that is on record of a guardian who was entered twice goes to `into`, and `twice` is gone.

    `into` answers for their pupils too, and as anybody new to a pupil does not sign at once. What `into`
    lacks of e-mail, telephone and language is taken over; where both have one, that of `into` stays. It cannot be
    undone. Refused while a change of address of either can be objected to: its link leads to the record that would go.
    """
    hold_horns_of(Pupil.objects.filter(guardians__in=[twice.pk, into.pk]).values_list("pk", flat=True))
    rows = Guardian.objects.select_for_update(of=("self",)).select_related("school").order_by("pk")
    found = rows.in_bulk([twice.pk, into.pk])
    _may_be_one(twice, into, at)
    gone, now = found[twice.pk], found[into.pk]
    # `fleet.desk.actions.forgetting` reads here who they were.
    told = [["entered twice as", gone.name], *set_out(gone, OF_GUARDIAN), [KEY, str(gone.pk)]]
    record(deed=Deed.GUARDIANS_MERGED, school=now.school, by=by, at=at, guardian=now, told=told)
    for pupil in gone.pupils.exclude(guardians=now).order_by("pk"):
        save_guardian(guardian=now, pupil=pupil, by=by, at=at)
    gone.pupils.clear()
    lead_over(gone, now)
    gone.delete()
    taken = {name: said for name in OF_GUARDIAN if (said := getattr(gone, name)) and not getattr(now, name)}
    for name, said in taken.items():
        setattr(now, name, said)
    if taken:
        save_guardian(guardian=now, by=by, at=at)
    return now


def _may_be_one(twice: Guardian, into: Guardian, at: datetime) -> None:
    if twice.pk == into.pk or twice.school_id != into.school_id:
        raise Refused(_s("Choose another guardian of this school."))
    pair = [twice.pk, into.pk]
    if Guardian.objects.filter(pk__in=pair).count() < len(pair):
        raise Refused(_s("One of the two is not on record any more. Somebody may have put them together."))
    over = AddressChange.objects.over(at).values("pk")
    if AddressChange.objects.filter(guardian__in=pair).exclude(pk__in=over).exists():
        raise Refused(
            _s(
                "An e-mail address of one of the two was changed in the last days, and whoever had it before can still "
                "object. Put them together after that."
            )
        )


def on_record(pupil: Pupil) -> dict[str, int]:
    """How many rows of what there are about a pupil, in words; who looked is not among them."""
    return pointing.on_record(pupil, besides={Opening})


def _leave_lists(pupil: Pupil, reason: str, at: datetime) -> None:
    pupil.struck_out, pupil.pupil_id, pupil.left_on = reason[:300], "", pupil.left_on or timezone.localdate(at)
    pupil.save(update_fields=["struck_out", "pupil_id", "left_on"])


def held(pupil: Pupil) -> Pupil:
    """The pupil's row as it is now, held until the transaction ends. Refused when there is none any more."""
    now = Pupil.objects.select_for_update().filter(pk=pupil.pk).first()
    if now is None:
        raise Refused(_s("This pupil is not on record any more: the list they came in with was undone."))
    return now


def amend_many(changes: Mapping[Pupil, Mapping[str, Any]]) -> None:
    """`amend` for the pupils of a list. The caller holds their horns (`hold_horns_of`) and then their rows."""
    carrying = _carrying([pupil.pk for pupil, changed in changes.items() if CARRIED & {*changed}])
    many.amend_many(changes)
    keep_all(carrying)


def hold_horns_of(pupils: Iterable[int]) -> None:
    """Locks the horns that carry these pupils' names, before the pupils' own rows are locked."""
    locked_all(_carrying(pupils))


def _carrying(pupils: Iterable[int]) -> list[int]:
    """Keys of the horns that these pupils have or are promised."""
    keys = list(pupils)
    mine = Pupil.objects.filter(pk__in=keys)
    out = Q(loans__pupil__in=keys, loans__returned_on=None)
    promised = Q(promised_to__in=list(mine.values_list("name", flat=True)), school__in=mine.values("school"))
    return list(Horn.objects.filter(out | promised).values_list("pk", flat=True).distinct())
