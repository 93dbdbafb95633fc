"""What a class or ensemble is called: one that is close to another is asked about, as lists ask."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from django import forms

from fleet.ground.fields import tick_after
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import closest


class OfAClass(PlainSentences):
    """For a form with the field `group`, after `self.groups`, the classes that are there, is said."""

    data: Mapping[str, Any]
    groups: Collection[str] = ()

    def ask_of_close(self, name: str = "group", tick: str = "another") -> None:
        """A name that is new and close to one that is there needs a tick, right after it."""
        typed = str(self.data.get(name, "")).strip()
        near = None if not typed or typed in self.groups else closest((typed,), [(one,) for one in self.groups])
        if near is not None:
            tick_after(self, name, tick, f"{typed} is another class than {near[0]}", near[0])  # type: ignore[arg-type]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data  # type: ignore[misc, attr-defined]
        said.pop("another", None)
        return said


class ClassNameForm(OfAClass, forms.Form):
    """What a class is called from now on. `known` are all classes with their pupils: a name of theirs needs a tick."""

    name = forms.CharField(label="What it is called", max_length=60)

    def __init__(self, *args: Any, was: str, known: Mapping[str, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.was = self.initial["name"] = was
        self.groups = [name for name in known if name not in {"", was}]
        self.fields["name"].widget.attrs.update(list="groups", autocomplete="off")
        if (typed := str(self.data.get("name", "")).strip()) in self.groups:
            self.fields["together"] = forms.BooleanField(
                label=f"{typed} has {known[typed]} pupil{'' if known[typed] == 1 else 's'} already: both are one class",
                error_messages={"required": "Tick this to put the two together. It cannot be undone."},
            )
        self.ask_of_close("name")

    def clean_name(self) -> str:
        if self.cleaned_data["name"] == self.was:
            raise forms.ValidationError("It is called so already.")
        return str(self.cleaned_data["name"])

    @property
    def together(self) -> bool:
        return bool(self.cleaned_data.get("together"))
