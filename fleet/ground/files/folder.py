"""The usual place of pictures and papers: a folder among the site's data."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.files.storage import FileSystemStorage, Storage, default_storage

# What is half written ends so.
DRAFT = ".part"


class Folder(FileSystemStorage):
    """A file stands under its name once it is whole, as in a store that is shared."""

    def _save(self, name: str, content: Any) -> str:
        whole = Path(self.path(name))
        draft = whole.with_name(f".{whole.name}{DRAFT}")
        draft.unlink(missing_ok=True)
        try:
            super()._save(str(draft.relative_to(self.location)), content)  # type: ignore[misc]
            # No two files are given one name: those of uploads are drawn by lot.
            draft.replace(whole)
        finally:
            draft.unlink(missing_ok=True)
        return name


def all_kept(folder: str = "", store: Storage = default_storage) -> Iterator[str]:
    """The names of all that lies there, whatever the store is, and of what is half written."""
    try:
        folders, files = store.listdir(folder)
    except FileNotFoundError:
        return
    yield from (f"{folder}{name}" for name in sorted(files))
    for name in sorted(folders):
        yield from all_kept(f"{folder}{name}/", store)
