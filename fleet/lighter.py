"""Leaves out what would go over the wire for nobody: the indentation of pages and drawings, a twelfth of them, and the
comments of styles and scripts, a sixth.

Lines of templates stay lines, so that words stay apart and a mistake is named at its line. Letters keep each space of
theirs.
"""

from __future__ import annotations

import re
from typing import Any

from django.core.files.base import ContentFile
from django.template import Origin
from django.template.loaders import filesystem
from whitenoise.storage import CompressedManifestStaticFilesStorage

INDENTED = re.compile(r"\n[ \t]+")
# Each on lines of its own: behind code it might be none, but words.
COMMENT = re.compile(r"^[ \t]*(?:/\*(?:[^*]|\*(?!/))*\*/[ \t]*|//[^\n]*)\n", re.MULTILINE)
# Those of libraries say under which licence they are.
OURS = re.compile(r"(?:fleet|identify)/[^/]+\.(?:css|js)")


class Loader(filesystem.Loader):
    def get_contents(self, origin: Origin) -> str:
        written = super().get_contents(origin)
        return INDENTED.sub("\n", written) if origin.name.endswith((".html", ".svg")) else written


class Gathered(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    def _save(self, name: str, content: Any) -> str:
        if OURS.fullmatch(name.replace("\\", "/")):
            content.seek(0)
            content = ContentFile(COMMENT.sub("", content.read().decode()).encode())
        return str(super()._save(name, content))
