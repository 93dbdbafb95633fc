"""How Python marks a sentence that staff alone read: `_s` in a function, `_s_lazy` where a module is read.

Families have fewer sentences and more languages, so theirs are marked by the framework’s own names.
"""

from __future__ import annotations

from typing import cast

from django.utils.translation import gettext_lazy


def _s_lazy(sentence: str) -> str:
    """The sentence in the language that is spoken when it is shown."""
    return cast(str, gettext_lazy(sentence))
