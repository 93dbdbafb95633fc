"""Reads the templates of pages and drawings without their indentation: a twelfth of what goes over the wire, and
nothing to anybody there.

Lines stay lines, so that words stay apart and a mistake is named at its line. Letters keep each space of theirs.
"""

from __future__ import annotations

import re

from django.template import Origin
from django.template.loaders import filesystem

INDENTED = re.compile(r"\n[ \t]+")


class Loader(filesystem.Loader):
    def get_contents(self, origin: Origin) -> str:
        written = super().get_contents(origin)
        return INDENTED.sub("\n", written) if origin.name.endswith((".html", ".svg")) else written
