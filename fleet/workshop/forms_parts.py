"""Forms of the stock and of the repairer outside."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django import forms

from fleet.people.models import School
from fleet.sentences import PlainSentences
from fleet.workshop.faults import catalogue
from fleet.workshop.forms import amount
from fleet.workshop.models import Part
from fleet.workshop.outside import Outside
from fleet.workshop.stocking import MOST_PIECES

LONGEST = timedelta(days=3 * 365)


def _day(label: str) -> forms.DateField:
    return forms.DateField(
        label=label, required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


class OutsideForm(PlainSentences, forms.Form):
    repairer = forms.CharField(label="Outside repairer", max_length=120, required=False)
    quote = amount("A quote cannot be less than nothing.")
    sent_on = _day("Sent on")
    expected_on = _day("Expected back on")
    back_on = _day("Back on")
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, school: School, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["quote"].label = f"Quote in {school.currency}"
        if school.approve_above is not None:
            self.fields["quote"].help_text = f"Above {school.approve_above} {school.currency} a head approves it first."

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        sent, expected, back = (said.get(name) for name in ("sent_on", "expected_on", "back_on"))
        if sent and not said.get("repairer"):
            self.add_error("repairer", "Say to which repairer the horn was sent.")
        for name, day in (("sent_on", sent), ("back_on", back)):
            if day and day > self.today:
                self.add_error(name, "This day is still to come.")
        if back and not sent:
            self.add_error("sent_on", "Say when it was sent.")
        if sent and back and back < sent:
            self.add_error("back_on", "A horn cannot come back before it was sent.")
        if sent and expected and not sent <= expected <= sent + LONGEST:
            self.add_error("expected_on", "Choose a day after it was sent, within three years.")
        return said

    def said(self) -> Outside:
        return Outside(**{name: value for name, value in self.cleaned_data.items() if name != "seen"})


class UseForm(PlainSentences, forms.Form):
    part = forms.ChoiceField()
    count = forms.IntegerField(
        label="Pieces",
        min_value=1,
        max_value=MOST_PIECES,
        initial=1,
        error_messages={"min_value": "Use at least one piece.", "max_value": "That is more than any job takes."},
    )

    def __init__(self, *args: Any, parts: Sequence[Part], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.parts = {str(part.pk): part for part in parts}
        choices = [(pk, f"{part.name} ({part.on_hand} there)") for pk, part in self.parts.items()]
        self.fields["part"].choices = choices  # type: ignore[attr-defined]

    def clean_part(self) -> Part:
        return self.parts[self.cleaned_data["part"]]


class PartForm(PlainSentences, forms.ModelForm):
    mends = forms.MultipleChoiceField(
        label="Faults that want one",
        required=False,
        widget=forms.SelectMultiple(attrs={"size": 8}),
        help_text="The bench holds such a job back when none is left.",
    )
    was = forms.IntegerField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Part
        fields = ["name", "on_hand", "minimum", "cost", "mends"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["mends"].choices = [  # type: ignore[attr-defined]
            (part.name, [(fault.code, fault.words) for fault in part.faults]) for part in catalogue().parts
        ]
        self.fields["cost"].label = f"Cost of one in {self.instance.school.currency}"
        self.fields["was"].initial = self.instance.on_hand if self.instance.pk else None
        for name, sentence in (
            ("cost", "A part cannot cost less than nothing."),
            ("on_hand", "There cannot be fewer than none."),
            ("minimum", "There cannot be fewer than none."),
        ):
            self.fields[name].error_messages["min_value"] = sentence
            for validator in self.fields[name].validators:
                if getattr(validator, "code", "") == "min_value":
                    validator.message = sentence  # type: ignore[attr-defined]

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        others = Part.objects.at(self.instance.school).filter(name__iexact=name).exclude(pk=self.instance.pk)
        if others.exists():
            raise forms.ValidationError("There is already a part of this name.")
        return name
