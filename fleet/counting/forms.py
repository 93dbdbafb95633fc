"""What people type about counts, and what a phone sends, looked at before anything is written."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, ClassVar, cast

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _s

from fleet.counting.models import Count, Find, Line
from fleet.ground.addresses import MOST_KEY, whole
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.forms.one_of_many import SHOWN, RowField, to_tick
from fleet.people.models import School
from fleet.register.models import Horn, Place

KEY = r"^[A-Za-z0-9-]{8,64}$"
# A phone sends at most this many taps at once; the rest follow in the next letter.
MOST_AT_ONCE = 100


class AskedByChoice(PlainSentences, forms.Form):
    """A form some of whose fields are asked for, and then needed, with one choice only: {field: (choice, value)}."""

    asked: ClassVar[dict[str, tuple[str, str]]] = {}

    def full_clean(self) -> None:
        mine = [name for name in self.asked if name in self.fields]
        for name in mine:
            choice, value = self.asked[name]
            self.fields[name].required = self.data.get(choice) == value
        super().full_clean()
        # The page shows them with their choice, where they are not optional.
        for name in mine:
            self.fields[name].required = True


class BeginForm(AskedByChoice):
    asked: ClassVar = {
        "places": ("kind", Count.Kind.PLACES.value),
        "confidence": ("kind", Count.Kind.SAMPLE.value),
        "margin": ("kind", Count.Kind.SAMPLE.value),
    }

    kind = forms.ChoiceField(
        label=_s_lazy("Count what"),
        widget=forms.RadioSelect,
        initial=Count.Kind.EVERYTHING.value,
        choices=[
            (Count.Kind.EVERYTHING.value, _s_lazy("Everything")),
            (Count.Kind.PLACES.value, _s_lazy("Some places")),
            (Count.Kind.SAMPLE.value, _s_lazy("A random sample: a quick look in the middle of the year")),
        ],
    )
    places = forms.ModelMultipleChoiceField(
        label=_s_lazy("Which places"),
        queryset=Place.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _s_lazy("Tick the places to count.")},
    )
    find = forms.CharField(label=_s_lazy("Find other places"), max_length=60, required=False)
    confidence = forms.TypedChoiceField(
        label=_s_lazy("How sure the sample should make you"),
        coerce=int,
        error_messages={"required": _s_lazy("Choose one.")},
        initial="95",
        choices=[("90", "90 %"), ("95", "95 %"), ("99", "99 %")],
    )
    margin = forms.TypedChoiceField(
        label=_s_lazy("How near"),
        coerce=int,
        error_messages={"required": _s_lazy("Choose one.")},
        initial="10",
        choices=[
            ("5", _s_lazy("within 5 in 100")),
            ("10", _s_lazy("within 10 in 100")),
            ("15", _s_lazy("within 15 in 100")),
        ],
    )

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = cast("forms.ModelMultipleChoiceField[Place]", self.fields["places"])
        field.queryset = Place.objects.filter(school=school)
        sent = cast("QueryDict", self.data).getlist("places") if self.is_bound else []
        words = str(self.data.get("find", ""))
        # Of a new page no more are read than stand there.
        places = ((one.pk, str(one)) for one in field.queryset[: None if sent or words else SHOWN + 1])
        ticked, found, more = to_tick(places, {whole(one) for one in sent}, words)
        field.widget.choices = [*ticked, *found]
        # All of a small school stand there.
        if not more and not words:
            del self.fields["find"]
        elif more:
            self.fields["find"].help_text = _s(
                "The first %(shown)s stand above. Words of room and shelf find the others."
            ) % {"shown": SHOWN}
        elif not found:
            self.fields["find"].help_text = _s("No other place has these words.")


@dataclass(frozen=True, slots=True)
class Tap:
    """A horn seen as a phone tells it: `horn` is a key, `number` what was typed or scanned; one of them is empty."""

    key: str
    horn: int | None
    number: str
    place: int | None
    note: str
    waited: timedelta


class SawForm(PlainSentences, forms.Form):
    """One horn seen, from a page without script: a button with the horn's key, or a number typed or scanned."""

    key = forms.RegexField(KEY, widget=forms.HiddenInput)
    horn = forms.IntegerField(required=False, min_value=1, max_value=MOST_KEY)
    number = forms.CharField(label=_s_lazy("Register number, or the label’s address"), required=False, max_length=200)

    @property
    def tap(self) -> Tap:
        """What was tapped, with the note beside that horn's own button."""
        given = self.cleaned_data
        note = str(self.data.get(f"note-{given['horn']}", ""))[:300].strip()
        return Tap(given["key"], given["horn"], given["number"], place=None, note=note, waited=timedelta(0))


