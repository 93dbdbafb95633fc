"""What happens to a count: begun, seen, ended, resolved, signed. One transaction each, with the count locked."""

from __future__ import annotations

import secrets
from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from django.db import transaction

from fleet.counting.models import Count, Find, Line, Sighting
from fleet.counting.outcomes import resolutions_for
from fleet.counting.sampling import drawn, sample_size
from fleet.counting.standing import endings
from fleet.people.models import School, User
from fleet.refused import Refused
from fleet.register.actions import TWICE_WITHIN, amend_horn, change_standing
from fleet.register.kinds import finding_in_words
from fleet.register.models import Horn, Place, Standing

COUNTS = ("counting:counts", "See the counts")
ENDED = "This count was ended, so nothing more is added to it. Say what you saw to whoever resolves it."
SIGNED = "This count is signed: it is kept as it is."


def locked(count: Count) -> Count:
    """The count's row as it is now, held until the transaction ends."""
    return Count.objects.select_for_update().get(pk=count.pk)


@transaction.atomic
def begin(*, school: School, places: Sequence[Place], by: User, at: datetime) -> Count:
    """A count of some places, or of everything where none is named. Its list is frozen here."""
    School.objects.select_for_update().get(pk=school.pk)
    kind = Count.Kind.PLACES if places else Count.Kind.EVERYTHING
    title = "Count of " + ("; ".join(str(place) for place in places) if places else "everything")
    title = title if len(title) <= 200 else f"{title[:199]}…"
    there = _sent_twice(school, kind, title, by, at)
    if there is not None:
        return there
    horns = Horn.objects.at(school).kept()
    if places:
        horns = horns.filter(place__in=places)
    listed = list(horns.select_related("place").order_by("number_stem", "number_tail", "pk"))
    if not listed:
        raise Refused("No horn of the register belongs there, so there is nothing to count.")
    _refuse_counted_already(listed)
    count = Count.objects.create(school=school, kind=kind, title=title, started_at=at, started_by=by)
    count.places.set(places)
    Line.objects.bulk_create([_line(count, horn) for horn in listed], batch_size=500)
    return count


@transaction.atomic
def begin_sample(
    *, school: School, confidence: int, margin: int, by: User, at: datetime, seed: int | None = None
) -> Count:
    """A count of horns drawn at random from those that should be on their shelves; per cent in whole numbers."""
    School.objects.select_for_update().get(pk=school.pk)
    on_shelf = Horn.objects.at(school).filter(where=Horn.Where.CUPBOARD)
    keys = list(on_shelf.values_list("pk", flat=True))
    if not keys:
        raise Refused("No horn should be on a shelf now, so there is nothing to draw a sample from.")
    size = sample_size(len(keys), confidence=confidence / 100, margin=margin / 100)
    title = f"Sample of {size} from {len(keys)} horn{'' if len(keys) == 1 else 's'}"
    there = _sent_twice(school, Count.Kind.SAMPLE, title, by, at)
    if there is not None:
        return there
    seed = secrets.randbelow(2**31) if seed is None else seed
    chosen = on_shelf.filter(pk__in=drawn(keys, size, seed)).select_related("place")
    listed = list(chosen.order_by("number_stem", "number_tail", "pk"))
    _refuse_counted_already(listed)
    count = Count.objects.create(
        school=school,
        kind=Count.Kind.SAMPLE,
        title=title,
        started_at=at,
        started_by=by,
        population=len(keys),
        confidence=confidence,
        margin=margin,
        seed=seed,
    )
    Line.objects.bulk_create([_line(count, horn) for horn in listed], batch_size=500)
    return count


def _sent_twice(school: School, kind: str, title: str, by: User, at: datetime) -> Count | None:
    same = Count.objects.at(school).open().filter(kind=kind, title=title, started_by=by)
    return same.filter(started_at__gte=at - TWICE_WITHIN).first()


def _refuse_counted_already(listed: Sequence[Horn]) -> None:
    open_lines = Line.objects.filter(count__ended_at=None, expected=True, count__school=listed[0].school_id)
    counted = set(open_lines.values_list("horn", flat=True))
    both = [horn for horn in listed if horn.pk in counted]
    if both:
        some = f"{both[0]} and {len(both) - 1} more are" if len(both) > 1 else f"{both[0]} is"
        raise Refused(f"{some} on the list of a count that is still open. End that one first.", way_out=COUNTS)


def _line(count: Count, horn: Horn, *, expected: bool = True) -> Line:
    return Line(
        count=count,
        horn=horn,
        expected=expected,
        number=horn.number,
        kind=finding_in_words(horn.build, horn.stands_in)[:120],
        place=horn.place,
        place_words=str(horn.place or ""),
        where_at_start=horn.where,
    )


