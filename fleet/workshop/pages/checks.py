"""The condition check: made by part, read again later, with its pictures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _s

from fleet.ground.addresses import asked_back, way_back
from fleet.ground.answering import answer, one_of, posted, posted_files
from fleet.ground.wording import in_a_row
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of
from fleet.workshop.actions import checking
from fleet.workshop.actions import unsaved_pictures as kept_pictures
from fleet.workshop.forms.checks import TAPS, CheckForm, OneTapForm
from fleet.workshop.models import CheckPhotograph, ConditionCheck
from fleet.workshop.models.faults import MINDED, catalogue
from fleet.workshop.queries.agreed import beside
from fleet.workshop.queries.condition import (
    latest_check,
    open_findings,
    places_of,
    usual_occasion,
    with_measured_before,
)
from identify.core.drawing.picture import Link
from identify.core.drawing.spots import spots
from identify.drawings import pointed_at

PAGE = "workshop/check_new.html"


def check_new(request: SeatedRequest, pk: int) -> HttpResponse:
    horn = get_object_or_404(Horn.objects.at(request.seat.school).select_related("place"), pk=pk)
    taps = dict.fromkeys(TAPS, _tapped)
    way = one_of(request, {**taps, "": _looked_over}, button="as_before") or _looked_over
    return way(request, horn)


def _looked_over(request: SeatedRequest, horn: Horn) -> HttpResponse:
    last = latest_check(horn)
    tapped = (request.GET.get("fault", ""), request.GET.get("at", ""))
    form = _form(horn, last, _occasion(request, horn), posted(request), posted_files(request), tapped=tapped)
    if request.htmx and request.htmx.target == "so-far":  # type: ignore[attr-defined]
        return render(request, "workshop/_so_far.html", form.so_far())
    return answer(
        request,
        form,
        lambda: _log(request, horn, form),
        page=PAGE,
        shown=lambda: _shown(request, horn, form, last),
        said=lambda check: _told(horn, check),
        then=lambda check: _after(request, horn, check, form.kept),
        when_refused=form.go_on_as_another,
    )


def _tapped(request: SeatedRequest, horn: Horn) -> HttpResponse:
    """The one tap: the horn is as it was at the check the page showed, or all of it is fine."""
    tap = OneTapForm(posted(request))
    last = latest_check(horn)

    def keep() -> ConditionCheck:
        log = checking.check_all_fine if tap.finds_nothing else checking.check_as_before
        return log(horn=horn, by=request.user, **tap.said(request.now))

    return answer(
        request,
        tap,
        keep,
        page=PAGE,
        shown=lambda: _shown(request, horn, _form(horn, last, tap.occasion_told), last),
        said=lambda check: _told(horn, check),
        then=lambda check: _after(request, horn, check),
    )


def check_where(request: SeatedRequest, pk: int) -> HttpResponse:
    """Where something is wrong, on its drawing or from the list; then what is wrong there."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    here = request.seat.here("workshop:check-where", horn.pk)
    where = places_of(horn)
    at = next((one for one in where if one.key == request.GET.get("at", "")), None)
    build = build_of(horn.build)
    links = [
        Link(spot.x, spot.y, spot.wide, spot.high, f"{here}?at={one.key}", one.words)
        for spot in (spots(build) if build else ())
        for one in where
        if (spot.at, spot.code) == (one.at, one.code)
    ]
    context = {
        "horn": horn,
        "where": where,
        "at": at,
        "drawing": pointed_at(build, links) if build else "",
    }
    return render(request, "workshop/check_where.html", context)


def _form(
    horn: Horn, last: ConditionCheck | None, occasion: str, *sent: Any, tapped: tuple[str, str] = ("", "")
) -> CheckForm:
    # The finish seldom changes: a new check starts from it, as it starts from the findings that are still open.
    initial = {"occasion": occasion, **({"finish_grade": last.finish_grade} if last else {})}
    return CheckForm(*sent, horn=horn, known=open_findings(horn), tapped=tapped, initial=initial)


