"""The page where a school says how its label sheets are cut."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from fleet.access import SeatedRequest
from fleet.register.stationery import LabelSheet, label_sheet_of
from fleet.sentences import PlainSentences


class LabelSheetForm(PlainSentences, forms.ModelForm):
    class Meta:
        model = LabelSheet
        fields = ("paper", "across", "down", "width", "height", "left", "top", "gap_across", "gap_down")
        widgets = {
            name: forms.NumberInput(attrs={"step": "0.1", "min": "0"})
            for name in ("width", "height", "left", "top", "gap_across", "gap_down")
        }


def label_sheet(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    form = LabelSheetForm(request.POST or None, instance=label_sheet_of(school))
    if request.method == "POST" and form.is_valid():
        sheet = form.save()
        messages.success(request, f"{sheet}. Print the alignment page on plain paper and hold it against a sheet.")
        return redirect("register:label-sheet", school.slug)
    return render(request, "register/label_sheet.html", {"form": form}, status=422 if request.method == "POST" else 200)
