"""The forms for when letters go out and what they say, and for how long names are kept."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext, override

from fleet.ground.languages.known import is_ours
from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.letters.models import LendingRules
from fleet.letters.models.rules import WORDS
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
            if name in WORDS:
                field.required = False
                field.validators.append(check_places)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        ours = LendingRules()
        return {**said, **{name: getattr(ours, name) for name in WORDS if not said.get(name, True)}}

    @property
    def said(self) -> dict[str, Any]:
        """The rules that are said here; words left empty are ours again."""
        return self.cleaned_data


class OtherLanguageForm(PlainSentences, forms.Form):
    """The words of letters in a language besides the school's own, each beside what it is written from."""

    def __init__(self, *args: Any, rules: LendingRules, language: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rules, self.language = rules, language
        with override(language):
            self.ours = {name: gettext(getattr(rules, name)) for name in WORDS if is_ours(getattr(rules, name))}
        written = rules.in_languages.get(language, {})
        for name in WORDS:
            long = name.endswith("words")
            label = str(getattr(LendingRules._meta.get_field(name), "verbose_name", name))
            attrs = {"lang": language, "dir": "auto", **({"rows": 9} if long else {})}
            self.fields[name] = forms.CharField(
                label=capfirst(label),
                required=False,
                max_length=3000 if long else 120,
                initial=written.get(name) or self.ours.get(name, ""),
                help_text="" if name in self.ours else getattr(rules, name),
                widget=(forms.Textarea if long else forms.TextInput)(attrs=attrs),
                validators=[check_places],
            )

    @property
    def said(self) -> dict[str, Any]:
        """The rules with what is new in this language; a sentence left as ours is no wording of the school's."""
        given = {name: "\n".join(words.splitlines()) for name, words in self.cleaned_data.items()}
        own = {name: words for name, words in given.items() if words.strip() and not self._is_ours(name, words)}
        return {"in_languages": {**self.rules.in_languages, self.language: own}}

    def _is_ours(self, name: str, words: str) -> bool:
        return words.strip() == self.ours.get(name, "").strip()


class NamesKeptForm(PlainSentences, RowForm[LendingRules]):
    class Meta:
        model = LendingRules
        fields = ("names_kept_days",)