def taps(body: bytes) -> list[Tap] | None:
    """What a phone sent, or None for anything that is not a list of taps. Seconds waited are held to a year."""
    try:
        told = json.loads(body)
    except (ValueError, RecursionError):
        return None
    if not isinstance(told, dict) or not isinstance(told.get("taps"), list) or len(told["taps"]) > MOST_AT_ONCE:
        return None
    found = []
    for one in told["taps"]:
        form = TapForm(one if isinstance(one, dict) else {})
        if not form.is_valid():
            return None
        given = form.cleaned_data
        found.append(
            Tap(
                key=given["key"],
                horn=given["horn"],
                number=given["number"],
                place=given["place"],
                note=given["note"],
                waited=timedelta(seconds=min(max(given["waited"] or 0, 0), 365 * 86_400)),
            )
        )
    return found


class TapForm(forms.Form):
    key = forms.RegexField(KEY)
    horn = forms.IntegerField(required=False, min_value=1, max_value=MOST_KEY)
    number = forms.CharField(required=False, max_length=200)
    place = forms.IntegerField(required=False, min_value=1, max_value=MOST_KEY)
    note = forms.CharField(required=False, max_length=300)
    waited = forms.FloatField(required=False)


class ResolveForm(AskedByChoice):
    asked: ClassVar = {"place": ("resolution", Line.Resolution.MOVED.value)}

    resolution = forms.ChoiceField(
        label=_s_lazy("What becomes of it"),
        widget=forms.RadioSelect,
        error_messages={"required": _s_lazy("Choose what becomes of it.")},
    )
    place = RowField(
        label=_s_lazy("Its place now"),
        queryset=Place.objects.none(),
        error_messages={"required": _s_lazy("Say which place it has now.")},
    )
    reason = forms.CharField(
        label=_s_lazy("Why"), max_length=300, error_messages={"required": _s_lazy("Give the reason.")}
    )

    LABELS = {
        Line.Resolution.MISSING: _s_lazy("Record it as not found"),
        Line.Resolution.FOUND: _s_lazy("Record it as found"),
        Line.Resolution.MOVED: _s_lazy("It stays where it was seen: change its place in the register"),
        Line.Resolution.PUT_BACK: _s_lazy("It was put back where it belongs"),
        Line.Resolution.EXPLAINED: _s_lazy("Leave the register as it is"),
    }

    def __init__(
        self, *args: Any, open_to: Sequence[Line.Resolution], school: School, seen_at: int | None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        choices = [(one.value, self.LABELS[one]) for one in open_to]
        cast("forms.ChoiceField", self.fields["resolution"]).choices = choices
        if Line.Resolution.MOVED in open_to:
            field = cast("forms.ModelChoiceField[Place]", self.fields["place"])
            field.queryset = Place.objects.filter(school=school)
            field.initial = seen_at
        else:
            del self.fields["place"]


class FindForm(AskedByChoice):
    """What something found is; `horn` in the cleaned data is the horn of the number given, or None."""

    asked: ClassVar = {"number": ("resolution", Find.Resolution.HORN.value)}

    resolution = forms.ChoiceField(
        label=_s_lazy("What is it"),
        widget=forms.RadioSelect,
        error_messages={"required": _s_lazy("Choose what it is.")},
        choices=[
            (Find.Resolution.HORN.value, _s_lazy("It is a horn of the register")),
            (Find.Resolution.NOT_OURS.value, _s_lazy("It is not the school’s")),
            (Find.Resolution.NOTHING.value, _s_lazy("No horn: typed wrongly, or twice")),
        ],
    )
    number = forms.CharField(
        label=_s_lazy("Its register number"),
        max_length=200,
        error_messages={"required": _s_lazy("Say which horn it is. Register it first where it is not there yet.")},
    )
    reason = forms.CharField(
        label=_s_lazy("How you know"), max_length=300, error_messages={"required": _s_lazy("Say how you know.")}
    )

    def __init__(self, *args: Any, school: School, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.school = school

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        number = given.pop("number", "").strip()
        given["horn"] = None
        if given.get("resolution") == Find.Resolution.HORN and "number" not in self.errors:
            given["horn"] = Horn.objects.at(self.school).numbered(number)
            if given["horn"] is None:
                self.add_error("number", _s("The register has no horn of this number. Register it first."))
        return given
