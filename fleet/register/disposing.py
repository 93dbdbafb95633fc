"""A horn given up for good: one person proposes, another decides. Its record and its number stay its own."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.people.models import User
from fleet.refused import Refused, status_of
from fleet.register.actions import TWICE_WITHIN, change_standing, locked
from fleet.register.forms import DayInput, not_too_long_ago
from fleet.register.models import Disposal, Horn, Standing
from fleet.register.ways import way_out
from fleet.sentences import PlainSentences


@transaction.atomic
def propose(*, horn: Horn, method: str, on: date, reason: str, by: User, at: datetime) -> Disposal:
    """Somebody of the staff proposes to give a horn up. The horn stays as it is until another person decides."""
    now = locked(horn)
    there = now.disposals.exclude(approved=False).first()
    if there is not None:
        same = there.proposed_by_id == by.pk and there.method == method and there.reason == reason
        if same and at - there.proposed_at <= TWICE_WITHIN:
            return there
        raise Refused(
            "This horn is given up already." if there.approved else "Giving this horn up is proposed already."
        )
    return Disposal.objects.create(horn=now, method=method, on=on, reason=reason, proposed_at=at, proposed_by=by)


@transaction.atomic
def decide(*, disposal: Disposal, approved: bool, answer: str = "", by: User, at: datetime) -> Disposal:
    """A second person approves, and the horn is withdrawn on the day proposed; or turns it down, and it stays."""
    horn = locked(disposal.horn)
    now = Disposal.objects.get(pk=disposal.pk)
    if now.decided_at is not None:
        raise Refused(f"This was decided already: {'approved' if now.approved else 'turned down'}.")
    if now.proposed_by_id == by.pk:
        raise Refused("You proposed it yourself. Somebody else decides.")
    if approved and horn.withdrawn_on is None:
        reason = f"Given up, {now.get_method_display()}: {now.reason}"[:300]
        # Lent no more from today on, even where it leaves the house later.
        day = min(now.on, timezone.localdate(at))
        change_standing(horn=horn, kind=Standing.Kind.WITHDRAWN, reason=reason, by=by, at=at, on=day)
    now.decided_at, now.decided_by = max(at, now.proposed_at), by
    now.approved, now.answer = approved, answer
    now.save(update_fields=["decided_at", "decided_by", "approved", "answer"])
    return now


class DisposalForm(PlainSentences, forms.Form):
    method = forms.ChoiceField(label="How it leaves", choices=Disposal.Method, widget=forms.RadioSelect)
    on = forms.DateField(label="On", widget=DayInput())
    reason = forms.CharField(label="Why", max_length=300, widget=forms.Textarea(attrs={"rows": 3}))

    def clean_on(self) -> date:
        return not_too_long_ago(self.cleaned_data["on"])

    def clean_reason(self) -> str:
        # One line on paper; a browser counts a line end as one letter and sends two.
        return " ".join(str(self.cleaned_data["reason"]).split())


class DecideForm(PlainSentences, forms.Form):
    answer = forms.CharField(label="A word on it", max_length=300, required=False)


def disposal(request: SeatedRequest, pk: int) -> HttpResponse:
    """The proposal for a horn: made here, or shown with how it stands."""
    school = request.seat.school
    horn = get_object_or_404(Horn.objects.at(school), pk=pk)
    there = horn.disposals.exclude(approved=False).select_related("proposed_by", "decided_by").first()
    form = DisposalForm(request.POST or None, initial={"on": timezone.localdate(request.now)})
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            propose(horn=horn, by=request.user, at=request.now, **form.cleaned_data)
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"Giving {horn} up is proposed. A department head who is not you decides.")
            return redirect("desk:horn", school.slug, horn.pk)
    shown: dict[str, Any] = {"horn": horn, "disposal": there, "form": form, "decide": DecideForm(), "refused": refused}
    return render(request, "register/disposal.html", shown, status=status_of(request, refused))


def disposal_decide(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    there = get_object_or_404(Disposal.objects.at(school).select_related("horn", "proposed_by", "decided_by"), pk=pk)
    form = DecideForm(request.POST or None)
    refused = None
    if request.method == "POST" and form.is_valid():
        approved = request.POST.get("approve") == "yes"
        try:
            decide(
                disposal=there, approved=approved, answer=form.cleaned_data["answer"], by=request.user, at=request.now
            )
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"{there.horn}: {'given up' if approved else 'it stays'}.")
            return redirect("register:disposal" if approved else "desk:horn", school.slug, there.horn_id)
    shown = {"horn": there.horn, "disposal": there, "decide": form, "refused": refused}
    shown["way_out"] = way_out(refused, there.horn, school)
    return render(request, "register/disposal.html", shown, status=status_of(request, refused))
