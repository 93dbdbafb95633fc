"""What families read stays as easy to read as it is."""

from __future__ import annotations

import pytest

from fleet.ground.languages.known import KNOWN
from tests.gates.reading import EASE, WORD, measured, of_families, syllables, years

# Of a hundred; from 60 on a text counts as plain, from 80 on as easy (Flesch; Amstad's German runs lower).
AT_LEAST = {"en-gb": 90, "de": 72, "fr": 88, "es": 83, "tr": 78}
LONGEST = 26


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en-gb", {"horn": 1, "mouthpiece": 2, "looked": 1, "carried": 2, "valves": 1, "the": 1, "agreement": 3}),
        ("de", {"Horn": 1, "Mundstück": 2, "Ventile": 3, "neu": 1, "Säule": 2, "Familie": 3}),
        ("fr", {"cor": 1, "étui": 2, "école": 2, "jouent": 1, "rapporté": 3, "eau": 1}),
        ("es", {"trompa": 2, "día": 2, "aéreo": 4, "cuidamos": 3, "agua": 2}),
        ("pl", {"waltornia": 3, "dziecko": 2, "nie": 1, "szkoły": 2, "futerał": 3}),
        ("tr", {"korno": 2, "okul": 2, "öğretmene": 4, "saat": 2}),
    ],
)
def test_syllables_are_counted_as_they_are_spoken(language: str, words: dict[str, int]):
    assert {word: syllables(word, language) for word in words} == words


def test_a_sentence_is_what_ends_like_one_and_has_four_words():
    of = measured(["Take %(horn)s home. Yes. Bring it back on 3. May, please.", "Not a sentence at all"], "en-gb")

    assert of.words == 6
    assert len(of.sentences) == 1


@pytest.mark.parametrize("language", sorted(KNOWN))
def test_families_read_plain_words_in_short_sentences(language: str):
    of = of_families(language)

    assert len(of.sentences) > 300
    assert [one for one in of.longest[:20] if len(WORD.findall(one)) > LONGEST] == []
    assert of.words < 10
    if language in EASE:
        assert EASE[language](of) > AT_LEAST[language]
    if language == "pl":
        # Six and a half years at school: a child of thirteen reads it.
        assert years(of) < 7
