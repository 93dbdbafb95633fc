"""The settings of a school, as its heads change them."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.people.models import School


class SchoolForm(PlainSentences, RowForm[School]):
    class Meta:
        model = School
        fields = [
            "name",
            "number_prefix",
            "currency",
            "paper",
            "loan_days",
            "soon_days",
            "check_days",
            "approve_above",
            "bench_rate",
            "warranty_days",
            "oil_days",
            "clean_days",
            "service_days",
            "tuned_to",
            "second_step_days",
            "contact",
            "local_rules",
        ]
        widgets = {"local_rules": forms.Textarea(attrs={"rows": 4})}

    @property
    def said(self) -> dict[str, Any]:
        """The settings by column."""
        return dict(self.cleaned_data)
