"""What people type about horns, looked at before anything is written."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import Any, cast

from django import forms
from django.core.files.base import ContentFile
from django.utils import timezone

from fleet.access import HEADS, Seat
from fleet.register.actions import Particulars, number_is_taken, standings_open_to
from fleet.register.kinds import kinds, reversible, stands, stands_of, what_does_not_fit
from fleet.register.models import Horn, Place, Standing
from fleet.register.numbers import TAKEN
from fleet.register.pictures import redrawn
from fleet.sentences import PlainSentences

# Need-to-know: on the form of a head only.
MONEY = ("price", "value")
_NOT_YET = ("", "not identified yet")
EMPTY = {
    "wrap": "not said",
    "fourth_valve": "none",
    "fifth_valve": "none",
    "finish": "not said",
    "bell": "not said",
}


class DayInput(forms.DateInput):
    """A day as the browser's own calendar gives it."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


def day_as_time(day: date, now: datetime) -> datetime:
    """A day as a moment to keep: now for today, else noon of that day, so that no time zone moves it."""
    if day == timezone.localdate(now):
        return now
    return datetime.combine(day, time(12), tzinfo=timezone.get_current_timezone()).astimezone(UTC)


class HornForm(PlainSentences, forms.ModelForm):
    """A horn's particulars. Which fields somebody changed is told by what the form showed, not by the row as it
    is now, so that two people at one horn keep each other's changes."""

    build = forms.ChoiceField(label="What it is", required=False)
    stands_in = forms.ChoiceField(label="Stands in (thumb lever up)", required=False)
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
        widgets = {"acquired_on": DayInput(), "notes": forms.Textarea(attrs={"rows": 4})}
        labels = {"maker": "Maker", "bell": "Bell"}

    def __init__(self, *args: Any, seat: Seat, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        fields: dict[str, Any] = self.fields
        fields["build"].choices = [_NOT_YET, *kinds()]
        fields["stands_in"].choices = [("", "not said"), *stands()]
        fields["place"].queryset = Place.objects.filter(school=self.instance.school)
        fields["place"].empty_label = "no place yet"
        for name, label in EMPTY.items():
            fields[name].choices = [("", label), *[choice for choice in fields[name].choices if choice[0]]]
        if seat.role not in HEADS:
            for name in MONEY:
                del self.fields[name]
        else:
            for name in MONEY:
                self.fields[name].help_text = f"In {seat.school.currency}; shown to department heads only."
        if self.instance.pk:
            del self.fields["suggested"]
            self._keep_what_is_no_longer_known()
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
            raise forms.ValidationError("This day has not come yet.")
        return day

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
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
            self.add_error("stands_in", "Restringing is an act of its own: use “Change the stand” below.")
        return data

    @property
    def particulars(self) -> Particulars:
        """What a new horn starts with."""
        return cast(Particulars, {k: v for k, v in self.cleaned_data.items() if k != "suggested"})

    @property
    def changes(self) -> dict[str, Any]:
        """What this person changed, by column."""
        return {name: self.cleaned_data[name] for name in self.changed_data if name in self.cleaned_data}


class StandForm(PlainSentences, forms.Form):
    stands_in = forms.ChoiceField(label="It stands in now", widget=forms.RadioSelect)
    on = forms.DateField(label="Restrung on", widget=DayInput())
    reason = forms.CharField(label="Why", max_length=300)

    def __init__(self, *args: Any, horn: Horn, now: datetime, **kwargs: Any) -> None:
        self.now = now
        kwargs.setdefault("initial", {"on": timezone.localdate(now)})
        super().__init__(*args, **kwargs)
        others = [choice for choice in stands_of(horn.build) if choice[0] != horn.stands_in]
        cast(forms.ChoiceField, self.fields["stands_in"]).choices = others
        if len(others) == 1:
            self.fields["stands_in"].initial = others[0][0]

    def clean_on(self) -> date:
        return not_to_come(self.cleaned_data["on"], self.now)


class StandingForm(PlainSentences, forms.Form):
    kind = forms.ChoiceField(label="What becomes of it", widget=forms.RadioSelect)
    on = forms.DateField(label="On", widget=DayInput())
    reason = forms.CharField(label="Why", max_length=300)

    LABELS = {
        Standing.Kind.WITHDRAWN: "Withdraw it: it is lent no more, its number stays its own",
        Standing.Kind.KEPT_AGAIN: "Keep it again",
        Standing.Kind.NOT_FOUND: "It cannot be found",
        Standing.Kind.FOUND: "It is found",
    }

    def __init__(self, *args: Any, horn: Horn, now: datetime, **kwargs: Any) -> None:
        self.now = now
        kwargs.setdefault("initial", {"on": timezone.localdate(now)})
        super().__init__(*args, **kwargs)
        choices = [(kind.value, self.LABELS[kind]) for kind in standings_open_to(horn)]
        cast(forms.ChoiceField, self.fields["kind"]).choices = choices

    def clean_on(self) -> date:
        return not_to_come(self.cleaned_data["on"], self.now)


def not_to_come(day: date, now: datetime) -> date:
    if day > timezone.localdate(now):
        raise forms.ValidationError("This day has not come yet.")
    return not_too_long_ago(day)


def not_too_long_ago(day: date) -> date:
    if day.year < 1900:
        raise forms.ValidationError("This day is too long ago; check the year.")
    return day


class PhotographForm(PlainSentences, forms.Form):
    picture = forms.FileField(
        label="Picture",
        help_text="JPEG, PNG or WebP. The horn only: no pupils. Place and time hidden in the file are taken out.",
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    caption = forms.CharField(label="What it shows", max_length=120, required=False)

    fresh: tuple[ContentFile[bytes], int, int]

    def clean_picture(self) -> Any:
        upload = self.cleaned_data["picture"]
        self.fresh = redrawn(upload)
        return upload


class PlaceForm(PlainSentences, forms.ModelForm):
    class Meta:
        model = Place
        fields = ["room", "shelf"]
        help_texts = {"shelf": "Where there are several in the room."}

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        room, shelf = (" ".join(str(data.get(name) or "").split()) for name in ("room", "shelf"))
        same = Place.objects.filter(school=self.instance.school, room__iexact=room, shelf__iexact=shelf)
        if room and same.exclude(pk=self.instance.pk).exists():
            self.add_error("room", "There is already a place with this room and shelf.")
        return {**data, "room": room, "shelf": shelf}
