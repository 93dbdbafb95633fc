"""Issuing a horn: choose the horn, choose the pupil, say what goes along, print, have it signed, issue.

Every step is an address with all that was chosen before, so the back button, a locked phone and the way to a
condition check and back lose nothing. Only the last step changes anything.
"""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.http import urlencode

from fleet.access import SeatedRequest
from fleet.loans import actions
from fleet.loans.drafts import Draft, draft_from
from fleet.loans.forms import SignedForm
from fleet.loans.lending import day, way_out_of, why_not
from fleet.loans.models import Loan
from fleet.people.models import Pupil, School
from fleet.refused import Refused
from fleet.register.models import Horn, searchable
from fleet.workshop.condition import open_findings

SHOWN = 20
STEPS = ("Horn", "Pupil", "What goes along", "Sign and issue")


def issue(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    draft = draft_from(request.GET, school, timezone.localdate(request.now))
    if draft.horn is None:
        return _choose_horn(request, draft)
    refused = why_not(draft.horn)
    if refused is not None and request.method != "POST":
        return _page(request, "refused", draft, 0, **_no(refused, draft))
    if draft.pupil is None:
        query = _typed(request)
        return _page(request, "pupil", draft, 1, q=query, pupils=_pupils(school, query))
    if draft.is_whole and request.GET.get("then") == "check":
        return redirect(_check_address(draft))
    if request.method == "POST" or (draft.is_whole and request.GET.get("then") == "sign"):
        return _sign(request, draft)
    return _page(request, "particulars", draft, 2, findings=open_findings(draft.horn), ways=_ways(draft))


def pupil_search(request: SeatedRequest) -> HttpResponse:
    """The pupils that match, for the page that searches while one types."""
    draft = draft_from(request.GET, request.seat.school, timezone.localdate(request.now))
    found = _pupils(request.seat.school, _typed(request))
    return render(request, "loans/_pupils.html", {"pupils": found, "draft": draft, "q": _typed(request)})


def _sign(request: SeatedRequest, draft: Draft) -> HttpResponse:
    """What will be issued, to be looked over; then the signature and the act."""
    assert draft.horn is not None and draft.form is not None
    if not draft.is_whole:
        return _page(
            request, "particulars", draft, 2, findings=open_findings(draft.horn), ways=_ways(draft), status=422
        )
    form = SignedForm(request.POST or None, today=draft.today)
    no: dict[str, Any] = {}
    if request.method == "POST" and form.is_valid():
        try:
            loan = _issue(request, draft, form.cleaned_data["signed_on"])
        except Refused as refused:
            draft.horn.refresh_from_db()
            no = _no(refused, draft)
        else:
            messages.success(request, f"{loan.horn} is out with {loan.pupil} until {day(loan.due_on)}.")
            return redirect("loans:loan", draft.school.slug, loan.pk)
    status = 409 if no else 422 if form.errors else 200
    return _page(
        request, "sign", draft, 3, signed=form, findings=open_findings(draft.horn), status=status, **no
    )


def _issue(request: SeatedRequest, draft: Draft, signed_on: Any) -> Loan:
    assert draft.horn is not None and draft.pupil is not None and draft.form is not None
    return actions.issue(
        horn=draft.horn,
        pupil=draft.pupil,
        guardian=draft.form.cleaned_data["guardian"],
        agreement_version=_number(request.GET.get("agreement")),
        check_seen=_number(request.GET.get("check")),
        due_on=draft.form.cleaned_data["due_on"],
        signed_on=signed_on,
        accessories=draft.form.along(),
        by=request.user,
        at=request.now,
    )


def _choose_horn(request: SeatedRequest, draft: Draft) -> HttpResponse:
    query = _typed(request)
    horns = Horn.objects.at(draft.school).kept().order_by("number", "pk")
    if query:
        exact = horns.filter(number__iexact=query).first()
        if exact is not None:
            draft.horn = exact
            return redirect(f"{request.path}?{draft.query()}")
        for word in searchable(query).split()[:6]:
            horns = horns.filter(search__contains=word)
    else:
        horns = horns.filter(where=Horn.Where.CUPBOARD, grade__lt=Horn.Grade.REPAIR_FIRST, test_note_owed=False)
        horns = horns.exclude(build="")
    return _page(request, "horn", draft, 0, q=query, horns=list(horns[: SHOWN + 1]), shown=SHOWN)


def _pupils(school: School, query: str) -> list[Pupil]:
    """At most `SHOWN` + 1 pupils, each with the loans that are open. Two queries."""
    out = Prefetch("loans", Loan.objects.open().select_related("horn"), to_attr="has_now")
    found = Pupil.objects.at(school).filter(left_on=None).matching(query).order_by("name", "pk")
    return list(found.prefetch_related(out)[: SHOWN + 1])


def _page(
    request: SeatedRequest, name: str, draft: Draft, place: int, *, status: int = 200, **more: Any
) -> HttpResponse:
    links = [
        "",
        draft.query(pupil=draft.pupil.pk) if draft.pupil else "",
        draft.query(),
        draft.query(then="sign") if draft.is_whole else "",
    ]
    if draft.horn:
        # Choosing another horn keeps the pupil; choosing another pupil keeps the horn.
        links[0] = f"pupil={draft.pupil.pk}" if draft.pupil else ""
        links[1] = f"horn={draft.horn.pk}"
    steps = [
        {
            "label": label,
            "state": "here" if at == place else "done" if at < place else "",
            "address": f"?{links[at]}" if at < place else "",
        }
        for at, label in enumerate(STEPS)
    ]
    known = {"draft": draft, "steps": steps, "shown": SHOWN, **more}
    return render(request, f"loans/issue_{name}.html", known, status=status)


def _no(refused: Refused, draft: Draft) -> dict[str, Any]:
    assert draft.horn is not None
    return {"refused": refused, "way_out": way_out_of(refused, draft.horn, draft.school)}


def _ways(draft: Draft) -> dict[str, str]:
    """Addresses of other slices' pages that lead back here."""
    assert draft.pupil is not None
    here = reverse("loans:issue", args=[draft.school.slug]) + "?" + draft.query()
    try:
        guardian = reverse("people:guardian-new", args=[draft.school.slug, draft.pupil.pk])
    except NoReverseMatch:
        return {}
    return {"guardian": f"{guardian}?{urlencode({'next': here})}"}


def _check_address(draft: Draft) -> str:
    assert draft.horn is not None
    here = reverse("loans:issue", args=[draft.school.slug]) + "?" + draft.query()
    check = reverse("workshop:check-new", args=[draft.school.slug, draft.horn.pk])
    return f"{check}?{urlencode({'next': here, 'occasion': 'before-loan'})}"


def _typed(request: SeatedRequest) -> str:
    return request.GET.get("q", "").replace("\0", "").strip()[:80]


def _number(said: str | None) -> int:
    return int(said) if said and said.isascii() and said.isdigit() and len(said) < 18 else 0
