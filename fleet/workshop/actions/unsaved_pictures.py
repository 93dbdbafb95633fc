"""Pictures of a check that could not be saved yet: kept beside the form, so that nobody has to take them twice.

A browser empties its file boxes whenever a form comes back. The pictures that were good wait in a folder nobody
can read from outside; the form carries their names, signed for this person and this horn.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.core import signing
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from fleet.people.models import User
from fleet.register.models import Horn
from fleet.workshop.actions.checking import Found, PictureTaken

FOLDER = "checks-unsaved"
KEPT_FOR = timedelta(days=1)


def keep(pictures: Iterable[PictureTaken], *, horn: Horn, by: User, now: datetime) -> list[str]:
    """Puts pictures by and gives the words by which the form names them."""
    _clear_old(now)
    names = []
    for picture in pictures:
        picture.image.seek(0)
        name = default_storage.save(f"{FOLDER}/{picture.image.name}", picture.image)
        facts = [name, picture.width, picture.height, picture.caption, picture.fault]
        names.append(signing.dumps(facts, salt=_salt(horn, by)))
    return names


def fetch(names: Iterable[str], *, horn: Horn, by: User, found: Iterable[Found]) -> list[PictureTaken]:
    """The pictures of those names. Names that are not this person's and this horn's, or too old, give none; one of a
    fault that is not among `found` any more shows the horn."""
    faults = {one.fault for one in found}
    pictures = []
    for signed in names:
        try:
            name, width, height, caption, fault = signing.loads(signed, salt=_salt(horn, by), max_age=KEPT_FOR)
            with default_storage.open(name) as file:
                image = ContentFile(file.read(), name=name.rpartition("/")[2])
        except (signing.BadSignature, OSError, ValueError):
            continue
        pictures.append(PictureTaken(image, width, height, caption, fault if fault in faults else ""))
    return pictures


def forget(names: Iterable[str], *, horn: Horn, by: User) -> None:
    """Throws the waiting copies away once the check has its own."""
    for signed in names:
        try:
            name = signing.loads(signed, salt=_salt(horn, by))[0]
        except signing.BadSignature:
            continue
        default_storage.delete(name)


def _salt(horn: Horn, by: User) -> str:
    return f"unsaved check picture {horn.pk} {by.pk}"


def _clear_old(now: datetime) -> None:
    try:
        _, files = default_storage.listdir(FOLDER)
    except FileNotFoundError:
        return
    for file in files:
        name = f"{FOLDER}/{file}"
        try:
            if default_storage.get_modified_time(name) < now - KEPT_FOR:
                default_storage.delete(name)
        except FileNotFoundError:
            continue
