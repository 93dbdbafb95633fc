"""The questions that decide between what the four checks leave; two of them are measured, not judged."""

from __future__ import annotations

from collections.abc import Iterable
from typing import cast

from django.utils.functional import lazy
from django.utils.text import format_lazy

from identify.asked import DECIDE, MOUTHPIECE, WHICH_LEVER, Choice, Question, _s_lazy
from identify.core.horns.speech import figure
from identify.core.reasoning.evidence import BOTH_SIDES, MEASURED, NONE, ONE_SIDE

_SPAN = 20  # centimetres


def _steps(key: str) -> tuple[Choice, ...]:
    """What was measured, on buttons, with how many hands that is."""
    return tuple(Choice(answer, *_step(key, low, high)) for answer, (low, high) in MEASURED[key].items())


def spans(key: str, answers: Iterable[str]) -> list[str]:
    """Several answers to what was measured, in words: those that lie side by side as one."""
    found: list[list[int]] = []
    for low, high in sorted(MEASURED[key][answer] for answer in answers):
        if found and found[-1][1] + 1 == low:
            found[-1][1] = high
        else:
            found.append([low, high])
    return [str(_step(key, low, high)[0]) for low, high in found]


def _step(key: str, low: int, high: int) -> tuple[str, str]:
    steps = list(MEASURED[key].values())
    if low == steps[0][0]:
        return _of(_s_lazy("Up to {cm} cm"), cm=high), _of(_s_lazy("less than {hands}"), hands=_hands(high + 1))
    if high == steps[-1][1]:
        return _of(_s_lazy("{cm} cm and more"), cm=low), _of(_s_lazy("more than {hands}"), hands=_hands(low))
    about = _of(_s_lazy("about {hands}"), hands=_hands((low + high) / 2))
    return _of(_s_lazy("{low} to {high} cm"), low=low, high=high), about


def _hands(cm: float) -> str:
    hands = round(cm / _SPAN, 1)
    return _s_lazy("a hand") if hands == 1 else _of(_s_lazy("{spans} hands"), spans=lazy(figure, str)(hands))


def _of(sentence: str, **words: object) -> str:
    """The sentence filled in when it is shown, in the language of that page."""
    return cast(str, format_lazy(sentence, **words))


