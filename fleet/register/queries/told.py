"""What the register has to tell of horns: what is kept on them, what is owed, and the time line of one."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import Any

from django.db.models import (
    BooleanField,
    Case,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import WayOut
from fleet.ground.wording import day, shortened
from fleet.people.models import School
from fleet.register.models import (
    Disposal,
    FormerNumber,
    Horn,
    HornQuerySet,
    Identification,
    KindSaid,
    Photograph,
    StandChange,
    Standing,
)
from fleet.register.models.disposals import DisposalQuerySet
from fleet.register.models.kinds import kind_and_stand, stand_in_words
from fleet.register.queries.owing import Owed, Owing
from fleet.register.queries.story import StoryLine, StoryPart
from identify.questions import CANT_TELL

# In English, before what somebody typed, where a release before this one took a reason over from elsewhere.
_OURS = re.compile(r"^(?:Lost while on loan|Given up, [^:]+|Count of [^:]+|Sample of \d[^:]+): ")


def _of_identification(found: Identification) -> Iterator[StoryLine]:
    said = _s("Identified: %(kind)s.") if found.settled else _s("Identified: %(kind)s; the checks left it open.")
    sentence = said % {"kind": kind_and_stand(found.build, found.stands_in)}
    yield StoryLine(found.at, "identified", sentence, str(found.by))


def _of_kind_said(said: KindSaid) -> Iterator[StoryLine]:
    before = kind_and_stand(said.build_before, said.stands_in_before)
    now = kind_and_stand(said.build, said.stands_in) or _s("not identified")
    said_so = _s("Said by hand: %(now)s, instead of %(before)s.") if before else _s("Said by hand: %(now)s.")
    sentence = said_so % {"now": now, "before": before}
    yield StoryLine(said.at, "kind", sentence, str(said.by))


def _of_restringing(change: StandChange) -> Iterator[StoryLine]:
    said = _s("Restrung to stand in %(after)s: %(reason)s")
    if change.before:
        said = _s("Restrung to stand in %(after)s instead of %(before)s: %(reason)s")
    sentence = said % {
        "after": stand_in_words(change.after),
        "before": stand_in_words(change.before),
        "reason": _stop(change.reason),
    }
    yield StoryLine(change.at, "stand", sentence, str(change.by))


def _of_standing(standing: Standing) -> Iterator[StoryLine]:
    word = capfirst(standing.get_kind_display())
    reason = _OURS.sub("", standing.reason)
    yield StoryLine(standing.at, standing.kind, f"{word}: {_stop(reason)}", str(standing.by))


def _of_disposal(given: Disposal) -> Iterator[StoryLine]:
    how = f"{given.get_method_display()}: {_stop(given.reason)}"
    yield StoryLine(
        given.proposed_at, "disposal", _s("Giving it up proposed, %(how)s") % {"how": how}, str(given.proposed_by)
    )
    if given.decided_at is not None:
        decided = _s("Giving it up approved") if given.approved else _s("Giving it up turned down")
        sentence = _stop(f"{decided}: {given.answer}" if given.answer else decided)
        yield StoryLine(given.decided_at, "disposal", sentence, str(given.decided_by))


def _of_photograph(photograph: Photograph) -> Iterator[StoryLine]:
    sentence = _s("Photographed.")
    if photograph.caption:
        sentence = _s("Photographed: %(caption)s") % {"caption": _stop(photograph.caption)}
    yield StoryLine(photograph.at, "photograph", sentence, str(photograph.by))


def _of_number(former: FormerNumber) -> Iterator[StoryLine]:
    sentence = _s("Its number was %(number)s until then; nobody else gets it.") % {"number": former.number}
    yield StoryLine(former.at, "number", sentence, str(former.by))


STORY = (
    StoryPart(lambda: Identification.objects.select_related("by"), _of_identification),
    StoryPart(lambda: KindSaid.objects.select_related("by"), _of_kind_said),
    StoryPart(lambda: StandChange.objects.select_related("by"), _of_restringing),
    StoryPart(lambda: Standing.objects.select_related("by"), _of_standing),
    StoryPart(lambda: Disposal.objects.select_related("proposed_by", "decided_by"), _of_disposal),
    StoryPart(lambda: Photograph.objects.select_related("by"), _of_photograph),
    StoryPart(lambda: FormerNumber.objects.select_related("by"), _of_number),
)


def _stop(words: str) -> str:
    return words if words.endswith((".", "!", "?")) else f"{words}."


def kept() -> dict[str, Any]:
    """The register's share of what is kept on a horn (see `kept.py`)."""
    sounded = sounded_since(OuterRef("at"), horn=OuterRef("horn_id"))
    return {
        "test_note_owed": Exists(StandChange.objects.filter(~Exists(sounded), horn=OuterRef("pk"))),
        "withdrawn_on": _day_of(GONE, Standing.Kind.KEPT_AGAIN),
        "not_found_on": _day_of([Standing.Kind.NOT_FOUND], Standing.Kind.FOUND),
        "struck_out": Coalesce(
            Subquery(_newest([*GONE, Standing.Kind.KEPT_AGAIN]).annotate(mistake=MISTAKE).values("mistake")[:1]),
            Value(False),
        ),
        "teaches": ExpressionWrapper(_settled_twice(), output_field=BooleanField()),
    }


