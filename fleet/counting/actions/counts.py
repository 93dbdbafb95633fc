"""A count begun, ended and signed. One transaction each, with the count locked."""

from __future__ import annotations

import secrets
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.counting.actions.locking import COUNTS, SIGNED, locked, record_of_count
from fleet.counting.models import Count, Find, Line, Sighting
from fleet.counting.queries.sampling import drawn, sample_size
from fleet.counting.queries.shelves import endings
from fleet.ground.languages.known import kept_in_english
from fleet.ground.refusal import Refused
from fleet.ground.wording import shortened
from fleet.people.actions.schools import locked_school
from fleet.people.models import School, User
from fleet.record.models import Deed
from fleet.register.actions.locking import TWICE_WITHIN
from fleet.register.models import Horn, HornQuerySet, Place


@transaction.atomic
def begin(*, school: School, places: Sequence[Place], by: User, at: datetime) -> Count:
    """A count of some places, or of everything where none is named. Its list is frozen here."""
    locked_school(school.pk)
    kind = Count.Kind.PLACES if places else Count.Kind.EVERYTHING
    named = shortened("; ".join(map(str, places)), 191)
    count = Count(school=school, kind=kind, place_words=named, started_at=at, started_by=by)
    horns = Horn.objects.at(school).kept()
    if places:
        horns = horns.filter(place__in=places)
    if not horns.exists():
        raise Refused(_s("No horn of the register belongs there, so there is nothing to count."))
    return _begun(count, horns, places)


@transaction.atomic
def begin_sample(
    *, school: School, confidence: int, margin: int, by: User, at: datetime, seed: int | None = None
) -> Count:
    """A count of horns drawn at random from those that should be on their shelves; per cent in whole numbers."""
    locked_school(school.pk)
    on_shelf = Horn.objects.at(school).filter(where=Horn.Where.IN_PLACE)
    keys = list(on_shelf.values_list("pk", flat=True))
    if not keys:
        raise Refused(_s("No horn should be on a shelf now, so there is nothing to draw a sample from."))
    size = sample_size(len(keys), confidence=confidence / 100, margin=margin / 100)
    seed = secrets.randbelow(2**31) if seed is None else seed
    count = Count(
        school=school,
        kind=Count.Kind.SAMPLE,
        started_at=at,
        started_by=by,
        population=len(keys),
        drawn=size,
        confidence=confidence,
        margin=margin,
        seed=seed,
    )
    return _begun(count, on_shelf.filter(pk__in=drawn(keys, size, seed)))


def _begun(count: Count, horns: HornQuerySet, places: Sequence[Place] = ()) -> Count:
    """The count with the list of these horns, or the one that is there where it was sent twice."""
    with kept_in_english():
        count.title = count.in_words
    by, at = count.started_by, count.started_at
    same = Count.objects.at(count.school).open().filter(kind=count.kind, title=count.title, started_by=by)
    if (there := same.filter(started_at__gte=at - TWICE_WITHIN).first()) is not None:
        return there
    listed = list(horns.select_related("place").by_number())
    _refuse_counted_already(listed)
    count.save()
    count.places.set(places)
    Line.objects.bulk_create([line_of(count, horn) for horn in listed], batch_size=500)
    record_of_count(count, deed=Deed.COUNT_BEGUN, by=by, at=at, told=[["horns", str(len(listed))]])
    return count


def _refuse_counted_already(listed: Sequence[Horn]) -> None:
    open_lines = Line.objects.filter(count__ended_at=None, expected=True, count__school=listed[0].school_id)
    counted = set(open_lines.values_list("horn", flat=True))
    both = [horn for horn in listed if horn.pk in counted]
    if both:
        said = (
            _s("%(horn)s and %(others)s more are on the list of a count that is still open. End that one first.")
            if len(both) > 1
            else _s("%(horn)s is on the list of a count that is still open. End that one first.")
        )
        raise Refused(said % {"horn": both[0], "others": len(both) - 1}, way_out=COUNTS)


@kept_in_english()
def line_of(count: Count, horn: Horn, *, expected: bool = True) -> Line:
    return Line(
        count=count,
        horn=horn,
        expected=expected,
        number=horn.number,
        kind=horn.in_full[:120],
        place=horn.place,
        place_words=str(horn.place or ""),
        where_at_start=horn.where,
    )


@transaction.atomic
def end(*, count: Count, by: User, at: datetime) -> Count:
    """The counting is over: every horn gets its outcome, from what was seen and from where it is now."""
    now = locked(count)
    if not now.is_open:
        return now
    # A statement for each way of ending: updating a row at a time took seconds for a few thousand horns.
    alike: defaultdict[tuple[str, str], list[int]] = defaultdict(list)
    for line, outcome in endings(now):
        alike[outcome.value, line.horn.where].append(line.pk)
    for (outcome_told, where), keys in alike.items():
        for begin_at in range(0, len(keys), 500):
            same = Line.objects.filter(pk__in=keys[begin_at : begin_at + 500])
            same.update(outcome=outcome_told, where_at_end=where)
    now.ended_at, now.ended_by = max(at, now.started_at), by
    now.save(update_fields=["ended_at", "ended_by"])
    record_of_count(now, deed=Deed.COUNT_ENDED, by=by, at=at)
    return now


@transaction.atomic
def sign(*, count: Count, by: User, at: datetime) -> Count:
    """The count signed off by somebody who did not count; from here on nothing of it changes."""
    now = locked(count)
    if now.signed_at:
        if now.signed_by_id == by.pk and at - now.signed_at <= TWICE_WITHIN:
            return now
        raise Refused(SIGNED)
    if now.is_open:
        raise Refused(_s("The count is still open. End the counting first."))
    left = Line.objects.filter(count=now, outcome__in=Line.DIFFERENCES, resolution="").count()
    left += Find.objects.filter(count=now, resolution="").standing().count()
    if left:
        raise Refused(
            _s_many("%(left)s difference is not resolved yet.", "%(left)s differences are not resolved yet.", left)
            % {"left": left}
        )
    if any(kind.objects.filter(count=now, by=by).exists() for kind in (Sighting, Find)):
        raise Refused(_s("You counted here yourself. Somebody who did not count signs."))
    now.signed_at, now.signed_by = max(at, now.ended_at or at), by
    now.save(update_fields=["signed_at", "signed_by"])
    record_of_count(now, deed=Deed.COUNT_SIGNED, by=by, at=at)
    return now