_WHICH_NOTE = _s_lazy("Which note is that? The pictures show the notes as written for horn in F.")
_STEPS_DOWN = (
    Choice("3", _s_lazy("A minor third"), _s_lazy("F down to D: 3 semitones"), "step-3"),
    Choice("5", _s_lazy("A fourth"), _s_lazy("F down to C: 5 semitones"), "step-5"),
    Choice("7", _s_lazy("A fifth"), _s_lazy("F down to B♭: 7 semitones"), "step-7"),
    Choice("12", _s_lazy("An octave"), _s_lazy("F down to F: 12 semitones"), "step-12"),
)
DECIDING = (
    Question(
        "step_down",
        DECIDE,
        _s_lazy("How far down is the next note?"),
        _s_lazy("Step down"),
        (
            _s_lazy(
                "Sound the test note again, thumb up. Keep the same fingers and slur down to the next note that speaks."
            ),
            _WHICH_NOTE,
        ),
        _STEPS_DOWN,
        care=MOUTHPIECE,
        bare=Question(
            "step_down",
            DECIDE,
            _s_lazy("How far down is the next note?"),
            _s_lazy("Step down"),
            (_s_lazy("Sound the test note again and slur down to the next note that speaks."), _WHICH_NOTE),
            _STEPS_DOWN,
            care=MOUTHPIECE,
        ),
    ),
    Question(
        "second_set",
        DECIDE,
        _s_lazy("How long is the second row of slides?"),
        _s_lazy("Second slide set"),
        (
            _s_lazy(
                "Start from the row that plays when the test note speaks with no finger down: the B♭ row, marked in "
                "the pictures. How long is the other row?"
            ),
            _s_lazy(
                "To find the B♭ row, hold the thumb lever as for that note, press a valve and pull its slide a little: "
                "on the row that plays, the note falls."
            ),
            _s_lazy("Compare by eye. Never force a slide that is stuck."),
        ),
        (
            Choice("longer", _s_lazy("Longer"), _s_lazy("about a third longer"), "sets-2-long"),
            Choice("shorter", _s_lazy("A little shorter"), _s_lazy("about a third shorter"), "sets-2-shorter"),
            Choice("much-shorter", _s_lazy("Much shorter"), _s_lazy("only a third as long"), "sets-2-short"),
            Choice("none", _s_lazy("There is no second row"), _s_lazy("one row only"), "sets-1"),
        ),
    ),
    Question(
        "thumb",
        DECIDE,
        _s_lazy("What does the thumb lever do?"),
        _s_lazy("Thumb lever"),
        (
            _s_lazy(
                "Hold a note and press the thumb lever; the other fingers stay as they are. Listen whether the note "
                "rises or falls."
            ),
            WHICH_LEVER,
        ),
        (
            Choice("raises", _s_lazy("The pitch goes up"), "", "thumb-raises"),
            Choice("lowers-little", _s_lazy("Down a little"), _s_lazy("about half a tone"), "thumb-lowers-little"),
            Choice("lowers-fourth", _s_lazy("Down a fourth"), _s_lazy("a good leap"), "thumb-lowers-fourth"),
            Choice("nothing", _s_lazy("Nothing"), _s_lazy("or there is no thumb lever")),
        ),
        "fingers",
        down="0",
        thumb="down",
        care=MOUTHPIECE,
    ),
    Question(
        "shared_row",
        DECIDE,
        _s_lazy("Do both sides blow through one row?"),
        _s_lazy("Shared row"),
        (
            _s_lazy(
                "Pull a slide of the longer row right out. Press its valve and blow gently, with the thumb up and with "
                "the lever down: when does air come out of the gap?"
            ),
            _s_lazy(
                "Press the valve while you pull, and while you put the slide back. Never force one that is stuck: then "
                "you can’t tell."
            ),
        ),
        (
            Choice(ONE_SIDE, _s_lazy("Only one way"), _s_lazy("thumb up or thumb down, not both")),
            Choice(BOTH_SIDES, _s_lazy("Both ways"), _s_lazy("thumb up and thumb down alike")),
        ),
        "horn",
        "slides",
        care=MOUTHPIECE,
    ),
    Question(
        "each_finger",
        DECIDE,
        _s_lazy("Does each finger lower the note?"),
        _s_lazy("Each finger"),
        (
            _s_lazy(
                "Hold an easy note, thumb up. Press one finger after another, each alone: does the note fall each time?"
            ),
            _s_lazy(
                "A valve that is stuck, or whose lever stays down when you let go, changes nothing; one that is strung "
                "the wrong way round raises the note. With its first valve stuck down a horn sounds like one in a "
                "lower key."
            ),
        ),
        (
            Choice(NONE, _s_lazy("Each one does"), _s_lazy("the note falls with every finger")),
            *(
                Choice(finger, words, _s_lazy("nothing changes, or the note rises"), "fingers", finger, "up")
                for finger, words in {
                    "1": _s_lazy("Not the first"),
                    "2": _s_lazy("Not the second"),
                    "3": _s_lazy("Not the third"),
                    "4": _s_lazy("Not the fourth"),
                }.items()
            ),
        ),
        "fingers",
        down="1",
        thumb="up",
        care=MOUTHPIECE,
    ),
    Question(
        "length",
        DECIDE,
        _s_lazy("How long is it?"),
        _s_lazy("Length"),
        (
            _of(
                _s_lazy(
                    "Stand the horn on its bell, without its mouthpiece, and measure straight up to its highest bow: "
                    "with a ruler, or with your spread hand, about {cm} cm."
                ),
                cm=_SPAN,
            ),
            _s_lazy(
                "From the thumb’s tip to the little finger’s, that is: measure yours once. A sheet of A4 is 29.7 cm "
                "long."
            ),
            _s_lazy(
                "Museums measure alike, from the plane of the bell to the far bow: a horn in F 41.3 cm, a double 41.9 "
                "cm. How much horns differ, and all other lengths, we know from memory."
            ),
        ),
        _steps("length"),
        "horn",
    ),
    Question(
        "width",
        DECIDE,
        _s_lazy("How wide is the bell?"),
        _s_lazy("Bell’s width"),
        (
            _of(
                _s_lazy(
                    "Measure straight across the mouth of the bell, from rim to rim: with a ruler, or with your spread "
                    "hand, about {cm} cm."
                ),
                cm=_SPAN,
            ),
            _s_lazy("Where the rim is bent, measure between two places that are not."),
            _s_lazy(
                "A trumpet’s is 11.5 to 12.5 cm wide, an alto horn’s in a museum 18.3, a Vienna horn’s 28.5. How much "
                "horns differ, and all other widths, we know from memory."
            ),
        ),
        _steps("width"),
        "horn",
    ),
)
