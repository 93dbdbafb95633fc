"""A horn's particulars, looked at before anything is written."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, cast

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.access import HEADS
from fleet.ground.fields import DateInput
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.people.forms.one_of_many import RowField
from fleet.people.queries.seats import Seat
from fleet.register.actions.horns import Particulars
from fleet.register.models import Horn, Place
from fleet.register.models.kinds import NOT_LOOKED_AT, kinds, reversible, stands, what_does_not_fit
from fleet.register.models.numbers import TAKEN
from fleet.register.queries.numbers import number_is_taken

# Need-to-know: on the form of a head only.
MONEY = ("price", "value")
_NOT_YET = ("", _s_lazy("not identified yet"))
EMPTY = {
    "wrap": NOT_LOOKED_AT,
    "fourth_valve": _s_lazy("none"),
    "fifth_valve": _s_lazy("none"),
    "finish": _s_lazy("not said"),
    "bell": _s_lazy("not said"),
}


class HornForm(PlainSentences, RowForm[Horn]):
    """A horn's particulars. Which fields somebody changed is told by what the form showed, not by the row as it
    is now, so that two people at one horn keep each other's changes."""

    build = forms.ChoiceField(label=_s_lazy("What it is"), required=False)
    stands_in = forms.ChoiceField(label=_s_lazy("Stands in (thumb lever up)"), required=False)
    # The number as the page suggested it: left as it is, it may become the next free one.
    suggested = forms.CharField(required=False, max_length=24, widget=forms.HiddenInput)

    class Meta:
        model = Horn
        fields = [
            "number",
            "place",
            "build",
            "stands_in",
            "wrap",
            "fourth_valve",
            "fifth_valve",
            "bell",
            "maker",
            "model",
            "serial_number",
            "finish",
            "acquired_on",
            "price",
            "value",
            "notes",
        ]
        field_classes = {"place": RowField}
        widgets = {"acquired_on": DateInput(), "notes": forms.Textarea(attrs={"rows": 4})}
        labels = {
            "maker": _s_lazy("Maker"),
            "bell": _s_lazy("Bell"),
            "model": _s_lazy("Model"),
            "finish": _s_lazy("Finish"),
            "wrap": _s_lazy("Wrap"),
            "notes": _s_lazy("Notes"),
            "number": _s_lazy("Register number"),
            "place": _s_lazy("Place"),
        }

    def __init__(self, *args: Any, seat: Seat, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        fields: dict[str, Any] = self.fields
        fields["build"].choices = [_NOT_YET, *kinds()]
        fields["stands_in"].choices = [("", _s("not said")), *stands()]
        fields["place"].queryset = Place.objects.filter(school=self.instance.school)
        fields["place"].empty_label = _s("no place yet")
        for name, label in EMPTY.items():
            fields[name].choices = [("", label), *[choice for choice in fields[name].choices if choice[0]]]
        if seat.role not in HEADS:
            for name in MONEY:
                del self.fields[name]
        else:
            for name in MONEY:
                self.fields[name].help_text = _s("In %(currency)s; shown to department heads only.") % {
                    "currency": seat.school.currency
                }
        if self.instance.pk:
            del self.fields["suggested"]
            self._keep_what_is_no_longer_known()
            if self.instance.acquired_within:
                fields["acquired_on"].help_text = _s("Only %(acquired)s is known; another day takes its place.") % {
                    "acquired": self.instance.acquired()
                }
            for field in self.fields.values():
                field.show_hidden_initial = True

    def _keep_what_is_no_longer_known(self) -> None:
        """A build the catalogue has dropped stays choosable on its own horn, so that saving does not lose it."""
        fields: dict[str, Any] = self.fields
        for name, value in (("build", self.instance.build), ("stands_in", self.instance.stands_in)):
            if value and not fields[name].valid_value(value):
                fields[name].choices = [*fields[name].choices, (value, value)]

    def clean_number(self) -> str:
        number = str(self.cleaned_data["number"]).strip()
        if number != self.data.get(self.add_prefix("suggested")) and number_is_taken(
            self.instance.school, number, besides=self.instance
        ):
            raise forms.ValidationError(TAKEN)
        return number

    def clean_acquired_on(self) -> date | None:
        day: date | None = self.cleaned_data["acquired_on"]
        if day and day > timezone.localdate(self.now):
            raise forms.ValidationError(_s("This day has not come yet."))
        return day

    def clean(self) -> dict[str, Any]:
        super().clean()
        data: dict[str, Any] = self.cleaned_data
        build, stand = data.get("build", ""), data.get("stands_in", "")
        if "build" in self.errors:
            return data
        unchanged = self.instance.pk and (build, stand) == (
            self.initial.get("build"),
            self.initial.get("stands_in"),
        )
        sentence = "" if unchanged else what_does_not_fit(build, stand)
        if sentence:
            self.add_error("stands_in", sentence)
        elif (
            self.instance.pk
            and build == self.initial.get("build")
            and self.initial.get("stands_in")
            and stand != self.initial.get("stands_in")
            and reversible(build)
        ):
            self.add_error("stands_in", _s("Restringing is an act of its own: use “Change the stand” below."))
        return data

    @property
    def said(self) -> dict[str, Any]:
        """What registering a horn takes: particulars, suggested."""
        given = dict(self.cleaned_data)
        return {"suggested": given.pop("suggested"), "particulars": cast(Particulars, given)}

    @property
    def changes(self) -> dict[str, Any]:
        """What this person changed, by column."""
        return {name: self.cleaned_data[name] for name in self.changed_data if name in self.cleaned_data}
