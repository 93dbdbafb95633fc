"""A school's own wording of a sentence, a field for each of its forms."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import KNOWN
from fleet.ground.languages.own import set_apart, wrong_with
from fleet.ground.sentences import PlainSentences
from fleet.people.queries.own_words import Sentence


class OwnWordsForm(PlainSentences, forms.Form):
    def __init__(self, *args: Any, sentence: Sentence, language: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sentence = sentence
        for form, (ours, own) in enumerate(zip(sentence.ours, sentence.own, strict=True)):
            label = _s("Your own words")
            if len(sentence.ours) > 1:
                label = _s("Your own words in place of “%(ours)s”") % {"ours": ours}
            attrs = {"lang": language, "dir": KNOWN[language].direction, "rows": max(2, len(ours) // 50 + 1)}
            self.fields[f"said_{form}"] = forms.CharField(
                label=label,
                required=False,
                max_length=900,
                initial=set_apart(language, own or ours),
                help_text=_s("Left empty, the site’s own words are back."),
                widget=forms.Textarea(attrs=attrs),
            )

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for form, ours in enumerate(self.sentence.ours):
            name = f"said_{form}"
            # On one line, as ours: a subject of a letter may hold no other.
            typed = said.get(name, "")
            said[name] = words = "\n".join(typed.splitlines()).strip() if "\n" in ours else " ".join(typed.split())
            if words and (wrong := wrong_with(ours, words)):
                self.add_error(name, wrong)
        return said

    @property
    def said(self) -> dict[str, Any]:
        return {"forms": [self.cleaned_data[name] for name in self.fields]}
