"""What a class or ensemble is called: one that is close to another is asked about, as lists ask."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.fields import tick_after
from fleet.ground.languages.marks import _s_lazy
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
            words = _s("%(typed)s is another class than %(near)s") % {"typed": typed, "near": near[0]}
            tick_after(self, name, tick, words, near[0])  # type: ignore[arg-type]

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data  # type: ignore[misc, attr-defined]
        said.pop("another", None)
        return said


class ClassNameForm(OfAClass, forms.Form):
    """What a class is called from now on. `known` are all classes with their pupils: a name of theirs needs a tick."""

    name = forms.CharField(label=_s_lazy("What it is called"), max_length=60)

    def __init__(self, *args: Any, was: str, known: Mapping[str, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.was = self.initial["name"] = was
        self.groups = [name for name in known if name not in {"", was}]
        self.fields["name"].widget.attrs.update(list="groups", autocomplete="off")
        if (typed := str(self.data.get("name", "")).strip()) in self.groups:
            self.fields["together"] = forms.BooleanField(
                label=_s_many(
                    "%(group)s has %(many)s pupil already: both are one class",
                    "%(group)s has %(many)s pupils already: both are one class",
                    known[typed],
                )
                % {"group": typed, "many": known[typed]},
                error_messages={"required": _s("Tick this to put the two together. It cannot be undone.")},
            )
        self.ask_of_close("name")

    def clean_name(self) -> str:
        if self.cleaned_data["name"] == self.was:
            raise forms.ValidationError(_s("It is called so already."))
        return str(self.cleaned_data["name"])

    @property
    def together(self) -> bool:
        return bool(self.cleaned_data.get("together"))