GONE = [Standing.Kind.WITHDRAWN, Standing.Kind.STRUCK_OUT]
# So much later it is another day, whatever the clock of the school.
CAME_BACK = timedelta(hours=12)
MISTAKE = ExpressionWrapper(Q(kind=Standing.Kind.STRUCK_OUT), output_field=BooleanField())


def _newest(kinds: Sequence[str]) -> QuerySet[Standing]:
    return Standing.objects.filter(horn=OuterRef("pk"), kind__in=kinds).order_by("-pk")


def _settled_twice() -> Q:
    """Checks settled that the horn is what its row says, and once more: by somebody else, or by one who came back to
    it. What one person registers in an hour teaches nothing, nor does a finding with a second look open or one that
    leans on the horn before. The newest finding still says so.
    """
    settled = Identification.objects.filter(settled=True, teaches=True)
    others = settled.filter(horn=OuterRef("horn"), build=OuterRef("build"))
    again = others.filter(~Q(by=OuterRef("by")) | Q(at__gte=OuterRef("at") + CAME_BACK))
    found = settled.filter(Exists(again), horn=OuterRef("pk"), build=OuterRef("build"))
    newest = Identification.objects.filter(horn=OuterRef("pk")).order_by("-at", "-pk").values("build")[:1]
    return Q(Exists(found)) & Q(build=Subquery(newest))


def sounded_since(at: Any, *, horn: Any) -> QuerySet[Identification]:
    """Walks about the horn since that moment in which the test note was told; what could not be told is no answer."""
    told = Q(observations__has_key="test_note") & ~Q(observations__test_note=CANT_TELL)
    return Identification.objects.filter(told, horn=horn, at__gte=at)


def _day_of(begin: Sequence[str], ends: str) -> Subquery:
    """The day of the newest such event, None when the one that ends it is newer or there is neither."""
    newest = _newest([*begin, ends])
    return Subquery(newest.annotate(day=Case(When(kind__in=begin, then=F("on")))).values("day")[:1])


def _unidentified(school: School, today: date) -> HornQuerySet:
    return Horn.objects.at(school).unidentified().select_related("place").by_number()


def _test_note(school: School, today: date) -> HornQuerySet:
    return Horn.objects.at(school).identified().test_note_owed().by_number()


def _not_found(school: School, today: date) -> HornQuerySet:
    return Horn.objects.at(school).filter(where=Horn.Where.NOT_FOUND).order_by("not_found_on", "pk")


def _to_decide(school: School, today: date) -> DisposalQuerySet:
    found = Disposal.objects.at(school).undecided()
    return found.select_related("horn", "proposed_by").order_by("proposed_at", "pk")


OWING = (
    Owing(
        "unidentified",
        _s_lazy("Not identified yet"),
        _unidentified,
        lambda horn, today: Owed(
            _s("%(horn)s: find out what it is") % {"horn": horn},
            str(horn.place or _s("no place yet")),
            WayOut("identify:walk", _s("Find out what it is"), query=(("horn", str(horn.pk)),)),
        ),
        horn="pk",
        everything=("register:horns", "owed=unidentified"),
    ),
    Owing(
        "test-note",
        _s_lazy("Test note to be sounded"),
        _test_note,
        lambda horn, today: Owed(
            _s("%(horn)s: sound the test note again") % {"horn": horn},
            horn.in_full,
            WayOut("register:sound", _s("Sound the test note"), (horn.pk,)),
        ),
        horn="pk",
    ),
    Owing(
        "not-found",
        _s_lazy("Not found"),
        _not_found,
        lambda horn, today: Owed(
            _s("%(horn)s: look for it") % {"horn": horn},
            _s("not found since %(not_found_on)s") % {"not_found_on": day(horn.not_found_on)},
            WayOut("register:standing", _s("It was found, or it is given up"), (horn.pk,)),
        ),
        horn="pk",
        everything=("register:horns", "where=not-found"),
    ),
    Owing(
        "to-decide",
        _s_lazy("To decide"),
        _to_decide,
        lambda one, today: Owed(
            _s("%(horn)s: give it up?") % {"horn": one.horn},
            _s("%(proposed_by)s proposes it: %(reason)s")
            % {"proposed_by": one.proposed_by, "reason": shortened(one.reason)},
            WayOut("register:disposal", _s("See the proposal"), (one.horn_id,)),
            since=timezone.localdate(one.proposed_at),
        ),
    ),
)
