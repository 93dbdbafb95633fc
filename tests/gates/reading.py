"""How easily what families read is read, in each language that has a formula for it.

    python -m tests.gates.reading    says each figure and the ten longest sentences of each language

All are of the same kind: long sentences and long words tire. Syllables are counted by the letters that make them, which
errs by a few in a hundred, so a figure tells the languages of the site apart and its versions, not two sentences. For
Ukrainian and Arabic no formula has a standing like these (Arabic would want its short vowels written): there only the
length of sentences is held.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass

# Words after which a dot ends no sentence.
SHORT = re.compile(r"\b(?:z\. ?B|d\. ?h|e\. ?g|p\. ?ej|np|örn|ör|т\. ?д|\d+|[A-ZА-ЯÀ-Ý])\.(?=\s)")
FILLED_IN = re.compile(r"%\(\w+\)[sd]|\{\w+\}")
TAG = re.compile(r"<[^<>]*>|&\w+;|[\u2066-\u2069]")
WORD = re.compile(r"[^\W\d_]+(?:['’ʼ-][^\W\d_]+)*")
END = re.compile(r"(?<=[.!?؟:;])\s+|\n+|\s[–—]\s")


@dataclass(frozen=True)
class Measured:
    """`words` a sentence, `syllables` a word, words of four syllables and more in a hundred, the sentences."""

    words: float
    syllables: float
    hard: float
    sentences: tuple[str, ...]

    @property
    def longest(self) -> list[str]:
        return sorted(self.sentences, key=lambda one: -len(WORD.findall(one)))


# Groups of letters that are one syllable. `y` is a vowel but in Spanish and Turkish.
VOWELS = {
    "en-gb": r"[aeiouy]+",
    "de": r"aa|ee|oo|ie|ei|ai|au|eu|äu|[aeiouyäöü]",
    "fr": r"eau|[aeiouyàâäéèêëîïôöùûüœ]+",
    "es": r"[iuü]?[aeoáéó][iu]?|[íú]|[iuü]+",
    "pl": r"i[aeouóąę]|[aeiouyóąę]",
    "tr": r"[aeıioöuüâîû]",
    "uk": r"[аеєиіїоуюя]",
}
# At the end and not heard.
SILENT = {"en-gb": re.compile(r"(?<=[^aeiouyl])(?:e|es|ed)$"), "fr": re.compile(r"(?<=[^aeiouyéèê])(?:e|es|ent)$")}


def syllables(word: str, language: str) -> int:
    small = word.casefold()
    heard = SILENT[language].sub("", small) if language in SILENT else small
    return len(re.findall(VOWELS[language], heard)) or 1


def measured(texts: list[str], language: str) -> Measured:
    """Of texts that hold a sentence: what ends like one, and has four words."""
    found = []
    for text in texts:
        bare = SHORT.sub(lambda at: at[0][:-1], TAG.sub("", FILLED_IN.sub("Horn", text)))
        if re.search(r"[.!?؟]\s*$", bare):
            found += [one for one in END.split(bare) if len(WORD.findall(one)) > 3]
    words = [word for one in found for word in WORD.findall(one)]
    long = [syllables(word, language) for word in words] if language in VOWELS else [0] * len(words)
    many = len(words)
    return Measured(many / len(found), sum(long) / many, 100 * sum(n > 3 for n in long) / many, tuple(found))


# Each with whose it is. That these are the formulas in use for English, German, Spanish and French says the manual of
# the R package koRpus ("flesch"), for Turkish E. Ateşman in Dil Dergisi 58 (1997), 71–74; the numbers from memory.
EASE: dict[str, Callable[[Measured], float]] = {
    "en-gb": lambda of: 206.835 - 1.015 * of.words - 84.6 * of.syllables,  # Flesch 1948
    "de": lambda of: 180 - of.words - 58.5 * of.syllables,  # Amstad 1978
    "es": lambda of: 206.835 - 1.02 * of.words - 60 * of.syllables,  # Fernández Huerta 1959
    "fr": lambda of: 207 - 1.015 * of.words - 73.6 * of.syllables,  # Kandel and Moles 1958
    "tr": lambda of: 198.825 - 2.61 * of.words - 40.175 * of.syllables,  # Ateşman 1997
}


def years(of: Measured) -> float:
    """Of school, after which a Polish text is read with ease: Gunning's, with words of four syllables for hard ones, as
    FOG-PL of the university of Wrocław reckons (its numbers from memory)."""
    return 0.4 * (of.words + of.hard)


def of_families(language: str) -> Measured:
    """All but the agreement: what was signed keeps its words."""
    from fleet.ground.languages.own import texts
    from fleet.lending.queries.agreements import FIRST_WORDS

    return measured([one for text, forms in texts(language).items() if text != FIRST_WORDS for one in forms], language)


def main() -> None:
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
    django.setup()
    from fleet.ground.languages.known import KNOWN

    for language in KNOWN:
        of = of_families(language)
        said = [f"{language}: {len(of.sentences)} sentences", f"{of.words:.1f} words each"]
        if language in EASE:
            said.append(f"ease {EASE[language](of):.0f}")
        if language == "pl":
            said.append(f"{years(of):.1f} years of school")
        print(", ".join(said))
        for one in of.longest[:10]:
            print(f"  {len(WORD.findall(one)):3d}  {one}")


if __name__ == "__main__":
    main()
