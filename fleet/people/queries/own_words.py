"""In which words a school speaks to its families: its own where it gave any, else ours."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256

from django.utils.translation import override

from fleet.ground.languages.own import NONE, PLACEHOLDER, Words, in_words, texts, wrong_with
from fleet.people.models import OwnWords, School


@contextmanager
def speaking(school: School, language: str) -> Iterator[None]:
    """To a family of this school, in this language."""
    with override(language), in_words(words_of(school)):
        yield


def words_of(school: School) -> Words:
    """A query where they changed since they were last asked for, and none at a school that has none."""
    return _read(school.pk, school.own_words_mark) if school.own_words_mark else NONE


@lru_cache(maxsize=500)
def _read(school: int, _: str) -> Words:
    """What no longer fits ours, as after the site was brought up to date, is left out."""
    rows = OwnWords.objects.filter(school=school).values_list("language", "text", "form", "said")
    found: dict[tuple[str, str, str], str] = {}
    for language, text, form, said in rows:
        forms = texts(language).get(text, ())
        if form < len(forms) and not wrong_with(forms[form], said):
            found[language, text, forms[form]] = said
    return found


@dataclass(frozen=True, slots=True)
class Sentence:
    """A text with our words for it in a language and the school's own: for each form "" where it has none."""

    text: str
    ours: tuple[str, ...]
    own: tuple[str, ...]

    @property
    def key(self) -> str:
        return key_of(self.text)

    @property
    def filled_in(self) -> list[str]:
        """What the site puts in, as it stands in the text: `%(horn)s`."""
        return sorted({one for ours in self.ours for one in PLACEHOLDER.findall(ours)})

    @property
    def shown(self) -> str:
        return " / ".join(own or ours for ours, own in zip(self.ours, self.own, strict=True))


def key_of(text: str) -> str:
    """What an address calls it."""
    return sha256(text.encode()).hexdigest()[:16]


def sentences(school: School, language: str) -> list[Sentence]:
    """All of them, in the order of our catalogue. One query."""
    own: dict[str, dict[int, str]] = {}
    for text, form, said in OwnWords.objects.filter(school=school, language=language).values_list(
        "text", "form", "said"
    ):
        own.setdefault(text, {})[form] = said
    return [
        Sentence(text, ours, tuple(own.get(text, {}).get(form, "") for form in range(len(ours))))
        for text, ours in texts(language).items()
    ]
