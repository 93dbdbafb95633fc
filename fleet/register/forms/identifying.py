"""Which kind a finished walk says it is, and which horn: one that the register has, or a new one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.utils.translation import gettext as _s

from fleet.ground.fields import KeptForm
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.forms.one_of_many import RowField
from fleet.people.models import School
from fleet.register.actions.horns import Particulars
from fleet.register.models import Horn, Place
from fleet.register.models.kinds import kind_and_stand
from fleet.register.models.numbers import FORM, FORM_SENTENCE
from identify.core.reasoning.explain import wrong_with
from identify.core.reasoning.ranking import Candidate
from identify.core.reasoning.verdict import Verdict
from identify.words import likely

ON_HORN, AS_NEW = "on-horn", "as-new"


def _choice(candidate: Candidate) -> tuple[str, str]:
    words = kind_and_stand(candidate.build.code, candidate.stands_in or "")
    return f"{candidate.build.code}|{candidate.stands_in or ''}", words


@dataclass(frozen=True, slots=True)
class Offered:
    """One kind to choose, as the page draws it."""

    value: str
    words: str
    likely: str
    checked: bool
    is_french_horn: bool


class IdentifiedForm(PlainSentences, KeptForm):
    """Which kind it is and which horn: one form, since the kind is chosen the same way for both."""

    kind = forms.ChoiceField(label=_s_lazy("It is a"))
    act = forms.ChoiceField(choices=[(ON_HORN, ""), (AS_NEW, "")])
    horn_number = forms.CharField(
        label=_s_lazy("Its register number"),
        max_length=24,
        error_messages={"required": _s_lazy("Say which horn.")},
        widget=forms.TextInput(attrs={"list": "unknown", "autocomplete": "off"}),
    )
    number = forms.RegexField(
        FORM,
        label=_s_lazy("Register number"),
        max_length=24,
        error_messages={"invalid": FORM_SENTENCE, "required": _s_lazy("Give the horn a register number.")},
        help_text=_s_lazy("The next free one; change it if the horn has a number already."),
    )
    suggested = forms.CharField(max_length=24, required=False, widget=forms.HiddenInput)
    place = RowField(Place.objects.none(), required=False, empty_label=_s_lazy("no place yet"), label=_s_lazy("Place"))
    maker = forms.CharField(label=_s_lazy("Maker"), max_length=80, required=False)
    model = forms.CharField(label=_s_lazy("Model"), max_length=80, required=False)
    serial_number = forms.CharField(label=_s_lazy("Serial number"), max_length=60, required=False)
    another = forms.BooleanField(label=_s_lazy("It is another horn, with the same answers"), required=False)
    report = forms.BooleanField(
        label=_s_lazy("Then report to the workshop what is wrong with it"), required=False, initial=True
    )

    def __init__(self, *args: Any, school: School, verdict: Verdict, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.school, self.verdict = school, verdict
        fields: dict[str, Any] = self.fields
        fields["kind"].choices = [_choice(candidate) for candidate in verdict.candidates]
        fields["kind"].initial = fields["kind"].choices[0][0]
        if not verdict.leading.states:
            del fields["report"]
        fields["place"].queryset = Place.objects.filter(school=school)
        # Two ways lead on from this page, and only the one that is taken asks for its number.
        act = self.data.get("act") if self.is_bound else None
        fields["horn_number"].required = act in (None, ON_HORN)
        fields["number"].required = act in (None, AS_NEW)
        self.horn: Horn | None = None

    def clean(self) -> dict[str, Any]:
        super().clean()
        data: dict[str, Any] = self.cleaned_data
        if data.get("act") == ON_HORN:
            # Words for the place of a new horn ask nobody who goes the other way.
            self.errors.pop("place", None)
        if data.get("act") == ON_HORN and data.get("horn_number"):
            self.horn = Horn.objects.at(self.school).numbered(data["horn_number"])
            if self.horn is None:
                self.add_error(
                    "horn_number", _s("There is no horn %(number)s on the register.") % {"number": data["horn_number"]}
                )
        return data

    @property
    def found(self) -> dict[str, Any]:
        """What the checks found, and under which id and how long ago it was found where the browser kept it."""
        return {**self.build_and_stand, "sent_as": self.cleaned_data["sent_as"], "waited": self.waited}

    @property
    def offered(self) -> list[Offered]:
        """The kinds to choose from, the likeliest first."""
        now = self["kind"].value()
        rows: list[Offered] = []
        for candidate in self.verdict.candidates:
            value, words = _choice(candidate)
            horn = candidate.build.is_french_horn
            rows.append(Offered(value, words, likely(candidate, self.verdict, leads=not rows), value == now, horn))
        return rows

    @property
    def build_and_stand(self) -> dict[str, str]:
        build, _, stands_in = self.cleaned_data["kind"].partition("|")
        return {"build": build, "stands_in": stands_in}

    @property
    def fault(self) -> str:
        """What is to be reported to the workshop; nothing where another kind was chosen than the one it was seen on."""
        wanted = self.cleaned_data.get("report") and self._takes_the_leading
        return " ".join(wrong_with(self.verdict.leading)) if wanted else ""

    @property
    def settles(self) -> bool:
        """Whether the checks settle it and the kind was taken that they say."""
        return self.verdict.settled and self._takes_the_leading

    @property
    def _takes_the_leading(self) -> bool:
        return bool(self.cleaned_data["kind"] == _choice(self.verdict.leading)[0])

    @property
    def particulars(self) -> dict[str, Any]:
        """What a new horn takes besides: particulars, suggested."""
        names = ("number", "place", "maker", "model", "serial_number")
        particulars = cast(Particulars, {name: self.cleaned_data[name] for name in names})
        more = {name: self.cleaned_data[name] for name in ("suggested", "another")}
        return {"particulars": particulars, **more}
