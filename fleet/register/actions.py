"""What happens to a horn in the register. Each action is one transaction with the horn's row locked."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, TypedDict

from django.core.files.base import ContentFile
from django.db import transaction

from fleet.people.models import School, User
from fleet.refused import Refused
from fleet.register.kinds import kind_in_words, reversible, stand_in_words, stands_of, what_does_not_fit
from fleet.register.models import FormerNumber, Horn, Photograph, Place, StandChange, Standing
from fleet.register.numbers import TAKEN, next_free, parts_of

MOST_PHOTOGRAPHS = 24
# The same words from the same person within this time are one act sent twice: a button tapped twice.
TWICE_WITHIN = timedelta(seconds=15)


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
    price: Decimal | None
    value: Decimal | None
    notes: str


def locked(horn: Horn) -> Horn:
    """The horn's row as it is now, held until the transaction ends."""
    return Horn.objects.select_for_update().get(pk=horn.pk)


def number_is_taken(school: School, number: str, *, besides: Horn | None = None) -> bool:
    """Whether a horn of the school has the number or once had it."""
    stem, tail = parts_of(number)
    same: Any = {"school": school, "number_stem": stem, "number_tail": tail, "number__iexact": number.strip()}
    horns, former = Horn.objects.filter(**same), FormerNumber.objects.filter(**same)
    if besides is not None and besides.pk:
        horns, former = horns.exclude(pk=besides.pk), former.exclude(horn_id=besides.pk)
    return horns.exists() or former.exists()


@transaction.atomic
def register_horn(*, school: School, particulars: Particulars, suggested: str = "", by: User, at: datetime) -> Horn:
    """A new horn. Where the number is the one that was suggested and somebody else took it meanwhile, the horn
    gets the next free one instead; a number that was typed and is taken is refused. Sent twice in a row, it is
    registered once."""
    # Numbers are given out one at a time: two people registering at once wait for each other here.
    School.objects.select_for_update().get(pk=school.pk)
    number = particulars.get("number", "").strip()
    if not number or number_is_taken(school, number):
        there = Horn.objects.at(school).numbered(number)
        if there is not None and _sent_twice(there, particulars, by=by, at=at):
            return there
        if number and number != suggested:
            raise Refused(TAKEN)
        particulars = {**particulars, "number": next_free(school)}
    _refuse_what_does_not_fit(particulars.get("build", ""), particulars.get("stands_in", ""))
    horn = Horn(school=school, created=at, created_by=by, **particulars)
    horn.save(force_insert=True)
    return horn


def _sent_twice(there: Horn, particulars: Particulars, *, by: User, at: datetime) -> bool:
    if there.created_by_id != by.pk or at - there.created > TWICE_WITHIN:
        return False
    return all(getattr(there, name) == value for name, value in particulars.items())


@transaction.atomic
def amend_horn(*, horn: Horn, changes: Mapping[str, Any], by: User, at: datetime) -> list[str]:
    """Writes what differs from the horn's row and returns the names of those columns.

    A change of number keeps the old one reserved. A change of stand alone is a restringing, and refused here.
    """
    School.objects.select_for_update().get(pk=horn.school_id)
    now = locked(horn)
    changed = {name: value for name, value in changes.items() if getattr(now, name) != value}
    if not changed:
        return []
    build, stand = changed.get("build", now.build), changed.get("stands_in", now.stands_in)
    if "build" in changed or "stands_in" in changed:
        _refuse_what_does_not_fit(build, stand)
    if "stands_in" in changed and build == now.build and now.stands_in and reversible(build):
        raise Refused(
            "Restringing a horn is an act of its own, with its date and reason.",
            way_out=("register:stand", "Change the stand"),
        )
    if "number" in changed:
        if number_is_taken(horn.school, changed["number"], besides=horn):
            raise Refused(TAKEN)
        _reserve(now, to=changed["number"], by=by, at=at)
    for name, value in changed.items():
        setattr(now, name, value)
    now.save(update_fields=list(changed))
    return list(changed)


def _reserve(horn: Horn, *, to: str, by: User, at: datetime) -> None:
    FormerNumber.objects.filter(horn=horn, number__iexact=to).delete()
    if horn.number.upper() != to.upper():
        FormerNumber.objects.create(school=horn.school, horn=horn, number=horn.number, at=at, by=by)


