"""What a class or ensemble is called: one that is close to another is asked about, as lists ask."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, cast

from django import forms
from django.db.models import QuerySet
from django.http import QueryDict
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.fields import tick_after
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.wording import closest
from fleet.people.forms.one_of_many import MOST_OPTIONS, ClassField, ClassNames, asked_for, having_words
from fleet.people.models import School
from fleet.people.queries.classes import class_names


def groups_of(school: School, *, bound: bool) -> list[str]:
    """`groups` of a form: all where something was typed, else no more than tell whether all may be offered."""
    names = ClassNames(lambda: class_names(school))
    return [name for _, name in (names.read() if bound else names.first)]


class OfAClass(PlainSentences):
    """For a form with the field `group`, after `self.groups`, the classes that are there (`groups_of`), is said."""

    data: Mapping[str, Any]
    groups: Collection[str] = ()

    @property
    def offered(self) -> Collection[str]:
        """The classes to offer while somebody types: none where they are too many."""
        return self.groups if len(self.groups) <= MOST_OPTIONS else ()

    def ask_of_close(self, name: str = "group", tick: str = "another") -> None:
        """A name that is new and close to one that is there needs a tick, right after it."""
        typed = str(self.data.get(name, "")).strip()
        near = self._near(typed) if typed and typed not in self.groups else None
        if near is not None:
            words = _s("%(typed)s is another class than %(near)s") % {"typed": typed, "near": near}
            tick_after(self, name, tick, words, near)  # type: ignore[arg-type]

    def _near(self, typed: str) -> str | None:
        near = closest((typed,), [(one,) for one in self.groups])
        if near is None and not self.offered:
            # Who was offered none may have typed the words by which classes are found elsewhere.
            return next((name for name, _ in having_words(typed, [(one, one) for one in self.groups])), None)
        return near[0] if near else None

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data  # type: ignore[misc, attr-defined]
        said.pop("another", None)
        return said


class OneClassForm(PlainSentences, forms.Form):
    """One class, of the school's or of others that `names` gives; or none, which `empty` says."""

    group = ClassField(label=_s_lazy("Class or ensemble"), error_messages={"required": _s_lazy("Choose a class.")})

    def __init__(self, *args: Any, names: QuerySet[Any, str], empty: str | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast("ClassField", self.fields["group"]).among(lambda: names, empty)
        self.fields["group"].required = empty is None


def class_asked(said: QueryDict, school: School) -> OneClassForm:
    """The class that an address asks for, if it asks for any."""
    return OneClassForm(asked_for("group", said), names=class_names(school))


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
