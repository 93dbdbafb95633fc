"""What a family types on its own pages: a fault, a signature, words to the school; and the tick before forgetting."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.ground.sentences import PlainSentences


class FaultForm(PlainSentences, forms.Form):
    words = forms.CharField(
        label="What is wrong?",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="As you would say it. Please do not try to mend it at home.",
        error_messages={
            "required": "Say in a few words what is wrong.",
            "max_length": "Say it in at most %(limit_value)d characters; this has %(show_value)d.",
        },
    )
    still_plays = forms.ChoiceField(
        label="Does it still play?",
        choices=[("yes", "Yes"), ("no", "No")],
        widget=forms.RadioSelect,
        error_messages={"required": "Say yes or no.", "invalid_choice": "Say yes or no."},
    )

    @property
    def said(self) -> dict[str, Any]:
        """What reporting a fault needs: words, still_plays."""
        return {"words": self.cleaned_data["words"], "still_plays": self.cleaned_data["still_plays"] == "yes"}


class SignForm(PlainSentences, forms.Form):
    typed_name = forms.CharField(label="Your name", max_length=120, help_text="Typing it here is your signature.")
    agreed = forms.BooleanField(
        label="I have read all of it and agree", error_messages={"required": "Tick this to sign."}
    )


class AskForm(PlainSentences, forms.Form):
    words = forms.CharField(max_length=1000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["words"].label = label


class ForgetForm(PlainSentences, forms.Form):
    sure = forms.BooleanField(
        label="I am sure", error_messages={"required": "Tick that you are sure: it cannot be undone."}
    )
