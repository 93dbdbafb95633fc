"""A row and the file it names: neither is kept without the other."""

from __future__ import annotations

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models.fields.files import FieldFile


def save_with(file: FieldFile, content: ContentFile[bytes]) -> None:
    """Keeps the content and saves the row of that field."""
    file.save(str(content.name), content, save=False)
    try:
        file.instance.save()
    except Exception:
        file.delete(save=False)
        raise


def delete_with(file: FieldFile) -> None:
    """Deletes the row of that field; the file goes once the row is really gone."""
    file.instance.delete()
    transaction.on_commit(lambda: file.delete(save=False))
