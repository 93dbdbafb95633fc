"""A place where horns are kept: room and shelf."""

from __future__ import annotations

from typing import Any

from fleet.ground.sentences import PlainSentences
from fleet.ground.typed import RowForm
from fleet.register.models import Place


class PlaceForm(PlainSentences, RowForm[Place]):
    class Meta:
        model = Place
        fields = ["room", "shelf"]
        help_texts = {"shelf": "Where there are several in the room."}

    def clean(self) -> dict[str, Any]:
        super().clean()
        data: dict[str, Any] = self.cleaned_data
        room, shelf = (" ".join(str(data.get(name) or "").split()) for name in ("room", "shelf"))
        same = Place.objects.filter(school=self.instance.school, room__iexact=room, shelf__iexact=shelf)
        if room and same.exclude(pk=self.instance.pk).exists():
            self.add_error("room", "There is already a place with this room and shelf.")
        return {**data, "room": room, "shelf": shelf}