def _shown(request: SeatedRequest, horn: Horn, form: CheckForm, last: ConditionCheck | None) -> dict[str, Any]:
    kept = form.kept
    if form.is_bound:
        kept = [*kept, *kept_pictures.keep(form.pictures, horn=horn, by=request.user, now=request.now)]
    return {
        "form": form,
        "horn": horn,
        "last": last,
        "as_before_as": uuid4(),
        "finishes": ConditionCheck.FinishGrade.choices,
        "sent_as": (form.is_bound and form.cleaned_data.get("sent_as")) or uuid4(),
        "kept": kept,
        "next": asked_back(request),
        "cautions": [catalogue().cautions[code] for code in MINDED],
        **form.so_far(),
    }


def _log(request: SeatedRequest, horn: Horn, form: CheckForm) -> ConditionCheck:
    given, found = form.cleaned_data, form.found()
    waited = kept_pictures.fetch(form.kept, horn=horn, by=request.user, found=found)
    return checking.log_check(
        horn=horn,
        by=request.user,
        at=form.done_at(request.now),
        received_at=form.received_at(request.now),
        found=found,
        pictures=[*waited, *form.pictures],
        **{name: given[name] for name in ("occasion", "finish_grade", "notes", "seen", "sent_as")},
    )


def _told(horn: Horn, check: ConditionCheck) -> str:
    listed = _s("It is on the bench list.") if check.grade >= Horn.Grade.REPAIR_FIRST else ""
    checked = _s("%(horn)s is checked: %(grade)s.") % {"horn": horn, "grade": check.get_grade_display()}
    job = horn.jobs.open().first()
    left = ", ".join(map(str, beside(job))) if job else ""
    beside_it = _s("Not on its repair job yet: %(faults)s.") % {"faults": left} if left else ""
    return in_a_row(checked, listed, beside_it)


def _after(request: SeatedRequest, horn: Horn, check: ConditionCheck, kept: Sequence[str] = ()) -> str:
    """Where the check was asked from, when that is a page of this site; else the horn's page."""
    kept_pictures.forget(kept, horn=horn, by=request.user)
    if check.grade == Horn.Grade.MUST_NOT_BE_PLAYED:
        where = (
            _s("it is with %(holder_name)s: ask for it back today") % {"holder_name": horn.holder_name}
            if horn.holder_name
            else _s("put it aside")
        )
        messages.warning(
            request,
            _s("%(horn)s must not be played until it is mended. Take it out of playing now: %(where)s.")
            % {"horn": horn, "where": where},
        )
    return way_back(request, request.seat.here("desk:horn", horn.pk))


def _occasion(request: SeatedRequest, horn: Horn) -> str:
    asked = request.GET.get("occasion", "")
    return asked if asked in ConditionCheck.Occasion.values else usual_occasion(horn)


def check(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(ConditionCheck.objects.at(request.seat.school).select_related("horn", "by"), pk=pk)
    findings = list(shown.findings.select_related("job"))
    findings.sort(key=lambda finding: (-"nwrx".index(finding.severity), finding.fault))
    with_measured_before(shown.horn, findings, until=shown.at)
    pictures = list(shown.photographs.order_by("pk"))
    for one in findings:
        one.pictures = [picture for picture in pictures if picture.fault == one.fault]  # type: ignore[attr-defined]
    context = {
        "check": shown,
        "horn": shown.horn,
        "findings": findings,
        "pictures": pictures,
        "cautions": catalogue().cautions_for(finding.fault for finding in findings if not finding.mended_at),
    }
    return render(request, "workshop/check.html", context)


def check_photograph(request: SeatedRequest, pk: int) -> FileResponse:
    picture = get_object_or_404(CheckPhotograph, pk=pk, check_made__horn__school=request.seat.school)
    try:
        file = picture.image.open("rb")
    except FileNotFoundError:
        raise Http404("The picture’s file is gone.") from None
    return FileResponse(file, content_type="image/jpeg", headers={"X-Content-Type-Options": "nosniff"})
