"""Care that is due, and noting it for one horn or many at once."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.register.models import Horn
from fleet.sentences import PlainSentences
from fleet.workshop.care import DO, MIND, Kind, care_for, care_of, days_between, due
from fleet.workshop.faults import catalogue

SHOWN = 100
LONGEST_AGO = timedelta(days=3653)


class CareForm(PlainSentences, forms.Form):
    kind = forms.ChoiceField(choices=Kind.choices)
    horns = forms.TypedMultipleChoiceField(
        coerce=int, error_messages={"required": "Tick the horns that were cared for."}
    )

    def __init__(self, *args: object, waiting: dict[Kind, list[int]], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        of_this = [some for kind, some in waiting.items() if kind == self.data.get("kind")]
        numbers = {pk for some in of_this or waiting.values() for pk in some}
        self.fields["horns"].choices = [(pk, pk) for pk in sorted(numbers)]  # type: ignore[attr-defined]


def care(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    waiting = due(school, timezone.localdate(request.now))
    form = CareForm(
        request.POST if request.method == "POST" else None,
        waiting={kind: [one.horn.pk for one in some] for kind, some in waiting.items()},
    )
    if request.method == "POST":
        if form.is_valid():
            kind = Kind(form.cleaned_data["kind"])
            count = care_for(
                horns=form.cleaned_data["horns"], kind=kind, school=school, by=request.user, at=request.now
            )
            messages.success(request, f"{kind.label.capitalize()} noted for {count} horn{'' if count == 1 else 's'}.")
            return redirect("workshop:care", school.slug)
        for name, sentences in form.errors.items():
            stale = name == "horns" and "required" not in {error.code for error in form.errors.as_data()[name]}
            said = "One of these is not due any more: somebody has noted it. Look again." if stale else sentences[0]
            messages.error(request, str(said))
    # Those that were ticked stay so when one of them was in the way; a link ticks all of a kind.
    tick = request.GET.get("tick", "")
    sent = (request.POST.get("kind"), set(request.POST.getlist("horns")))
    kinds = [
        {
            "kind": kind,
            "all": tick == kind,
            "ticked": [
                one.horn.pk for one in some if tick == kind or (sent[0] == kind and str(one.horn.pk) in sent[1])
            ],
            "days": days_between(school, kind),
            "do": DO[kind],
            "cautions": [catalogue().cautions[code] for code in (*MIND[kind], "first")],
            "due": some[:SHOWN],
            "more": max(0, len(some) - SHOWN),
        }
        for kind, some in waiting.items()
    ]
    status = 422 if request.method == "POST" else 200
    return render(request, "workshop/care.html", {"kinds": kinds}, status=status)


class DoneForm(PlainSentences, forms.Form):
    """One kind of care, done to one horn on one day."""

    kind = forms.ChoiceField(
        choices=Kind.choices,
        widget=forms.RadioSelect,
        label="What was done",
        error_messages={"required": "Say what was done."},
    )
    on = forms.DateField(label="On", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def __init__(self, *args: Any, kinds: list[Kind], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [(kind.value, kind.label) for kind in kinds]  # type: ignore[attr-defined]
        self.today = today

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on > self.today:
            raise forms.ValidationError("This day is still to come.")
        if on < self.today - LONGEST_AGO:
            raise forms.ValidationError("That is more than ten years ago. Look at the year again.")
        return on


def horn_care(request: SeatedRequest, pk: int) -> HttpResponse:
    """How the care of one horn stands, and noting what was done to it, due or not."""
    school, today = request.seat.school, timezone.localdate(request.now)
    horn = get_object_or_404(Horn.objects.at(school).select_related("school"), pk=pk)
    stands, had = care_of(horn, today)
    first = next((one.kind for one in stands if one.is_due), None)
    form = DoneForm(
        request.POST if request.method == "POST" else None,
        kinds=[one.kind for one in stands],
        today=today,
        initial={"kind": first, "on": today},
    )
    if request.method == "POST" and form.is_valid():
        kind = Kind(form.cleaned_data["kind"])
        done = care_for(
            horns=[horn.pk], kind=kind, school=school, by=request.user, at=request.now, on=form.cleaned_data["on"]
        )
        if done:
            messages.success(request, f"{kind.label.capitalize()} noted for {horn}.")
        else:
            messages.error(request, f"{horn} is withdrawn.")
        return redirect("workshop:horn-care", school.slug, horn.pk)
    codes = dict.fromkeys(code for one in stands for code in MIND[one.kind])
    context = {
        "horn": horn,
        "stands": [(one, DO[one.kind]) for one in stands],
        "had": had,
        "form": form,
        "cautions": [catalogue().cautions[code] for code in (*codes, "first")],
    }
    return render(request, "workshop/horn_care.html", context, status=422 if request.method == "POST" else 200)
