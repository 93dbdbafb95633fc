"""Ways from the register to other pages: out of a refusal, and back to the test note."""

from __future__ import annotations

from urllib.parse import urlencode

from django.urls import reverse

from fleet.ground.refusal import Refused
from fleet.people.models import School
from fleet.register.models import Horn
from identify.core.hearing.kept_notes import FIELDS

# What a restringing changes: sounded and looked at anew, while what was seen of the rest still holds.
SOUNDED = ("test_note", "test_note_thumb", "step_down", "thumb", *FIELDS)


def way_out(refused: Refused | None, horn: Horn, school: School) -> str:
    """The address that removes the reason of a refusal, or "" where there is none."""
    if refused is None or refused.way_out is None:
        return ""
    name = refused.way_out[0]
    if name == "identify:walk":
        return reverse(name, args=(school.slug,)) + f"?horn={horn.pk}"
    return reverse(name, args=(school.slug, horn.pk))


def sound_again(horn: Horn, school: School) -> str:
    """The walk for this horn at its test note, with what was seen of it before, which restringing left alone."""
    latest = horn.identifications.order_by("-at", "-pk").first()
    seen = {key: value for key, value in (latest.observations if latest else {}).items() if key not in SOUNDED}
    return (
        reverse("identify:walk", args=(school.slug,)) + "?" + urlencode({**seen, "horn": horn.pk, "step": SOUNDED[0]})
    )
