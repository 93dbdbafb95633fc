"""Taking horns back one after another: their labels are scanned, or their numbers typed, then all are taken at once.

Which horns were scanned is kept in the session, since a phone's own camera opens a label's bare address and
nothing else. A horn with something wrong leaves the list through its own return page.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from fleet.ground.answering import lead_on, one_of, posted
from fleet.ground.refusal import Refused
from fleet.lending.actions.in_a_row import take_unchanged
from fleet.lending.forms.taking_back import ListedForm, LookedForm, OffForm
from fleet.lending.models import Loan
from fleet.people.models import School
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.register.queries.asked_for import horns_told

KEPT = "taking_back"
MOST = 200
AT_IT = timedelta(hours=3)


def back(request: SeatedRequest) -> HttpResponse:
    act = one_of(request, {"take": _take, "class": _add_class, "stop": _stop, "": _add_or_leave}) or _open
    return act(request)


def _open(request: SeatedRequest) -> HttpResponse:
    if not is_scanning(request, request.seat.school):
        _keep(request, request.seat.school, [])
    return _page(request, LookedForm())


def is_scanning(request: HttpRequest, school: School) -> bool:
    """Whether this person is in the middle of taking this school's horns back."""
    kept = request.session.get(KEPT)
    if not isinstance(kept, dict) or kept.get("school") != school.pk:
        return False
    # Somebody who walked off without stopping gets a horn's own page from its label again.
    now: datetime = request.now  # type: ignore[attr-defined]
    return now - datetime.fromtimestamp(kept.get("at", 0), UTC) < AT_IT


def listed(request: HttpRequest, school: School) -> list[int]:
    """Keys of the horns scanned so far, in their order."""
    return list(request.session[KEPT]["horns"]) if is_scanning(request, school) else []


def scanned(request: HttpRequest, school: School, horn: Horn) -> None:
    """One more horn for the list, with a word about it on the next page."""
    keys = listed(request, school)
    if horn.pk in keys:
        messages.info(request, f"{horn} is on the list already.")
    elif not horn.holder_name:
        messages.warning(request, f"{horn} is not out: {horn.whereabouts.words}.")
    elif len(keys) >= MOST:
        messages.warning(request, f"The list is full. Take these {MOST} back first.")
    else:
        _keep(request, school, [*keys, horn.pk])
        messages.success(request, f"{horn}, from {horn.holder_name}.")


def _add_or_leave(request: SeatedRequest) -> HttpResponse:
    school, off, form = request.seat.school, OffForm(posted(request)), ListedForm(posted(request))
    if off.is_valid():
        _keep(request, school, [key for key in listed(request, school) if key != off.horn])
    elif form.is_valid():
        typed = form.typed()[:MOST]
        told = horns_told(school, typed)
        for one in typed:
            horn = told.get(one)
            if horn is None:
                messages.warning(request, f"No horn has the number or label “{one[:60]}”.")
            else:
                scanned(request, school, horn)
    return lead_on(request, reverse("loans:back", args=(school.slug,)))


def _add_class(request: SeatedRequest) -> HttpResponse:
    school, form = request.seat.school, ListedForm(posted(request))
    group = form.cleaned_data["group"] if form.is_valid() else ""
    out = (
        Loan.objects.at(school)
        .open()
        .filter(pupil__group=group, horn__school=school)
        .order_by("pupil__sorted_by", "pk")
    )
    keys = listed(request, school)
    more = [pk for pk in out.values_list("horn_id", flat=True) if pk not in keys] if group else []
    _keep(request, school, [*keys, *more][:MOST])
    if more:
        messages.success(request, f"{len(more)} horn{'' if len(more) == 1 else 's'} of {group}.")
    else:
        messages.info(request, f"Nobody else of {group} has a horn." if group else "Choose a class.")
    return redirect("loans:back", school.slug)


def _stop(request: SeatedRequest) -> HttpResponse:
    request.session.pop(KEPT, None)
    return redirect("loans:loans", request.seat.school.slug)


def _keep(request: HttpRequest, school: School, keys: list[int]) -> None:
    at = int(request.now.timestamp())  # type: ignore[attr-defined]
    request.session[KEPT] = {"school": school.pk, "horns": keys, "at": at}


def _take(request: SeatedRequest) -> HttpResponse:
    """Every listed horn that was not refused is back; the others stay on the list with their reason."""
    school, form = request.seat.school, LookedForm(posted(request))
    if not form.is_valid():
        return _page(request, form)
    taken, refusals = 0, {}
    for loan in _loans(school, listed(request, school)):
        try:
            take_unchanged(loan=loan, cleaned=form.cleaned_data["cleaned"], by=request.user, at=request.now)
        except Refused as no:
            refusals[loan.horn_id] = no.sentence
        else:
            taken += 1
    _keep(request, school, list(refusals))
    if taken:
        messages.success(request, f"{taken} horn{'' if taken == 1 else 's'} taken back.")
    if refusals:
        return _page(request, form, refusals)
    return _stop(request)


def _loans(school: School, keys: list[int]) -> list[Loan]:
    """Open loans of these horns, in the order of the keys."""
    out = Loan.objects.at(school).open().filter(horn__in=keys).select_related("horn", "pupil", "check_at_issue")
    return sorted(out.prefetch_related("accessories"), key=lambda loan: keys.index(loan.horn_id))


def _page(request: SeatedRequest, form: LookedForm, refusals: Mapping[int, str] | None = None) -> HttpResponse:
    school, refusals = request.seat.school, refusals or {}
    wrong = next(iter(form.errors.get("looked", ())), "")
    groups = Loan.objects.at(school).open().exclude(pupil__group="").values_list("pupil__group", flat=True)
    context = {
        "rows": [(loan, refusals.get(loan.horn_id, "")) for loan in _loans(school, listed(request, school))],
        "groups": sorted(set(groups)),
        "most": MOST,
        "wrong": wrong,
        "looked": form["looked"].value(),
        "cleaned": form["cleaned"].value(),
    }
    return render(request, "loans/back.html", context, status=422 if wrong else 409 if refusals else 200)
