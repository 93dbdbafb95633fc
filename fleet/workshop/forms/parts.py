"""Forms of the stock: a part, and pieces of it that go into a job."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _s

from fleet.ground.addresses import MOST_KEY
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.workshop.actions.parts import MOST_PIECES
from fleet.workshop.models import Part
from fleet.workshop.models.faults import catalogue

MOST_ON_HAND = 100_000


class UseForm(PlainSentences, forms.Form):
    part = forms.ChoiceField(label=_s_lazy("Part"))
    count = forms.IntegerField(
        label=_s_lazy("Pieces"),
        min_value=1,
        max_value=MOST_PIECES,
        initial=1,
        error_messages={
            "min_value": _s_lazy("Use at least one piece."),
            "max_value": _s_lazy("That is more than any job takes."),
        },
    )

    def __init__(self, *args: Any, parts: Sequence[Part], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.parts = {str(part.pk): part for part in parts}
        choices = [
            (pk, _s("%(part)s (%(on_hand)s there)") % {"part": part.name, "on_hand": part.on_hand})
            for pk, part in self.parts.items()
        ]
        self.fields["part"].choices = choices  # type: ignore[attr-defined]

    def clean_part(self) -> Part:
        return self.parts[self.cleaned_data["part"]]


class PutBackForm(PlainSentences, forms.Form):
    """The button beside a part of a job: the key of what was used."""

    back = forms.IntegerField(min_value=0, max_value=MOST_KEY)


class PartForm(PlainSentences, RowForm[Part]):
    mends = forms.MultipleChoiceField(
        label=_s_lazy("Faults that want one"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_s_lazy("The bench holds such a job back when none is left."),
    )
    fault = forms.CharField(
        label=_s_lazy("Another fault that wants one"),
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"list": "faults", "autocomplete": "off"}),
        help_text=_s_lazy("Type a word of it, and choose."),
    )
    another = forms.BooleanField(required=False, widget=forms.HiddenInput)
    was = forms.IntegerField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = Part
        fields = ["name", "on_hand", "minimum", "cost", "supplier", "order_number", "shelf", "mends"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.faults = {f"{_s(fault.words)} ({_s(fault.part)})": fault.code for fault in catalogue().by_code.values()}
        words = {code: said for said, code in self.faults.items()}
        words |= {code: _s(catalogue().fault(code).words) for code in self.instance.mends if code not in words}
        mends: Any = self.fields["mends"]
        mends.choices = [(code, said) for code, said in words.items()]
        # Of all there are only those that are chosen stand there; the rest is found by a word.
        chosen = self["mends"].value() or []
        mends.widget.choices = [(code, words[code]) for code in chosen if code in words]
        self.fields["name"].label, self.fields["supplier"].label = _s("Name"), _s("Supplier")
        self.fields["cost"].label = _s("Cost of one in %(currency)s") % {"currency": self.instance.school.currency}
        self.fields["was"].initial = self.instance.on_hand if self.instance.pk else None
        for name, sentence in (
            ("cost", _s("A part cannot cost less than nothing.")),
            ("on_hand", _s("There cannot be fewer than none.")),
            ("minimum", _s("There cannot be fewer than none.")),
        ):
            self.fields[name].error_messages["min_value"] = sentence
            for validator in self.fields[name].validators:
                if getattr(validator, "code", "") == "min_value":
                    validator.message = sentence  # type: ignore[attr-defined]

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        others = Part.objects.at(self.instance.school).filter(name__iexact=name).exclude(pk=self.instance.pk)
        if others.exists():
            raise forms.ValidationError(_s("There is already a part of this name."))
        return name

    def clean_fault(self) -> str:
        """The code of the one fault that the words fit, "" for no words."""
        typed = str(self.cleaned_data["fault"]).casefold().strip()
        if not typed:
            return ""
        exact = [code for words, code in self.faults.items() if typed == words.casefold()]
        fit = exact or [code for words, code in self.faults.items() if typed in words.casefold()]
        if len(fit) != 1:
            none = _s("No fault is called so") if not fit else _s("%(fit)s faults are called so") % {"fit": len(fit)}
            raise forms.ValidationError(_s("%(none)s. Choose one from the list.") % {"none": none})
        return fit[0]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        fault = cleaned.get("fault")
        if fault and fault not in cleaned.get("mends", []):
            cleaned["mends"] = [*cleaned.get("mends", []), fault]
        return cleaned

    def go_on_from_what_is_there(self) -> None:
        """The number of pieces there are by now becomes what the page has shown."""
        now = Part.objects.get(pk=self.instance.pk)
        sent: QueryDict = self.data.copy()  # type: ignore[attr-defined]
        sent["was"] = str(now.on_hand)
        self.data = sent


class OrderedForm(PlainSentences, forms.Form):
    """Parts ticked as ordered today."""

    parts = forms.TypedMultipleChoiceField(coerce=int, error_messages={"required": _s_lazy("Tick what was ordered.")})

    def __init__(self, *args: Any, parts: Sequence[Part], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["parts"].choices = [(part.pk, part.name) for part in parts]  # type: ignore[attr-defined]


class ArrivedForm(PlainSentences, forms.Form):
    count = forms.IntegerField(
        min_value=1,
        max_value=MOST_PIECES,
        error_messages={
            "min_value": _s_lazy("Say how many came."),
            "max_value": _s_lazy("That is more than a thousand."),
        },
    )


class StockTakeForm(PlainSentences, forms.Form):
    """What lies there of each part; a field left empty was not counted."""

    def __init__(self, *args: Any, parts: Sequence[Part], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.parts = parts
        for part in parts:
            self.fields[f"there-{part.pk}"] = forms.IntegerField(
                label=part.name, required=False, min_value=0, max_value=MOST_ON_HAND
            )
            self.fields[f"was-{part.pk}"] = forms.IntegerField(
                required=False, min_value=0, max_value=MOST_ON_HAND, widget=forms.HiddenInput, initial=part.on_hand
            )

    def rows(self) -> list[tuple[Part, forms.BoundField, forms.BoundField]]:
        return [(part, self[f"there-{part.pk}"], self[f"was-{part.pk}"]) for part in self.parts]

    def counted(self) -> dict[int, tuple[int, int]]:
        """By key of each part that was counted, what the page showed and what lies there."""
        given = self.cleaned_data
        found = {part.pk: (given[f"was-{part.pk}"] or 0, given[f"there-{part.pk}"]) for part in self.parts}
        return {key: pair for key, pair in found.items() if pair[1] is not None}

    def go_on_from_what_is_there(self) -> None:
        """What is on record by now becomes what the page has shown."""
        sent: QueryDict = self.data.copy()  # type: ignore[attr-defined]
        for part in Part.objects.filter(pk__in=[part.pk for part in self.parts]):
            sent[f"was-{part.pk}"] = str(part.on_hand)
        self.data = sent
