"""Forms of care: many horns of one kind of care, or one horn on one day."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _s

from fleet.ground.addresses import whole
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.models import School
from fleet.workshop.models.care import Kind
from fleet.workshop.queries.care import wanting

LONGEST_AGO = timedelta(days=3653)
# More horns than a page shows; whatever is sent beyond them stood on none.
MOST = 1000


class CareForm(PlainSentences, forms.Form):
    kind = forms.ChoiceField(choices=Kind.choices)
    horns = forms.TypedMultipleChoiceField(
        coerce=int, error_messages={"required": _s_lazy("Tick the horns that were cared for.")}
    )

    def __init__(self, sent: QueryDict | None, *, school: School, today: date) -> None:
        if sent is not None and "these" in sent:
            # The button of a place names the horns that stood under it.
            sent = sent.copy()
            sent.setlist("horns", str(sent["these"]).split(","))
        super().__init__(sent)
        if self.is_bound:
            kinds = [kind for kind in Kind if kind == self.data.get("kind")] or Kind
            keys = map(whole, self.data.getlist("horns"))  # type: ignore[attr-defined]
            said = [key for key in keys if key is not None][:MOST]
            due = {
                pk
                for kind in kinds
                for pk in wanting(school, kind, today).filter(pk__in=said).values_list("pk", flat=True)
            }
            self.fields["horns"].choices = [(pk, pk) for pk in sorted(due)]  # type: ignore[attr-defined]

    @property
    def said(self) -> dict[str, Any]:
        """What noting care takes: kind, horns."""
        return {**self.cleaned_data, "kind": Kind(self.cleaned_data["kind"])}

    def has_ticked(self, kind: Kind, horn: int) -> bool:
        return self.is_bound and self["kind"].value() == kind and str(horn) in self["horns"].value()

    def sentences(self) -> list[str]:
        """What is wrong, for a page whose ticks lie far from one another."""
        told = []
        for name, sentences in self.errors.items():
            stale = name == "horns" and not self.has_error("horns", "required")
            said = _s("One of these is not due any more: somebody has noted it. Look again.") if stale else sentences[0]
            told.append(str(said))
        return told


class TakeBackForm(PlainSentences, forms.Form):
    """The button that takes one record back, by its key, or all of a kind that were noted today."""

    care = forms.RegexField(rf"^(\d{{1,18}}|{'|'.join(Kind.values)})$")

    @property
    def of(self) -> int | Kind:
        said = self.cleaned_data["care"]
        return int(said) if said.isdigit() else Kind(said)


class DoneForm(PlainSentences, forms.Form):
    """One kind of care, done to one horn on one day."""

    kind = forms.ChoiceField(
        choices=Kind.choices,
        widget=forms.RadioSelect,
        label=_s_lazy("What was done"),
        error_messages={"required": _s_lazy("Say what was done.")},
    )
    on = forms.DateField(label=_s_lazy("On"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def __init__(self, *args: Any, kinds: list[Kind], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [(kind.value, kind.label) for kind in kinds]  # type: ignore[attr-defined]
        self.today = today

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on > self.today:
            raise forms.ValidationError(_s("This day is still to come."))
        if on < self.today - LONGEST_AGO:
            raise forms.ValidationError(_s("That is more than ten years ago. Look at the year again."))
        return on
