"""Taking horns back one after another: their labels are scanned, or their numbers typed, then all are taken at once.

Which horns were scanned is kept in the session, since a phone's own camera opens a label's bare address and
nothing else. A horn with something wrong leaves the list through its own return page.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.ground.refusal import Refused
from fleet.lending.actions import returning
from fleet.lending.models import Loan
from fleet.people.models import School
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.register.queries.asked_for import horn_typed
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.models import ConditionCheck
from fleet.workshop.queries.condition import open_findings

KEPT = "taking_back"
MOST = 200
AT_IT = timedelta(hours=3)


def back(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    said = request.POST.get("do", "")
    if request.method == "POST" and said == "take":
        return _take(request)
    if request.method == "POST":
        if said == "class":
            _add_class(request, school, request.POST.get("group", ""))
        elif said == "stop":
            request.session.pop(KEPT, None)
            return redirect("loans:loans", school.slug)
        elif said.startswith("leave-"):
            _keep(request, school, [key for key in listed(request, school) if f"leave-{key}" != said])
        else:
            _add_typed(request, school, request.POST.get("numbers", ""))
        return redirect("loans:back", school.slug)
    if not is_scanning(request, school):
        _keep(request, school, [])
    return _page(request)


def is_scanning(request: HttpRequest, school: School) -> bool:
    """Whether this person is in the middle of taking this school's horns back."""
    kept = request.session.get(KEPT)
    if not isinstance(kept, dict) or kept.get("school") != school.pk:
        return False
    # Somebody who walked off without stopping gets a horn's own page from its label again.
    return request.now - datetime.fromtimestamp(kept.get("at", 0), UTC) < AT_IT  # type: ignore[attr-defined]


def listed(request: HttpRequest, school: School) -> list[int]:
    """Keys of the horns scanned so far, in their order."""
    return list(request.session[KEPT]["horns"]) if is_scanning(request, school) else []


def scanned(request: HttpRequest, school: School, horn: Horn) -> None:
    """One more horn for the list, with a word about it on the next page."""
    keys = listed(request, school)
    if horn.pk in keys:
        messages.info(request, f"{horn} is on the list already.")
    elif not horn.holder_name:
        messages.warning(request, f"{horn} is not out: {Horn.Where(horn.where).label}.")
    elif len(keys) >= MOST:
        messages.warning(request, f"The list is full. Take these {MOST} back first.")
    else:
        _keep(request, school, [*keys, horn.pk])
        messages.success(request, f"{horn}, from {horn.holder_name}.")


def _add_typed(request: SeatedRequest, school: School, words: str) -> None:
    for one in words.replace("\0", "").replace(",", "\n").splitlines()[:MOST]:
        if one.strip():
            horn = horn_typed(school, one.strip()[:200])
            if horn is None:
                messages.warning(request, f"No horn has the number or label “{one.strip()[:60]}”.")
            else:
                scanned(request, school, horn)


def _add_class(request: SeatedRequest, school: School, group: str) -> None:
    out = Loan.objects.at(school).open().filter(pupil__group=group, horn__school=school).order_by("pupil__name", "pk")
    keys = listed(request, school)
    more = [pk for pk in out.values_list("horn_id", flat=True) if pk not in keys] if group else []
    _keep(request, school, [*keys, *more][:MOST])
    if more:
        messages.success(request, f"{len(more)} horn{'' if len(more) == 1 else 's'} of {group}.")
    else:
        messages.info(request, f"Nobody else of {group} has a horn." if group else "Choose a class.")


def _keep(request: HttpRequest, school: School, keys: list[int]) -> None:
    at = int(request.now.timestamp())  # type: ignore[attr-defined]
    request.session[KEPT] = {"school": school.pk, "horns": keys, "at": at}


def _take(request: SeatedRequest) -> HttpResponse:
    """Every listed horn that was not refused is back; the others stay on the list with their reason."""
    school, refusals = request.seat.school, {}
    if request.POST.get("looked") != "yes":
        return _page(request, wrong="Look each horn over first, then tick that you did.")
    taken = 0
    for loan in _loans(school, listed(request, school)):
        try:
            _take_one(request, loan, cleaned=request.POST.get("cleaned") == "yes")
        except Refused as no:
            refusals[loan.horn_id] = no.sentence
        else:
            taken += 1
    _keep(request, school, list(refusals))
    if taken:
        messages.success(request, f"{taken} horn{'' if taken == 1 else 's'} taken back.")
    if refusals:
        return _page(request, refusals=refusals)
    request.session.pop(KEPT, None)
    return redirect("loans:loans", school.slug)


def _take_one(request: SeatedRequest, loan: Loan, *, cleaned: bool) -> None:
    today = timezone.localdate(request.now)

    def nothing_new(horn: Horn) -> ConditionCheck:
        # What was known before is still there: left out of the check, it would count as gone.
        known = [Found(one.fault, one.severity, one.note) for one in open_findings(horn)]
        return log_check(
            horn=horn,
            by=request.user,
            at=request.now,
            occasion=ConditionCheck.Occasion.ON_RETURN,
            finish_grade=loan.check_at_issue.finish_grade,
            found=known,
            notes="Looked over in a row of returns; nothing new was seen.",
        )

    returning.give_back(
        loan=loan,
        returned_on=today,
        came_back=[thing.pk for thing in loan.accessories.all()],
        look_over=nothing_new,
        mouthpiece_cleaned_on=today if cleaned else None,
        notes="",
        by=request.user,
        at=request.now,
    )


def _loans(school: School, keys: list[int]) -> list[Loan]:
    """Open loans of these horns, in the order of the keys."""
    out = Loan.objects.at(school).open().filter(horn__in=keys).select_related("horn", "pupil", "check_at_issue")
    return sorted(out.prefetch_related("accessories"), key=lambda loan: keys.index(loan.horn_id))


def _page(request: SeatedRequest, *, refusals: dict[int, str] | None = None, wrong: str = "") -> HttpResponse:
    school = request.seat.school
    loans = _loans(school, listed(request, school))
    rows = [(loan, (refusals or {}).get(loan.horn_id, "")) for loan in loans]
    groups = Loan.objects.at(school).open().exclude(pupil__group="").values_list("pupil__group", flat=True)
    context: dict[str, Any] = {"rows": rows, "groups": sorted(set(groups)), "wrong": wrong, "most": MOST}
    context |= {"cleaned": request.POST.get("cleaned") == "yes", "looked": request.POST.get("looked") == "yes"}
    return render(request, "loans/back.html", context, status=422 if wrong else 409 if refusals else 200)
