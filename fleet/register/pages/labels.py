"""The page where a school says how its label sheets are cut."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from fleet.people.queries.seats import SeatedRequest
from fleet.register.forms.labels import LabelSheetForm
from fleet.register.models.labels import label_sheet_of


def label_sheet(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    form = LabelSheetForm(request.POST or None, instance=label_sheet_of(school))
    if request.method == "POST" and form.is_valid():
        sheet = form.save()
        messages.success(request, f"{sheet}. Print the alignment page on plain paper and hold it against a sheet.")
        return redirect("register:label-sheet", school.slug)
    return render(request, "register/label_sheet.html", {"form": form}, status=422 if request.method == "POST" else 200)
