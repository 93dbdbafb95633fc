"""The listening pages of `identify` at a school: with what the school has confirmed, and what the record claims."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _s

from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of
from fleet.register.queries.identifying import as_identified, confirmed_mix
from identify import pages as walk_pages
from identify.core.hearing.claim import RecordedTubes, recorded_tubes
from identify.recording import takes_recording
from identify.walk import HornInHand, read_walk


def _record(horn: Horn) -> RecordedTubes | None:
    """Which tubes the register says sound; None while the horn is not identified, or may be in any key."""
    build = build_of(horn.build)
    if build is None:
        return None
    return recorded_tubes(build, horn.stands_in, horn.in_full)


def in_hand(horn: Horn) -> HornInHand:
    """The horn as the pages of the walk name it."""
    return HornInHand(horn.number, horn.in_full if horn.build else _s("not identified yet"))


@takes_recording
def listen(request: SeatedRequest, *, too_big: bool = False) -> HttpResponse:
    school = request.seat.school
    taken = read_walk(request.GET)
    horn = as_identified(school, int(taken.horn)) if taken.horn else None
    if taken.horn and horn is None:
        raise Http404("No such horn at this school.")
    return walk_pages.listen(
        request,
        taken,
        at=request.now,
        mix=confirmed_mix(school, besides=horn.pk if horn else 0),
        record=_record(horn) if horn else None,
        in_hand=in_hand(horn) if horn else None,
        a4=school.tuned_to,
        too_big=too_big,
    )
