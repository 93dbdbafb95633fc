"""A pupil's new name reaches the horn in their hands.

Horns keep their holder's name so that lists need no query a row. The people's slice knows no horns, so the
name travels from here when a pupil is saved.
"""

from __future__ import annotations

from typing import Any

from fleet.people.models import Pupil
from fleet.register.models import Horn


def take_new_name(sender: type[Pupil], instance: Pupil, created: bool, **kwargs: Any) -> None:
    if created:
        return
    out = Horn.objects.filter(loans__pupil=instance, loans__returned_on=None).exclude(holder_name=instance.name)
    for horn in out:
        horn.holder_name = instance.name
        horn.save(update_fields=["holder_name"])
