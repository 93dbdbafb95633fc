"""The page that puts a finished walk on record: on a horn the register has, or on a new one.

The walk's answers come in the address, as everywhere; what they amount to is computed here again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.access import SeatedRequest
from fleet.people.models import School
from fleet.refused import Refused, status_of
from fleet.register import identifying
from fleet.register.actions import Particulars
from fleet.register.by_ear import in_hand
from fleet.register.kinds import finding_in_words
from fleet.register.models import Horn, Place
from fleet.register.numbers import FORM, FORM_SENTENCE, next_free
from fleet.register.ways import way_out
from fleet.sentences import PlainSentences
from identify import views as walk_pages
from identify.core.reasoning import Candidate, Verdict, assess
from identify.walk import RESULT, Walk, read_walk
from identify.words import in_words

ON_HORN, AS_NEW = "on-horn", "as-new"
SHOWN_FIRST = 6


def _choice(candidate: Candidate) -> tuple[str, str]:
    words = finding_in_words(candidate.build.code, candidate.stands_in or "")
    return f"{candidate.build.code}|{candidate.stands_in or ''}", words


@dataclass(frozen=True, slots=True)
class Offered:
    """One kind to choose, as the page draws it."""

    value: str
    words: str
    likely: str
    checked: bool
    is_french_horn: bool


class FindingForm(PlainSentences, forms.Form):
    """Which kind it is and which horn: one form, since the kind is chosen the same way for both."""

    kind = forms.ChoiceField(label="It is a")
    act = forms.ChoiceField(choices=[(ON_HORN, ""), (AS_NEW, "")])
    horn_number = forms.CharField(
        label="Its register number",
        max_length=24,
        error_messages={"required": "Say which horn."},
        widget=forms.TextInput(attrs={"list": "unknown", "autocomplete": "off"}),
    )
    number = forms.RegexField(
        FORM,
        label="Register number",
        max_length=24,
        error_messages={"invalid": FORM_SENTENCE, "required": "Give the horn a register number."},
        help_text="The next free one; change it if the horn has a number already.",
    )
    suggested = forms.CharField(max_length=24, required=False, widget=forms.HiddenInput)
    place = forms.ModelChoiceField(Place.objects.none(), required=False, empty_label="no place yet", label="Place")
    maker = forms.CharField(label="Maker", max_length=80, required=False)
    model = forms.CharField(label="Model", max_length=80, required=False)
    serial_number = forms.CharField(label="Serial number", max_length=60, required=False)

    def __init__(self, *args: Any, school: School, verdict: Verdict, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.school, self.verdict = school, verdict
        fields: dict[str, Any] = self.fields
        fields["kind"].choices = [_choice(candidate) for candidate in verdict.candidates]
        fields["kind"].initial = fields["kind"].choices[0][0]
        fields["place"].queryset = Place.objects.filter(school=school)
        # Two ways lead on from this page, and only the one that is taken asks for its number.
        act = self.data.get("act") if self.is_bound else None
        fields["horn_number"].required = act in (None, ON_HORN)
        fields["number"].required = act in (None, AS_NEW)
        self.horn: Horn | None = None

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        if data.get("act") == ON_HORN and data.get("horn_number"):
            self.horn = Horn.objects.at(self.school).numbered(data["horn_number"])
            if self.horn is None:
                self.add_error("horn_number", f"There is no horn {data['horn_number']} on the register.")
        return data

    @property
    def offered(self) -> list[Offered]:
        """The kinds to choose from, the likeliest first."""
        now = self["kind"].value()
        rows = []
        for candidate in self.verdict.candidates:
            value, words = _choice(candidate)
            horn = candidate.build.is_french_horn
            rows.append(Offered(value, words, in_words(candidate.probability), value == now, horn))
        return rows

    @property
    def build_and_stand(self) -> tuple[str, str]:
        build, _, stands_in = self.cleaned_data["kind"].partition("|")
        return build, stands_in

    @property
    def particulars(self) -> Particulars:
        names = ("number", "place", "maker", "model", "serial_number")
        return cast(Particulars, {name: self.cleaned_data[name] for name in names})


def walk(request: SeatedRequest) -> HttpResponse:
    """The walk of `identify`, which knows nothing of registers, with what this school has confirmed so far."""
    asked = read_walk(request.GET).horn
    horn = Horn.objects.at(request.seat.school).filter(pk=int(asked)).first() if asked else None
    mix = identifying.confirmed_mix(request.seat.school, besides=int(asked or 0))
    return walk_pages.walk(request, mix=mix, in_hand=in_hand(horn) if horn else None)


def identified(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    walk = read_walk(request.GET)
    horn = get_object_or_404(Horn.objects.at(school), pk=int(walk.horn)) if walk.horn else None
    mix = identifying.confirmed_mix(school, besides=horn.pk if horn else 0)
    verdict = assess(walk.observations, mix=mix)
    suggested = next_free(school)
    form = FindingForm(
        request.POST or None,
        school=school,
        verdict=verdict,
        initial={"number": suggested, "suggested": suggested, "horn_number": horn.number if horn else ""},
    )
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            found = _keep(request, form, walk)
        except Refused as no:
            refused = no
        else:
            return redirect("desk:horn", school.slug, found.pk)
    return render(
        request,
        "register/identified.html",
        _shown(request, form, walk, horn, refused),
        status=status_of(request, refused),
    )


def _keep(request: SeatedRequest, form: FindingForm, walk: Walk) -> Horn:
    build, stands_in = form.build_and_stand
    finding: dict[str, Any] = {
        "observations": walk.observations,
        "build": build,
        "stands_in": stands_in,
        "by": request.user,
        "at": request.now,
    }
    words = finding_in_words(build, stands_in)
    if form.horn is not None:
        identifying.put_on_horn(horn=form.horn, **finding)
        messages.success(request, f"{form.horn.number} is on record as a {words}.")
        return form.horn
    asked = form.cleaned_data["number"]
    horn = identifying.register_as_found(
        school=request.seat.school,
        particulars=form.particulars,
        suggested=form.cleaned_data["suggested"],
        **finding,
    )
    taken = f" Somebody took {asked} a moment ago." if horn.number != asked else ""
    messages.success(request, f"Registered as {horn.number}, a {words}.{taken}")
    return horn


def _shown(
    request: SeatedRequest, form: FindingForm, walk: Walk, horn: Horn | None, refused: Refused | None
) -> dict[str, Any]:
    school = request.seat.school
    offered, concerned = form.offered, form.horn or horn
    likely = [one for place, one in enumerate(offered) if place < SHOWN_FIRST or one.checked]
    return {
        "form": form,
        "walk": walk,
        "verdict": form.verdict,
        "likely": likely,
        "unlikely": [one for one in offered if one not in likely],
        "observed": walk.observed(),
        "horn": horn,
        "now": finding_in_words(horn.build, horn.stands_in) if horn else "",
        "unknown": list(Horn.objects.at(school).unidentified().order_by("number_stem", "number_tail", "pk")[:50]),
        "back": reverse("identify:walk", args=(school.slug,)) + walk.address(RESULT),
        "refused": refused,
        "way_out": way_out(refused, concerned, school) if concerned else "",
        "as_new_first": form.data.get("act") == AS_NEW or horn is None,
    }
