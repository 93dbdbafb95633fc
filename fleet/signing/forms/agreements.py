"""The form that a new version of the agreement is written in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.formats import number_format
from django.utils.functional import lazy
from django.utils.text import format_lazy
from django.utils.translation import gettext as _s

from fleet.ground.files.pdfs import MOST_MEGABYTES, MOST_PAGES, kept_pdf
from fleet.ground.languages.known import others_of
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.lending.models import Agreement
from fleet.people.models import School

# The back of the sheet has room for so many, however they are broken into lines.
LONGEST_AGREEMENT = 4000


SHORTEST_AGREEMENT = 40
TOO_SHORT = format_lazy(
    _s_lazy(
        "That is hardly an agreement. Say in at least {least} characters what the guardian promises, or attach the "
        "school’s own as a PDF."
    ),
    least=SHORTEST_AGREEMENT,
)


OTHER = "words_"  # and the code of a language


def not_too_long(words: str) -> None:
    """A line end is one character, though a browser sends two."""
    many = len("\n".join(words.splitlines()))
    if many > LONGEST_AGREEMENT:
        said = _s("These are %(many)s characters, %(over)s too many. Nothing was cut.") % {
            "many": f"{many:,}",
            "over": f"{many - LONGEST_AGREEMENT:,}",
        }
        raise forms.ValidationError(said)


# What a script says below the field while somebody types.
COUNTED = {
    "data-most": LONGEST_AGREEMENT,
    "data-counted": _s_lazy("%(long)s of %(most)s characters."),
    "data-too-many": _s_lazy("%(long)s of %(most)s characters, %(over)s too many."),
}


class AgreementForm(PlainSentences, forms.Form):
    # No length is told to the browser: it would cut what is pasted and say nothing.
    words = forms.CharField(
        label=_s_lazy("What the guardian signs"),
        widget=forms.Textarea(attrs={"rows": 14, **COUNTED}),
        help_text=format_lazy(
            _s_lazy(
                "At most {most} characters. About 150 words stay easy to read; what has no room on the front of the "
                "loan sheet stands whole on its back."
            ),
            most=lazy(number_format, str)(LONGEST_AGREEMENT, force_grouping=True),
        ),
        error_messages={"required": _s_lazy("An agreement needs words.")},
    )
    own = forms.FileField(
        label=_s_lazy("The school’s own agreement as a PDF"),
        required=False,
        help_text=format_lazy(
            _s_lazy(
                "If the school has one: at most {pages} pages and {megabytes} MB. It is part of the version, prints "
                "behind each sheet to sign, and whoever signs on their page is given it."
            ),
            pages=MOST_PAGES,
            megabytes=MOST_MEGABYTES,
        ),
        widget=forms.ClearableFileInput(attrs={"accept": "application/pdf"}),
    )
    without_own = forms.BooleanField(label=_s_lazy("The new version has no PDF"), required=False)
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, school: School, current: Agreement | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.current = current
        for one in others_of(school.languages, school.language):
            attrs = {"rows": 8, **COUNTED, "lang": one.code, "dir": "auto"}
            self.fields[f"{OTHER}{one.code}"] = forms.CharField(
                label=_s("The same in %(english)s") % {"english": _s(one.english)},
                required=False,
                initial=current.in_languages.get(one.code, "") if current else "",
                widget=forms.Textarea(attrs=attrs),
                validators=[not_too_long],
            )
        self.fields["words"].validators.append(not_too_long)

    @property
    def in_other_languages(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(OTHER)]

    @property
    def said(self) -> dict[str, Any]:
        """What a new version needs."""
        given = dict(self.cleaned_data)
        others = {name: given.pop(name) for name in list(given) if name.startswith(OTHER)}
        return {**given, "in_languages": {name.removeprefix(OTHER): words for name, words in others.items()}}

    def clean_own(self) -> Any:
        """The file as it is to be kept and how many pages it has; None for none."""
        upload = self.cleaned_data["own"]
        return kept_pdf(upload) if upload else None

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if self.current is not None and len(said.get("words", "").strip()) < SHORTEST_AGREEMENT and "words" in said:
            comes_along = bool(self.current.own) and not said.get("without_own")
            if "own" in said and not (said["own"] or comes_along):
                self.add_error("words", TOO_SHORT)
        return said
