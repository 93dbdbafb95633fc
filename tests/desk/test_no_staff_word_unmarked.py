"""Every page and print of a school, in a language made up for the test: what is not turned into signs is not marked.

What stands in a row may be told as it was typed. The file beside this one names the pages with words that are not
marked yet: it may only shrink
(HORN_UNMARKED=keep writes it anew).
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import models

from fleet.ground.access import Role
from fleet.ground.languages.known import KNOWN
from identify.core.horns.catalogue import catalogue
from identify.core.horns.note_names import named
from identify.core.horns.pitch import name_of, other_spelling
from tests import make
from tests.browser.test_every_page import NOT_PAGES
from tests.desk.test_no_word_unmarked import speak_made_up, told, unmarked
from tests.gates import catalogues
from tests.test_two_schools import THEIRS, Walk, build, readable, words

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]

# The same in whichever language the page is.
OF_ANOTHER_LANGUAGE = re.compile(r'<(a|p|select)\b[^>]* lang="(?!de)\w+"[^>]*>.*?</\1>', re.DOTALL)
PLACEHOLDER = re.compile(r"\{\w+\}")
STILL_TO_DO = Path(__file__).with_suffix(".txt")


def words_of_rows() -> set[str]:
    """Every word that stands in a row, and so was typed by somebody or is kept as it is."""
    # Where our descriptions come from: names of museums and writers; what languages call themselves; German notes.
    notes = [one for midi in range(24, 96) for one in (name_of(midi), other_spelling(name_of(midi)))]
    same = (*(build.source for build in catalogue().values()), *(one.name for one in KNOWN.values()))
    same = (*same, *(named(note, "de") for note in notes))
    found = {word for words in same for word in re.findall(r"[A-Za-z]{2,}", words)}
    for model in apps.get_models():
        names = [
            one.attname
            for one in model._meta.concrete_fields
            if isinstance(one, models.CharField | models.TextField | models.JSONField) and not one.choices
        ]
        for row in model._default_manager.values_list(*names) if names else ():
            found.update(word for value in row for word in re.findall(r"[A-Za-z]{2,}", str(value)))
    return found


def unmarked_in(answer: str) -> list[str]:
    if answer.startswith("%PDF"):
        return unmarked(words(answer))
    return told(PLACEHOLDER.sub("", OF_ANOTHER_LANGUAGE.sub("", answer))) if "<main" in answer else []


def test_no_page_of_a_school_has_an_unmarked_word_but_those_still_to_do(tmp_path: Path, settings: Any, monkeypatch):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    speak_made_up(tmp_path / "locale", settings, catalogues.marked, catalogues.marked_for_staff)
    world = build(THEIRS)
    head = world.people[Role.HEAD]
    type(world.school).objects.filter(pk=world.school.pk).update(language="de", staff_languages=["de"])
    type(head).objects.filter(pk=head.pk).update(language="de")
    as_typed = words_of_rows()

    pages = [name for name in readable(Role.HEAD) if name not in NOT_PAGES or name.startswith("reports:")]
    seen = Walk(world, head).begin(pages, on=False).seen
    found = {
        name for name, answers in seen.items() for answer in answers.values() if set(unmarked_in(answer)) - as_typed
    }

    if os.environ.get("HORN_UNMARKED") == "keep":
        STILL_TO_DO.write_text("".join(f"{name}\n" for name in sorted(found)), encoding="utf-8")

    assert sorted(found) == STILL_TO_DO.read_text(encoding="utf-8").split()
