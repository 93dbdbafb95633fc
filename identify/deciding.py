"""The questions that decide between what the four checks leave; two of them are measured, not judged."""

from __future__ import annotations

from identify.asked import MOUTHPIECE, WHICH_LEVER, Choice, Question
from identify.core.reasoning.evidence import BOTH_SIDES, MEASURED, NONE, ONE_SIDE

_SPAN = 20  # centimetres


def _steps(key: str) -> tuple[Choice, ...]:
    """What was measured, on buttons, with how many hands that is."""
    steps = list(MEASURED[key].values())
    return tuple(
        Choice(answer, *_step(low, high, low == steps[0][0], high == steps[-1][1]))
        for answer, (low, high) in MEASURED[key].items()
    )


def _step(low: int, high: int, first: bool, last: bool) -> tuple[str, str]:
    if first:
        return f"Up to {high} cm", f"less than {_hands(high + 1)}"
    if last:
        return f"{low} cm and more", f"more than {_hands(low)}"
    return f"{low} to {high} cm", f"about {_hands((low + high) / 2)}"


def _hands(cm: float) -> str:
    return "a hand" if f"{cm / _SPAN:.1f}" == "1.0" else f"{cm / _SPAN:.1f} hands"


DECIDING = (
    Question(
        "step_down",
        "Decide",
        "How far down is the next note?",
        "Step down",
        (
            "Sound the test note again, thumb up. Keep the same fingers and slur down to the next note that speaks.",
            "Which note is that? The pictures show the notes as written for horn in F.",
        ),
        (
            Choice("3", "A minor third", "F down to D: 3 semitones", "step-3"),
            Choice("5", "A fourth", "F down to C: 5 semitones", "step-5"),
            Choice("7", "A fifth", "F down to B♭: 7 semitones", "step-7"),
            Choice("12", "An octave", "F down to F: 12 semitones", "step-12"),
        ),
        care=MOUTHPIECE,
    ),
    Question(
        "second_set",
        "Decide",
        "How long is the second row of slides?",
        "Second slide set",
        (
            "Start from the row that plays when the test note speaks with no finger down: the B♭ row, marked in the "
            "pictures. How long is the other row?",
            "To find the B♭ row, hold the thumb lever as for that note, press a valve and pull its slide a little: "
            "on the row that plays, the note falls.",
            "Compare by eye. Never force a slide that is stuck.",
        ),
        (
            Choice("longer", "Longer", "about a third longer", "sets-2-long"),
            Choice("shorter", "A little shorter", "about a third shorter", "sets-2-shorter"),
            Choice("much-shorter", "Much shorter", "only a third as long", "sets-2-short"),
            Choice("none", "There is no second row", "one row only", "sets-1"),
        ),
    ),
    Question(
        "thumb",
        "Decide",
        "What does the thumb lever do?",
        "Thumb lever",
        (
            "Hold a note and press the thumb lever; the other fingers stay as they are. Listen whether the note "
            "rises or falls.",
            WHICH_LEVER,
        ),
        (
            Choice("raises", "The pitch goes up", "", "thumb-raises"),
            Choice("lowers-little", "Down a little", "about half a tone", "thumb-lowers-little"),
            Choice("lowers-fourth", "Down a fourth", "a good leap", "thumb-lowers-fourth"),
            Choice("nothing", "Nothing", "or there is no thumb lever"),
        ),
        "fingers",
        down="0",
        thumb="down",
        care=MOUTHPIECE,
    ),
    Question(
        "shared_row",
        "Decide",
        "Do both sides blow through one row?",
        "Shared row",
        (
            "Pull a slide of the longer row right out. Press its valve and blow gently, with the thumb up and with the "
            "lever down: when does air come out of the gap?",
            "Press the valve while you pull, and while you put the slide back. Never force one that is stuck: "
            "then you can’t tell.",
        ),
        (
            Choice(ONE_SIDE, "Only one way", "thumb up or thumb down, not both"),
            Choice(BOTH_SIDES, "Both ways", "thumb up and thumb down alike"),
        ),
        "horn",
        "slides",
        care=MOUTHPIECE,
    ),
    Question(
        "each_finger",
        "Decide",
        "Does each finger lower the note?",
        "Each finger",
        (
            "Hold an easy note, thumb up. Press one finger after another, each alone: does the note fall each time?",
            "A valve that is stuck, or whose lever stays down when you let go, changes nothing; one that is strung the "
            "wrong way round raises the note. With its first valve stuck down a horn sounds like one in a lower key.",
        ),
        (
            Choice(NONE, "Each one does", "the note falls with every finger"),
            *(
                Choice(finger, f"Not the {words}", "nothing changes, or the note rises", "fingers", finger, "up")
                for finger, words in {"1": "first", "2": "second", "3": "third", "4": "fourth"}.items()
            ),
        ),
        "fingers",
        down="1",
        thumb="up",
        care=MOUTHPIECE,
    ),
    Question(
        "length",
        "Decide",
        "How long is it?",
        "Length",
        (
            "Stand the horn on its bell, without its mouthpiece, and measure straight up to its highest bow: with a "
            f"ruler, or with your spread hand, about {_SPAN} cm.",
            "From the thumb’s tip to the little finger’s, that is: measure yours once. A sheet of A4 is 29.7 cm long.",
            "Museums measure alike, from the plane of the bell to the far bow: a horn in F 41.3 cm, a double 41.9 cm. "
            "How much horns differ, and all other lengths, we know from memory.",
        ),
        _steps("length"),
        "horn",
    ),
    Question(
        "width",
        "Decide",
        "How wide is the bell?",
        "Bell’s width",
        (
            "Measure straight across the mouth of the bell, from rim to rim: with a ruler, or with your spread hand, "
            f"about {_SPAN} cm.",
            "Where the rim is bent, measure between two places that are not.",
            "A trumpet’s is 11.5 to 12.5 cm wide, an alto horn’s in a museum 18.3, a Vienna horn’s 28.5. How much "
            "horns differ, and all other widths, we know from memory.",
        ),
        _steps("width"),
        "horn",
    ),
)
