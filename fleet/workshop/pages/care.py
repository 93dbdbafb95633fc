"""Care that is due, and noting it for one horn or many at once."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.workshop.actions.care import care_for
from fleet.workshop.forms.care import CareForm, DoneForm
from fleet.workshop.models.care import DO, MIND, Kind
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries.care import care_due, care_of, days_between

SHOWN = 100


def care(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    waiting = care_due(school, timezone.localdate(request.now))
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
