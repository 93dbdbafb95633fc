"""A horn put on the register, and its particulars amended."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, TypedDict

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused, WayOut
from fleet.people.actions.schools import locked_school
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved, said, set_out
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import TWICE_WITHIN, locked
from fleet.register.actions.many import register_many
from fleet.register.actions.places import there_still
from fleet.register.models import FormerNumber, Horn, KindSaid, Place
from fleet.register.models.kinds import reversible, what_does_not_fit
from fleet.register.models.numbers import TAKEN
from fleet.register.queries.numbers import next_free, number_is_taken


class Particulars(TypedDict, total=False):
    """What the register says of a horn, as far as people type it. Prices are in the school's currency."""

    number: str
    build: str
    stands_in: str
    wrap: str
    fourth_valve: str
    fifth_valve: str
    maker: str
    model: str
    serial_number: str
    finish: str
    bell: str
    place: Place | None
    acquired_on: date | None
    acquired_within: str
    price: Decimal | None
    value: Decimal | None
    notes: str


@transaction.atomic
def register_horn(
    *,
    school: School,
    particulars: Particulars,
    suggested: str = "",
    told_apart: bool = False,
    by: User,
    at: datetime,
) -> Horn:
    """A new horn. Where the number is the one that was suggested and somebody else took it meanwhile, the horn
    gets the next free one instead; a number that was typed and is taken is refused. Sent twice in a row, it is
    registered once, unless whoever asks has `told_apart` what was sent twice."""
    # Numbers are given out one at a time: two people registering at once wait for each other here.
    locked_school(school.pk)
    number = particulars.get("number", "").strip()
    if not number or number_is_taken(school, number):
        there = Horn.objects.at(school).numbered(number)
        if there is not None and not told_apart and _sent_twice(there, particulars, by=by, at=at):
            return there
        if number and number != suggested:
            raise Refused(TAKEN, field="number")
        particulars = {**particulars, "number": next_free(school)}
    _refuse_what_does_not_fit(particulars.get("build", ""), particulars.get("stands_in", ""))
    there_still(particulars.get("place"))
    [horn] = register_many(school=school, particulars=[particulars], by=by, at=at)
    if horn.build:
        KindSaid.objects.create(horn=horn, at=at, by=by, build=horn.build, stands_in=horn.stands_in)
    told = set_out(horn, ("build", "stands_in", "maker", "serial_number", "place", "value"))
    record(deed=Deed.HORN_NEW, school=school, by=by, at=at, horn=horn, told=told)
    return horn


def _sent_twice(there: Horn, particulars: Particulars, *, by: User, at: datetime) -> bool:
    if there.created_by_id != by.pk or at - there.created > TWICE_WITHIN:
        return False
    return all(getattr(there, name) == value for name, value in particulars.items())


@transaction.atomic
def amend_horn(
    *, horn: Horn, changes: Mapping[str, Any], waited: timedelta = timedelta(), by: User, at: datetime
) -> list[str]:
    """Writes what differs from the horn's row and returns the names of those columns.

    A change of number keeps the old one reserved, one of kind is an event. A change of stand alone is a restringing,
    and refused here. What `waited` for a connection was done so much before `at`, and the record tells when.
    """
    locked_school(horn.school_id)
    now = locked(horn)
    changed = {name: value for name, value in changes.items() if getattr(now, name) != value}
    if not changed:
        return []
    there_still(changed.get("place"))
    if "acquired_on" in changed and now.acquired_within:
        changed.setdefault("acquired_within", Horn.Within.DAY)
    build, stand = changed.get("build", now.build), changed.get("stands_in", now.stands_in)
    if "build" in changed or "stands_in" in changed:
        _refuse_what_does_not_fit(build, stand)
    if "stands_in" in changed and build == now.build and now.stands_in and reversible(build):
        raise Refused(
            _s("Restringing a horn is an act of its own, with its date and reason."),
            way_out=WayOut("register:stand", _s("Change the stand"), (horn.pk,)),
        )
    if "number" in changed:
        if number_is_taken(horn.school, changed["number"], besides=horn):
            raise Refused(TAKEN, field="number")
        _reserve(now, to=changed["number"], by=by, at=at)
    if "build" in changed or "stands_in" in changed:
        before = {"build_before": now.build, "stands_in_before": now.stands_in}
        KindSaid.objects.create(horn=now, at=at, by=by, build=build, stands_in=stand, **before)
    told = moved(now, changed)
    if waited:
        told.append(["done", said(at - waited)])
    record(deed=Deed.HORN_CHANGED, school=horn.school, by=by, at=at, horn=now, told=told)
    for name, value in changed.items():
        setattr(now, name, value)
    now.save(update_fields=list(changed))
    if "build" in changed:
        keep([now])
    return list(changed)


@transaction.atomic
def set_place(
    *, horn: Horn, place: Place | None, seen: int | None, waited: timedelta = timedelta(), by: User, at: datetime
) -> None:
    """The horn belongs to `place` from now on; nothing where it does already.

    `seen` is the key of the place that it had for whoever says so. Refused when it was put elsewhere meanwhile.
    """
    locked_school(horn.school_id)
    now = locked(horn)
    if now.place_id == (place.pk if place else None):
        return
    if now.place_id != seen:
        said = (
            _s(
                "%(now)s belongs to %(place)s by now: somebody changed it since you looked. "
                "Look, then say its place again."
            )
            if now.place
            else _s(
                "%(now)s has no place by now: somebody changed it since you looked. Look, then say its place again."
            )
        )
        raise Refused(said % {"now": now, "place": now.place})
    amend_horn(horn=now, changes={"place": place}, waited=waited, by=by, at=at)


def _reserve(horn: Horn, *, to: str, by: User, at: datetime) -> None:
    FormerNumber.objects.filter(horn=horn, number__iexact=to).delete()
    if horn.number.upper() != to.upper():
        FormerNumber.objects.create(school=horn.school, horn=horn, number=horn.number, at=at, by=by)


def _refuse_what_does_not_fit(build: str, stands_in: str) -> None:
    sentence = what_does_not_fit(build, stands_in)
    if sentence:
        raise Refused(sentence)
