"""Words of lists and what they most probably mean: names from common practice, no source."""

from __future__ import annotations

import pytest

from fleet.register.models.describing import in_a_sentence, suggested
from fleet.register.models.kinds import build_of


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ("double F/Bb", "double-full"),
        ("Double Horn in F/B♭", "double-full"),
        ("Doppelhorn F/B", "double-full"),
        ("cor double fa/sib", "double-full"),
        ("full double", "double-full"),
        ("compensating double", "double-compensating"),
        ("Doppelhorn kompensiert", "double-compensating"),
        ("F/Bb", "double-full"),
        ("single F", "single-f"),
        ("Einfachhorn in B", "single-bb"),
        ("single Bb", "single-bb"),
        ("B flat single horn, stopping valve", "single-bb-stopping"),
        ("compact single", "compact-f"),
        ("compact double", "compact-double-full"),
        ("Kinder-Doppelhorn", "compact-double-full"),
        ("compact compensating double", "compact-double-compensating"),
        ("Vienna double horn", "vienna-double"),
        ("Wiener Horn F/B", "vienna-double"),
        ("trumpet", "trumpet-bb"),
        ("Kornett in B", "trumpet-bb"),
        ("Kinderhorn B", "compact-bb"),
        ("Bb compact", "compact-bb"),
        ("mellophone", "mellophone-f"),
        ("Marching Mellophone", "marching-mellophone-f"),
        ("Eb mellophone", "mellophone-eb"),
        ("descant Bb/high F", "descant-bb-high-f"),
        ("Diskanthorn", "descant-bb-high-f"),
        ("Bb/high F", "descant-bb-high-f"),
        ("high F horn", "single-high-f"),
        ("Triple horn", "triple-full"),
        ("Wiener Horn", "vienna-f"),
        ("natural horn", "natural-horn"),
        ("Wagner tuba tenor", "wagner-tenor-bb"),
        ("Althorn in Es", "alto-horn-eb"),
        ("Flügelhorn", "flugelhorn-bb"),
        ("baritone", "baritone-bb"),
        ("Tenorhorn", "baritone-bb"),
        ("tenor horn", "alto-horn-eb"),
        ("mellophonium", "mellophonium-f"),
        ("trompe de chasse in D", "hunting-horn-d"),
        ("Parforcehorn in Es", "hunting-horn-eb"),
        ("Parforcehorn", "hunting-horn-eb"),
        ("Parforcehorn in B", "hunting-horn-bb"),
        ("hunting horn", "post-horn-bb"),
        ("Posthorn", "post-horn-bb"),
        ("bugle", "flugelhorn-bb"),
        ("bugle in G", "bugle-g"),
        ("mellophone bugle in G", "mellophone-bugle-g"),
        ("marching horn in G", "marching-horn-g"),
        ("marching horn in Bb", "marching-horn-bb"),
        ("single F with stopping valve", "single-f-stopping"),
        ("compact Bb with stopping valve", "compact-bb-stopping"),
        ("marching French horn Bb", "marching-horn-bb"),
        ("piston F horn", "piston-single-f"),
        ("descant Bb and high Eb", "descant-bb-high-eb"),
        ("descant horn Bb / high F with stopping valve", "descant-bb-high-f-stopping"),
        ("single Bb with stopping valve", "single-bb-stopping"),
        ("single Bb, stopping valve and F extension", "single-bb-stopping-f-extension"),
        ("single Bb horn with F extension", "single-bb-f-extension"),
        ("single F horn with Eb slide", "single-f-eb"),
        ("compensating double with stopping valve", "double-compensating-stopping"),
        ("full triple", "triple-full"),
        ("compensating triple", "triple-compensating"),
        ("Wagner tuba, double", "wagner-double"),
        ("Wagner tuba bass F", "wagner-bass-f"),
        ("marching mellophone in G", "marching-mellophone-g"),
        ("marching mellophone", "marching-mellophone-f"),
        ("mellophone in Eb", "mellophone-eb"),
        ("alto horn in F", "alto-horn-f"),
        ("compact single Bb", "compact-bb"),
    ],
)
def test_the_likeliest_build_comes_first(words, code):
    assert build_of(code) is not None, "the catalogue has it"
    assert [build.code for build in suggested(words)][:1] == [code]


@pytest.mark.parametrize("words", ["", "horn", "the old one", "Waldhorn", "no. 7"])
def test_words_that_say_too_little_suggest_nothing(words):
    assert suggested(words) == ()
    assert in_a_sentence(words) == ""
