"""The condition check: made by part, read again later, with its pictures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.ground.addresses import way_back
from fleet.ground.answering import lead_on
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.workshop.actions import checking
from fleet.workshop.actions import unsaved_pictures as kept_pictures
from fleet.workshop.forms.checks import CheckForm, looked_at
from fleet.workshop.models import CheckPhotograph, ConditionCheck
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries.condition import latest_check, open_findings


def check_new(request: SeatedRequest, pk: int) -> HttpResponse:
    horn = get_object_or_404(Horn.objects.at(request.seat.school).select_related("place"), pk=pk)
    occasion = _occasion(request, horn)
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    last = latest_check(horn)
    if request.POST.get("as_before"):
        return _as_before(request, horn)
    form = _form(horn, last, occasion, *sent)
    if request.htmx and request.htmx.target == "so-far":  # type: ignore[attr-defined]
        return render(request, "workshop/_so_far.html", form.so_far())
    kept: list[str] = []
    refused = None
    if request.method == "POST":
        kept = request.POST.getlist("kept")
        if form.is_valid():
            try:
                return _log(request, horn, form, kept)
            except Refused as no:
                refused = no
        kept += kept_pictures.keep(form.pictures, horn=horn, by=request.user, now=request.now)
    return _page(request, horn, form, last, refused=refused, kept=kept)


def _form(horn: Horn, last: ConditionCheck | None, occasion: str, *sent: Any) -> CheckForm:
    # The finish seldom changes: a new check starts from it, as it starts from the findings that are still open.
    initial = {"occasion": occasion, **({"finish_grade": last.finish_grade} if last else {})}
    return CheckForm(*sent, horn=horn, known=open_findings(horn), initial=initial)


def _page(
    request: SeatedRequest,
    horn: Horn,
    form: CheckForm,
    last: ConditionCheck | None,
    *,
    refused: Refused | None = None,
    kept: Sequence[str] = (),
) -> HttpResponse:
    context: dict[str, Any] = {
        "form": form,
        "horn": horn,
        "last": last,
        "as_before_as": uuid4(),
        # A new id where the old one may be taken: what is saved next is another check.
        "sent_as": uuid4() if refused or not form.is_bound else form.cleaned_data.get("sent_as") or uuid4(),
        "refused": refused,
        "kept": kept,
        "next": request.POST.get("next") or request.GET.get("next", ""),
        "cautions": [catalogue().cautions[code] for code in ("hygiene", "oil", "rotor", "pliers", "first")],
        **form.so_far(),
    }
    status = 200 if request.method in {"GET", "HEAD"} else 409 if refused else 422
    return render(request, "workshop/check_new.html", context, status=status)


def _as_before(request: SeatedRequest, horn: Horn) -> HttpResponse:
    """The one tap: the horn is as it was at the check the page showed."""
    seen = request.POST.get("seen", "")
    occasion = request.POST.get("occasion", "")
    if occasion not in ConditionCheck.Occasion.values:
        occasion = ConditionCheck.Occasion.OTHER
    try:
        check = checking.check_as_before(
            horn=horn,
            by=request.user,
            at=looked_at(request.now, forms.IntegerField(required=False, min_value=0).clean(request.POST.get("age"))),
            occasion=occasion,
            seen=int(seen) if seen.isdecimal() else 0,
            sent_as=forms.UUIDField(required=False).clean(request.POST.get("sent_as")),
        )
    except ValidationError:
        return redirect(request.get_full_path())
    except Refused as no:
        last = latest_check(horn)
        return _page(request, horn, _form(horn, last, occasion), last, refused=no)
    return _told(request, horn, check)


def _log(request: SeatedRequest, horn: Horn, form: CheckForm, kept: list[str]) -> HttpResponse:
    check = checking.log_check(
        horn=horn,
        by=request.user,
        at=form.looked_at(request.now),
        occasion=form.cleaned_data["occasion"],
        finish_grade=form.cleaned_data["finish_grade"],
        notes=form.cleaned_data["notes"],
        found=form.found(),
        pictures=[*kept_pictures.fetch(kept, horn=horn, by=request.user), *form.pictures],
        sent_as=form.cleaned_data["sent_as"],
    )
    kept_pictures.forget(kept, horn=horn, by=request.user)
    return _told(request, horn, check)


def _told(request: SeatedRequest, horn: Horn, check: ConditionCheck) -> HttpResponse:
    said = f"{horn} is checked: {check.get_grade_display()}."
    if check.grade >= Horn.Grade.REPAIR_FIRST:
        said += " It is on the bench list."
    messages.success(request, said)
    if check.grade == Horn.Grade.WITHDRAW:
        where = f"it is with {horn.holder_name}: ask for it back today" if horn.holder_name else "put it aside"
        messages.warning(request, f"{horn} must not be played until it is mended. Take it out of playing now: {where}.")
    return lead_on(request, _back(request, horn))


def _occasion(request: SeatedRequest, horn: Horn) -> str:
    asked = request.GET.get("occasion", "")
    if asked in ConditionCheck.Occasion.values:
        return asked
    if horn.mended_on is not None:
        return ConditionCheck.Occasion.AFTER_REPAIR
    in_the_cupboard = horn.where == Horn.Where.IN_PLACE
    return ConditionCheck.Occasion.BEFORE_LOAN if in_the_cupboard else ConditionCheck.Occasion.OTHER


def _back(request: SeatedRequest, horn: Horn) -> str:
    """Where the check was asked from, when that is a page of this site; else the horn's page."""
    return way_back(request, reverse("desk:horn", args=(request.seat.school.slug, horn.pk)))


def check(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(ConditionCheck.objects.at(request.seat.school).select_related("horn", "by"), pk=pk)
    findings = list(shown.findings.select_related("job"))
    findings.sort(key=lambda finding: (-"nwrx".index(finding.severity), finding.fault))
    context = {
        "check": shown,
        "horn": shown.horn,
        "findings": findings,
        "pictures": shown.photographs.order_by("pk"),
        "cautions": catalogue().cautions_for(finding.fault for finding in findings if not finding.mended_at),
    }
    return render(request, "workshop/check.html", context)


def check_photograph(request: SeatedRequest, pk: int) -> FileResponse:
    picture = get_object_or_404(CheckPhotograph, pk=pk, check_made__horn__school=request.seat.school)
    try:
        file = picture.image.open("rb")
    except FileNotFoundError:
        raise Http404("The picture's file is gone.") from None
    return FileResponse(file, content_type="image/jpeg", headers={"X-Content-Type-Options": "nosniff"})