def _refuse_what_does_not_fit(build: str, stands_in: str) -> None:
    sentence = what_does_not_fit(build, stands_in)
    if sentence:
        raise Refused(sentence)


@transaction.atomic
def restring(*, horn: Horn, stands_in: str, reason: str, by: User, at: datetime) -> StandChange:
    """The horn's change valve strung the other way round. The test note is owed from now on."""
    now = locked(horn)
    if not now.build:
        raise Refused("Say what this horn is first.", way_out=("identify:walk", "Identify it"))
    if not reversible(now.build):
        raise Refused(f"A {kind_in_words(now.build)} cannot be restrung to stand in another key.")
    if now.withdrawn_on:
        raise Refused("This horn is withdrawn.", way_out=("register:standing", "Keep it again"))
    if now.holder_name:
        raise Refused(f"This horn is out with {now.holder_name}. Restring it when it is back.")
    if stands_in not in dict(stands_of(now.build)):
        raise Refused(what_does_not_fit(now.build, stands_in) or "Say what it stands in now.")
    if stands_in == now.stands_in:
        raise Refused(f"This horn already stands in {stand_in_words(stands_in)}.")
    change = StandChange.objects.create(horn=now, at=at, by=by, before=now.stands_in, after=stands_in, reason=reason)
    now.stands_in, now.test_note_owed = stands_in, True
    now.save(update_fields=["stands_in", "test_note_owed"])
    return change


def standings_open_to(horn: Horn) -> list[Standing.Kind]:
    """What may be said of the horn's standing as it is now."""
    if horn.withdrawn_on:
        return [Standing.Kind.KEPT_AGAIN]
    if horn.not_found_on:
        return [Standing.Kind.FOUND, Standing.Kind.WITHDRAWN]
    return [Standing.Kind.NOT_FOUND, Standing.Kind.WITHDRAWN]


@transaction.atomic
def change_standing(*, horn: Horn, kind: str, reason: str, by: User, at: datetime, on: date | None = None) -> Standing:
    """The horn withdrawn, kept again, not found or found, on a day (today where none is given)."""
    now = locked(horn)
    if now.holder_name:
        raise Refused(f"This horn is out with {now.holder_name}. Take it back first; what becomes of it comes after.")
    if kind not in standings_open_to(now):
        is_now = "withdrawn" if now.withdrawn_on else "not found" if now.not_found_on else "in the register"
        raise Refused(f"This horn is {is_now}. Somebody may have changed that a moment ago; look again.")
    if kind == Standing.Kind.KEPT_AGAIN and now.disposals.filter(approved=True).exists():
        raise Refused("This horn was given up for good by two people. A horn that comes back gets a number of its own.")
    standing = Standing.objects.create(horn=now, at=at, by=by, kind=kind, reason=reason)
    day = on or at.date()
    if kind == Standing.Kind.WITHDRAWN:
        now.withdrawn_on = day
    elif kind == Standing.Kind.KEPT_AGAIN:
        now.withdrawn_on = None
    else:
        now.not_found_on = day if kind == Standing.Kind.NOT_FOUND else None
    now.save(update_fields=["withdrawn_on", "not_found_on"])
    return standing


@transaction.atomic
def add_photograph(
    *,
    horn: Horn,
    image: ContentFile[bytes],
    width: int,
    height: int,
    caption: str = "",
    by: User,
    at: datetime,
) -> Photograph:
    """Keeps a picture that `pictures.redrawn` has drawn anew; sizes in pixels."""
    now = locked(horn)
    if now.photographs.count() >= MOST_PHOTOGRAPHS:
        raise Refused(f"A horn has at most {MOST_PHOTOGRAPHS} photographs. Take one away first.")
    photograph = Photograph(horn=now, width=width, height=height, caption=caption, by=by, at=at)
    photograph.image.save(str(image.name), image, save=False)
    try:
        photograph.save()
    except Exception:
        photograph.image.delete(save=False)
        raise
    return photograph


@transaction.atomic
def remove_photograph(*, photograph: Photograph) -> None:
    """Takes a picture away; its file goes once the row is really gone."""
    locked(photograph.horn)
    image = photograph.image
    photograph.delete()
    transaction.on_commit(lambda: image.delete(save=False))
