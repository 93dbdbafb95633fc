"""The forms for when letters go out and what they say, and for how long names are kept."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.letters.models import LendingRules
from fleet.letters.models.wording import check_places


class LetterRulesForm(PlainSentences, RowForm[LendingRules]):
    class Meta:
        model = LendingRules
        fields = (
            "reminds",
            "days_before",
            "days_after",
            "before_subject",
            "before_words",
            "after_subject",
            "after_words",
            "recall_subject",
            "recall_words",
            "sign_subject",
            "sign_words",
        )
        widgets = {
            f"{name}_words": forms.Textarea(attrs={"rows": 9, "maxlength": 3000})
            for name in ("before", "after", "recall", "sign")
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if name.endswith(("_words", "_subject")):
                field.validators.append(check_places)


class NamesKeptForm(PlainSentences, RowForm[LendingRules]):
    class Meta:
        model = LendingRules
        fields = ("names_kept_days",)
