"""What the bench list and a visit are asked for in the address."""

from __future__ import annotations

from django import forms

from fleet.ground.sentences import PlainSentences
from fleet.people.models import User
from fleet.workshop.models import RepairJob
from fleet.workshop.queries.visit import LONGEST


class BenchFilter(forms.Form):
    """Which jobs to show. Nonsense in the address shows everything."""

    state = forms.ChoiceField(choices=[("", "all open"), *RepairJob.State.choices], required=False, label="State")
    whose = forms.ChoiceField(
        choices=[("", "everybody’s"), ("mine", "mine"), ("free", "nobody’s yet")], required=False, label="Technician"
    )

    def asked(self, by: User) -> tuple[str, int | None]:
        """State ("" for all open) and technician (None for all, 0 for jobs nobody has taken)."""
        self.is_valid()
        whose = self.cleaned_data.get("whose", "")
        return self.cleaned_data.get("state", ""), {"mine": by.pk, "free": 0}.get(whose)


class VisitForm(PlainSentences, forms.Form):
    """The minutes of a visit. What is wrong in the address is said beside the field, and nothing is planned."""

    minutes = forms.IntegerField(
        label="Minutes today",
        min_value=1,
        max_value=LONGEST,
        error_messages={
            "min_value": "A visit takes at least a minute.",
            "max_value": "That is more than a day. Give the minutes of one visit.",
        },
    )
