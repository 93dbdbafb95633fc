"""The way from the register back to the test note."""

from __future__ import annotations

from urllib.parse import urlencode

from django.urls import reverse

from fleet.people.models import School
from fleet.register.models import Horn
from identify.core.hearing.kept_notes import FIELDS

# What a restringing changes: sounded and looked at anew, while what was seen of the rest still holds.
SOUNDED = ("test_note", "test_note_thumb", "step_down", "thumb", *FIELDS)


def sound_again(horn: Horn, school: School) -> str:
    """The walk for this horn at its test note, with what was seen of it before, which restringing left alone."""
    latest = horn.identifications.order_by("-at", "-pk").first()
    seen = {key: value for key, value in (latest.observations if latest else {}).items() if key not in SOUNDED}
    return (
        reverse("identify:walk", args=(school.slug,)) + "?" + urlencode({**seen, "horn": horn.pk, "step": SOUNDED[0]})
    )
