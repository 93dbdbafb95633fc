"""A place where horns are kept: room and shelf."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _s

from fleet.ground.addresses import MOST_KEY
from fleet.ground.fields import KeptForm, tick_after
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.ground.wording import closest
from fleet.people.forms.one_of_many import RowField, asked_for
from fleet.people.models import School
from fleet.register.models import Horn, Place


class PlaceForm(PlainSentences, RowForm[Place]):
    class Meta:
        model = Place
        fields = ["room", "shelf"]
        labels = {"room": _s_lazy("Room"), "shelf": _s_lazy("Shelf")}
        help_texts = {"shelf": _s_lazy("Where there are several in the room.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._ask_of_close()

    def _ask_of_close(self) -> None:
        """A place that is new and close to one that is there needs a tick."""
        typed = Place(**{name: " ".join(str(self.data.get(name) or "").split()) for name in ("room", "shelf")})
        if not typed.room or str(typed) == str(self.instance):
            return
        others = Place.objects.filter(school=self.instance.school).exclude(pk=self.instance.pk)
        known: dict[tuple[str, ...], Place] = {(one.room, one.shelf): one for one in others}
        near = known.get(closest((typed.room, typed.shelf), list(known)) or ("", ""))
        # The very same is no question.
        if near is not None and str(typed).lower() not in {str(one).lower() for one in known.values()}:
            tick_after(
                self,
                "shelf",
                "another",
                _s("%(typed)s is another place than %(near)s") % {"typed": typed, "near": near},
                str(near),
            )

    def clean(self) -> dict[str, Any]:
        super().clean()
        data: dict[str, Any] = self.cleaned_data
        data.pop("another", None)
        room, shelf = (" ".join(str(data.get(name) or "").split()) for name in ("room", "shelf"))
        same = Place.objects.filter(school=self.instance.school, room__iexact=room, shelf__iexact=shelf)
        if room and same.exclude(pk=self.instance.pk).exists():
            self.add_error("room", _s("There is already a place with this room and shelf."))
        elif room and (alike := self._reads_the_same(f"{Place(room=room, shelf=shelf)}")):
            said = (
                _s("Another place reads the same: room “%(room)s”, shelf “%(shelf)s”.")
                if alike.shelf
                else _s("Another place reads the same: room “%(room)s”.")
            )
            self.add_error("room", said % {"room": alike.room, "shelf": alike.shelf})
        return {**data, "room": room, "shelf": shelf}

    def _reads_the_same(self, shown: str) -> Place | None:
        """Another place that is told from this one by nothing a list shows: `Store, top` as a room, and as room and
        shelf."""
        others = Place.objects.filter(school=self.instance.school).exclude(pk=self.instance.pk)
        return next((other for other in others if str(other).lower() == shown.lower()), None)


class SamePlaceForm(PlainSentences, forms.Form):
    """Which other place is the same one."""

    into = RowField(label=_s_lazy("The place that stays"), queryset=Place.objects.none())

    def __init__(self, *args: Any, place: Place, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = Place.objects.filter(school=place.school).exclude(pk=place.pk)
        self.fields["into"].queryset = others  # type: ignore[attr-defined]


class OnePlaceForm(PlainSentences, forms.Form):
    """The place that an address asks for, if it asks for any."""

    place = RowField(queryset=Place.objects.none(), required=False)

    def __init__(self, said: QueryDict, *, school: School, label: str, empty: str | None) -> None:
        super().__init__(asked_for("place", said))
        field: Any = self.fields["place"]
        field.queryset, field.label, field.empty_label = Place.objects.filter(school=school), label, empty


class HornPlaceForm(PlainSentences, KeptForm):
    """Where a horn belongs. `seen` is where it belonged when the page was opened."""

    place = RowField(
        label=_s_lazy("It belongs to"), queryset=Place.objects.none(), required=False, empty_label=_s_lazy("no place")
    )
    seen = forms.IntegerField(required=False, min_value=0, max_value=MOST_KEY, widget=forms.HiddenInput)

    def __init__(self, *args: Any, horn: Horn, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"place": horn.place_id, "seen": horn.place_id})
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = Place.objects.filter(school=horn.school_id)  # type: ignore[attr-defined]

    @property
    def said(self) -> dict[str, Any]:
        """What setting it takes: place, seen, waited."""
        given = self.cleaned_data
        return {"place": given["place"], "seen": given["seen"], "waited": self.waited}
