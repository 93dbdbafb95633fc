"""Care that is due, and noting it for one horn or many at once."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.workshop.care import DO, MIND, Kind, care_for, days_between, due
from fleet.workshop.faults import catalogue

SHOWN = 100


class CareForm(forms.Form):
    kind = forms.ChoiceField(choices=Kind.choices)
    horns = forms.TypedMultipleChoiceField(
        coerce=int, error_messages={"required": "Tick the horns that were cared for."}
    )

    def __init__(self, *args: object, waiting: dict[Kind, list[int]], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        numbers = {pk for some in waiting.values() for pk in some}
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
    kinds = [
        {
            "kind": kind,
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
