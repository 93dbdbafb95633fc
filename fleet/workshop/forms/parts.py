"""Forms of the stock: a part, and pieces of it that go into a job."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import QueryDict

from fleet.ground.addresses import MOST_KEY
from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.workshop.actions.parts import MOST_PIECES
from fleet.workshop.models import Part
from fleet.workshop.models.faults import catalogue


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


class PutBackForm(PlainSentences, forms.Form):
    """The button beside a part of a job: the key of what was used."""

    back = forms.IntegerField(min_value=0, max_value=MOST_KEY)


class PartForm(PlainSentences, RowForm[Part]):
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

    def go_on_from_what_is_there(self) -> None:
        """The number of pieces there are by now becomes what the page has shown."""
        now = Part.objects.get(pk=self.instance.pk)
        sent: QueryDict = self.data.copy()  # type: ignore[attr-defined]
        sent["was"] = str(now.on_hand)
        self.data = sent