@transaction.atomic
def see(
    *,
    count: Count,
    horn: Horn,
    place: Place | None,
    key: str,
    note: str = "",
    waited: timedelta = timedelta(0),
    by: User,
    at: datetime,
) -> Sighting | Find:
    """A horn seen at a place, `waited` ago. The same key again gives what is there already."""
    now = locked(count)
    there = taken(now, key)
    if there is not None:
        return there
    if not now.is_open:
        raise Refused(ENDED, way_out=COUNTS)
    line = Line.objects.filter(count=now, horn=horn).first()
    if line is None:
        if now.is_sample:
            raise Refused(f"{horn} is not in this sample: leave it out, or the sample would no longer be random.")
        line = _line(now, horn, expected=False)
        line.save()
    seen_at, received_at = times(now, at, waited)
    return Sighting.objects.create(
        count=now,
        line=line,
        key=key,
        place=place,
        place_words=str(place or ""),
        note=note,
        seen_at=seen_at,
        received_at=received_at,
        by=by,
    )


def taken(count: Count, key: str) -> Sighting | Find | None:
    """What was kept under that key already. A number that meant no horn when it was first sent stays a find."""
    seen = Sighting.objects.filter(count=count, key=key).select_related("line").first()
    return seen or Find.objects.filter(count=count, key=key).first()


def times(count: Count, at: datetime, waited: timedelta) -> tuple[datetime, datetime]:
    """When it was seen and when it was received, neither before the count began, whatever a phone's clock says."""
    received_at = max(at, count.started_at)
    return min(received_at, max(count.started_at, at - waited)), received_at


@transaction.atomic
def take_back(*, sighting: Sighting | Find, by: User, at: datetime) -> Sighting | Find:
    """A tap on the wrong horn, or a number misread: it stays on record and no longer counts."""
    now = locked(sighting.count)
    if not now.is_open:
        raise Refused(ENDED)
    mine = type(sighting).objects.get(pk=sighting.pk)
    if mine.undone_at is None:
        mine.undone_at, mine.undone_by = at, by
        mine.save(update_fields=["undone_at", "undone_by"])
    return mine


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
    return now


@transaction.atomic
def resolve(*, line: Line, resolution: str, reason: str, place: Place | None = None, by: User, at: datetime) -> Line:
    """A difference settled, once, with a reason; what it means for the register is done here too."""
    count = locked(line.count)
    if count.signed_at:
        raise Refused(SIGNED)
    if count.is_open:
        raise Refused("The count is still open. End the counting first.")
    now = Line.objects.select_for_update(of=("self",)).select_related("horn").get(pk=line.pk)
    if now.resolution:
        raise Refused(f"{now} was resolved already: {now.get_resolution_display()}.")
    if not now.is_difference:
        raise Refused(f"{now} is where the register has it; there is nothing to resolve.")
    if not reason.strip():
        raise Refused("Give the reason.")
    if resolution not in resolutions_for(now, now.horn.where):
        raise Refused(f"This cannot be said of {now} as it is now. Somebody may have changed it; look again.")
    _IN_THE_REGISTER.get(resolution, _nothing)(now, place, reason, by, at)
    now.resolution, now.reason, now.resolved_at, now.resolved_by = resolution, reason.strip(), at, by
    now.save(update_fields=["resolution", "reason", "resolved_at", "resolved_by"])
    return now


def _nothing(line: Line, place: Place | None, reason: str, by: User, at: datetime) -> None:
    """The register stays as it is."""


def _stand(kind: str) -> Callable[[Line, Place | None, str, User, datetime], None]:
    def change(line: Line, place: Place | None, reason: str, by: User, at: datetime) -> None:
        change_standing(horn=line.horn, kind=kind, reason=f"{line.count.title}: {reason}"[:300], by=by, at=at)

    return change


def _move(line: Line, place: Place | None, reason: str, by: User, at: datetime) -> None:
    if place is None:
        raise Refused("Say which place it has now.")
    amend_horn(horn=line.horn, changes={"place": place}, by=by, at=at)


_IN_THE_REGISTER = {
    Line.Resolution.MISSING.value: _stand(Standing.Kind.NOT_FOUND),
    Line.Resolution.FOUND.value: _stand(Standing.Kind.FOUND),
    Line.Resolution.MOVED.value: _move,
}


@transaction.atomic
def sign(*, count: Count, by: User, at: datetime) -> Count:
    """The count signed off by somebody who did not count; from here on nothing of it changes."""
    now = locked(count)
    if now.signed_at:
        if now.signed_by_id == by.pk and at - now.signed_at <= TWICE_WITHIN:
            return now
        raise Refused(SIGNED)
    if now.is_open:
        raise Refused("The count is still open. End the counting first.")
    left = Line.objects.filter(count=now, outcome__in=Line.DIFFERENCES, resolution="").count()
    left += Find.objects.filter(count=now, resolution="").standing().count()
    if left:
        raise Refused(f"{left} difference{' is' if left == 1 else 's are'} not resolved yet.")
    if any(kind.objects.filter(count=now, by=by).exists() for kind in (Sighting, Find)):
        raise Refused("You counted here yourself. Somebody who did not count signs.")
    now.signed_at, now.signed_by = max(at, now.ended_at or at), by
    now.save(update_fields=["signed_at", "signed_by"])
    return now
