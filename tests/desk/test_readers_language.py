"""What is drawn once and kept for the next reader is told in the language of that reader."""

from __future__ import annotations

import pytest
from django.utils.translation import override

from fleet.register.models import Horn
from fleet.register.pages.badges import grade_badge
from identify.core.drawing.engraving import engraved
from identify.core.horns.catalogue import catalogue

BUILD = catalogue()["single-f"]


@pytest.mark.parametrize("grade", Horn.Grade.values)
def test_a_grade_is_told_in_each_readers_language(grade: int) -> None:
    told = []
    for language in ("en-gb", "fr", "en-gb"):
        with override(language):
            told.append(grade_badge(grade))
            assert str(Horn.Grade(grade).label) in told[-1]

    assert told[0] == told[2] != told[1]


def test_a_chart_is_told_in_each_readers_language() -> None:
    told = []
    for language in ("de", "en-gb", "de"):
        with override(language):
            told.append(engraved(BUILD, BUILD.stands[0], "octave"))

    assert [one.title.partition(":")[0] for one in told] == ["Grifftabelle", "Fingering chart", "Grifftabelle"]
    assert told[0].marks is told[1].marks, "the notes are engraved once"
