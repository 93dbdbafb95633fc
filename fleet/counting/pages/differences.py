"""One difference or one find of a count, and what becomes of it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.counting.actions import differences
from fleet.counting.actions.finds import settle_find
from fleet.counting.forms import FindForm, ResolveForm
from fleet.counting.models import Find, Line
from fleet.counting.queries import shelves
from fleet.counting.queries.outcomes import resolutions_for
from fleet.ground.answering import answer, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.register.queries import asked_for


def line(request: SeatedRequest, pk: int) -> HttpResponse:
    """One difference and what becomes of it."""
    seat = request.seat
    lines = Line.objects.filter(count__school=seat.school).select_related("count", "horn", "resolved_by")
    shown = get_object_or_404(lines, pk=pk)
    [with_sightings] = shelves.with_sightings([shown])
    places = [one.place_id for one in with_sightings.sightings if one.place_id]
    form = ResolveForm(
        posted(request),
        open_to=resolutions_for(shown, shown.horn.where),
        school=seat.school,
        seen_at=places[-1] if places else None,
    )
    return answer(
        request,
        form,
        lambda: differences.resolve(line=shown, by=request.user, at=request.now, **form.cleaned_data),
        page="counting/line.html",
        shown=lambda: {"line": shown, "seen": with_sightings.sightings},
        said=_s("%(shown)s is resolved.") % {"shown": shown},
        then=lambda done: seat.here("counting:count", shown.count_id),
    )


def find(request: SeatedRequest, pk: int) -> HttpResponse:
    """Something found that the register does not know, and what it turned out to be."""
    seat = request.seat
    finds = Find.objects.filter(count__school=seat.school)
    shown = get_object_or_404(finds.select_related("count", "by", "horn", "resolved_by", "place"), pk=pk)
    known = asked_for.horn_told(seat.school, shown.words)
    start = {"resolution": Find.Resolution.HORN.value, "number": known.number} if known else {}
    form = FindForm(posted(request), school=seat.school, initial=start)
    return answer(
        request,
        form,
        lambda: settle_find(find=shown, by=request.user, at=request.now, **form.cleaned_data),
        page="counting/find.html",
        shown=lambda: {"find": shown, "known": known},
        said=_s("“%(shown)s” is resolved.") % {"shown": shown},
        then=lambda done: _next(request, done),
    )


def _next(request: SeatedRequest, done: Find) -> str:
    """On to the line of the horn it is, where that was missed in a count that is ended; else to the count. Of a horn
    that the register has elsewhere, that is said."""
    if done.horn is not None and not done.horn.whereabouts.is_here:
        told = {"horn": done.horn, "whereabouts": done.horn.whereabouts.words}
        messages.warning(
            request, _s("%(horn)s was seen here, and the register says: %(whereabouts)s. See to it on its page.") % told
        )
    missed = Line.objects.filter(count=done.count_id, horn=done.horn, outcome__in=Line.DIFFERENCES, resolution="")
    line = missed.first()
    if line is None:
        return request.seat.here("counting:count", done.count_id)
    messages.info(request, _s("%(line)s was missed in this count: resolve that too.") % {"line": line})
    return request.seat.here("counting:line", line.pk)
