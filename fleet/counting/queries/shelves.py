"""How a count stands: its places with what is seen there, its lines with who saw them, its numbers."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Count as Number
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext as _s

from fleet.counting.models import Count, Find, Line, Sighting
from fleet.counting.queries.outcomes import outcome_of
from fleet.counting.queries.sampling import Estimate
from fleet.ground.wording import in_reading_order
from fleet.people.models import School, User

# A label scanned with the camera belongs to the count its reader is at, for this long after their last tap.
AT_IT = timedelta(hours=3)


@dataclass(frozen=True, slots=True)
class Shelf:
    """A place of a count: its key (None for horns without one), its words, and how much of it is seen."""

    place: int | None
    words: str
    expected: int
    seen: int


def shelves(count: Count) -> list[Shelf]:
    """The places of the frozen list in their order. One query."""
    seen = Exists(Sighting.objects.filter(line=OuterRef("pk")).standing())
    found = (
        Line.objects.filter(count=count, expected=True)
        .annotate(is_seen=seen)
        .values("place", "place_words")
        .annotate(lines=Number("pk"), seen=Number("pk", filter=Q(is_seen=True)))
        .order_by("place")
    )
    ordered = sorted(found, key=lambda one: in_reading_order(one["place_words"]))
    return [Shelf(one["place"], one["place_words"] or _s("no place"), one["lines"], one["seen"]) for one in ordered]


@dataclass(slots=True)
class SeenLine:
    """A line with the sightings that count."""

    line: Line
    sightings: list[Sighting] = field(default_factory=list)
    at: int | None = None

    @property
    def here(self) -> bool:
        """Whether somebody saw it at the place asked for, `at`."""
        return any(one.place_id == self.at for one in self.sightings)


def lines_at(count: Count, place: int | None) -> list[SeenLine]:
    """The lines expected at a place and those seen there, with horn and every sighting of theirs. Two queries."""
    here = Q(expected=True, place=place)
    if place is not None:
        here |= Q(pk__in=Sighting.objects.filter(count=count, place=place).standing().values("line"))
    found = with_sightings(list(Line.objects.filter(here, count=count).select_related("horn").order_by("pk")))
    for one in found:
        one.at = place
    return found


def finds_at(count: Count, place: int | None) -> list[Find]:
    """What was found at a place that the register does not know, unless it was taken back. One query."""
    return list(Find.objects.filter(count=count, place=place).standing().select_related("by"))


def counters(count: Count) -> set[User]:
    """Everybody who tapped or typed in the count, also what was taken back. One query."""
    seen = Sighting.objects.filter(count=count).order_by().values("by")
    found = Find.objects.filter(count=count).order_by().values("by")
    return set(User.objects.filter(Q(pk__in=seen) | Q(pk__in=found)))


def with_sightings(lines: Sequence[Line]) -> list[SeenLine]:
    """The lines, each with its sightings, oldest first. One query."""
    by_line: defaultdict[int, list[Sighting]] = defaultdict(list)
    for one in Sighting.objects.filter(line__in=[line.pk for line in lines]).standing().select_related("by"):
        by_line[one.line_id].append(one)
    return [SeenLine(line, by_line.get(line.pk, [])) for line in lines]


def endings(count: Count) -> list[tuple[Line, Line.Outcome]]:
    """Every line, with its horn, and how it would end now. Two queries."""
    seen: defaultdict[int, list[int | None]] = defaultdict(list)
    for key, place in Sighting.objects.filter(count=count).standing().values_list("line", "place"):
        seen[key].append(place)
    return [
        (
            line,
            outcome_of(
                expected=line.expected,
                place=line.place_id,
                where_before=line.where_at_start,
                where_now=line.horn.where,
                seen_at=seen.get(line.pk, []),
            ),
        )
        for line in Line.objects.filter(count=count).select_related("horn").order_by("pk")
    ]


def numbers(count: Count) -> Counter[str]:
    """How many lines ended in which way; of a count that was ended. One query."""
    rows = Line.objects.filter(count=count).values_list("outcome").annotate(Number("pk")).order_by()
    return Counter(dict(rows))


def in_order(ended: Mapping[str, int]) -> list[tuple[Line.Outcome, int]]:
    """(outcome, how many) in the order in which they are told, without those that did not happen."""
    return [(outcome, ended[outcome]) for outcome in Line.Outcome if ended.get(outcome)]


def estimate(count: Count, ended: Counter[str]) -> Estimate | None:
    """What a sample that was ended says of all horns; None for other counts. Horns that were lent while the
    sample was looked at are left out on both sides."""
    if not count.is_sample or not ended or "" in ended:
        return None
    gone = sum(ended[outcome] for outcome in Line.GONE)
    looked_at = sum(ended.values()) - gone
    if not looked_at:
        return None
    population = (count.population or 0) - gone
    return Estimate(ended[Line.Outcome.SEEN], looked_at, population, (count.confidence or 0) / 100)


def counting_now(user: User, school: School, now: datetime) -> tuple[int, int | None] | None:
    """(count, place) of the last tap this person made in a count that is open, a short while ago. One query."""
    return (
        Sighting.objects.filter(by=user, received_at__gte=now - AT_IT, count__school=school, count__ended_at=None)
        .order_by("-received_at", "-pk")
        .values_list("count", "place")
        .first()
    )
