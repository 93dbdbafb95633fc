"""The questions of the walk: how each check is asked, and the answers offered with their drawings.

What answers mean, and what follows from them, is the core's; here stands only how they are put to somebody
who holds a horn in one hand and a phone in the other.
"""

from __future__ import annotations

from identify.asked import (
    BUILD,
    DECIDE,
    MOUTHPIECE,
    SLIDE_SETS,
    TEST_NOTE,
    VALVES,
    WHICH_LEVER,
    Choice,
    Question,
    _s_lazy,
)
from identify.core.hearing.kept_notes import DOWN, UP
from identify.deciding import DECIDING

CANT_TELL = "cant-tell"


def _fingerings(thumb: str) -> tuple[Choice, ...]:
    words = {
        "0": ("0", _s_lazy("no finger down")),
        "1": ("1", _s_lazy("first finger")),
        "2": ("2", _s_lazy("second finger")),
        "12": ("12", _s_lazy("first and second; 3 alone does the same")),
        "23": ("23", _s_lazy("second and third")),
        "13": ("13", _s_lazy("first and third")),
        "123": ("123", _s_lazy("all three")),
    }
    offered = [Choice(value, name, hint, "fingers", value, thumb) for value, (name, hint) in words.items()]
    none = (
        _s_lazy("no fingering sounds the note, or no lever lies under the thumb")
        if thumb
        else _s_lazy("no fingering sounds the note")
    )
    return (*offered, Choice("none", _s_lazy("None of these"), none))


_TUNER = _s_lazy("A tuner that shows B♭, anywhere within a quarter tone, is right: old horns and cold horns are off.")
_BARE_NOTE = Question(
    "test_note",
    TEST_NOTE,
    _s_lazy("Does this note sound?"),
    _s_lazy("Test note"),
    (
        _s_lazy(
            "A member of staff plays the B♭ below middle C, for horn in F written F, first space, with the hand out of "
            "the bell."
        ),
        _s_lazy("Warm the horn up first. Force nothing: a note that speaks only when it is bent does not count."),
        _TUNER,
    ),
    (
        Choice("0", _s_lazy("Yes"), _s_lazy("the note speaks clearly")),
        Choice("none", _s_lazy("No"), _s_lazy("only notes above and below it speak")),
    ),
    "note-f4",
    care=MOUTHPIECE,
)

QUESTIONS: dict[str, Question] = {
    question.key: question
    for question in (
        Question(
            "valves",
            VALVES,
            _s_lazy("How many valves?"),
            _s_lazy("Valves"),
            (
                _s_lazy(
                    "Count the round caps or upright pistons, the thumb’s valve too, which is easily missed: look "
                    "under the tubes."
                ),
            ),
            (
                Choice("3", "3", _s_lazy("three levers or pistons, none for the thumb"), "valves-3"),
                Choice("4", "4", _s_lazy("mostly three and one for the thumb"), "valves-4"),
                Choice("5", "5", _s_lazy("mostly three and two for the thumb"), "valves-5"),
                Choice("6", "6", _s_lazy("three and three more"), "valves-6"),
                Choice("2", "2", _s_lazy("two pistons, or one and a rotor"), "valves-2"),
                Choice("0", _s_lazy("None"), _s_lazy("a plain hoop of tube"), "valves-0"),
            ),
            "horn",
            "valves",
        ),
        Question(
            "slide_sets",
            SLIDE_SETS,
            _s_lazy("How many rows of valve slides?"),
            _s_lazy("Slide sets"),
            (
                _s_lazy(
                    "The U-shaped slides of the finger valves are one row. Turn the horn round: is there a second "
                    "slide behind each? Even a very short one counts."
                ),
                _s_lazy("A single slide on the thumb’s valve is no row, nor is the large slide all players tune with."),
            ),
            (
                Choice("1", _s_lazy("1 row"), _s_lazy("one slide on each finger valve"), "sets-1"),
                Choice("2", _s_lazy("2 rows"), _s_lazy("two slides on each, one behind the other"), "sets-2"),
                Choice("3", _s_lazy("3 rows"), _s_lazy("three slides on each"), "sets-3"),
                Choice("0", _s_lazy("None"), _s_lazy("no valve slides at all"), "sets-0"),
            ),
            "horn",
            "slides",
        ),
        Question(
            "test_note",
            TEST_NOTE,
            _s_lazy("Which fingers sound this note?"),
            _s_lazy("Test note, thumb up"),
            (
                _s_lazy(
                    "A member of staff plays written F, first space, which sounds B♭. Leave the thumb lever up. What a "
                    "pupil is used to playing is no evidence."
                ),
                _s_lazy(
                    "Warm the horn up first. Try from no finger upwards and take the first fingering that speaks "
                    "clearly."
                ),
                _TUNER,
                _s_lazy("A pupil may have learnt the fingerings of another horn and force them on this one."),
            ),
            _fingerings(""),
            "note-f4",
            care=MOUTHPIECE,
            bare=_BARE_NOTE,
        ),
        Question(
            "test_note_thumb",
            TEST_NOTE,
            _s_lazy("And with the thumb lever down?"),
            _s_lazy("Test note, thumb down"),
            (_s_lazy("The same note, written F, with the thumb lever held down."), WHICH_LEVER),
            _fingerings("down"),
            "fingers",
            down="0",
            thumb="down",
            care=MOUTHPIECE,
        ),
        Question(
            "hand",
            BUILD,
            _s_lazy("Which hand works the valves?"),
            _s_lazy("Hand"),
            (_s_lazy("Hold the horn so that your fingers fall on the levers or buttons by themselves."),),
            (
                Choice("left", _s_lazy("Left hand"), _s_lazy("the right one goes into the bell"), "hand-left"),
                Choice("right", _s_lazy("Right hand"), _s_lazy("as on a trumpet"), "hand-right"),
            ),
        ),
        Question(
            "mechanism",
            BUILD,
            _s_lazy("What kind of valves?"),
            _s_lazy("Kind of valve"),
            (_s_lazy("Press a lever and watch what moves."),),
            (
                Choice("rotary", _s_lazy("Rotary"), _s_lazy("a round cap turns a quarter"), "mechanism-rotary"),
                Choice(
                    "piston",
                    _s_lazy("Pistons"),
                    _s_lazy("a cylinder goes straight down under your finger"),
                    "mechanism-piston",
                ),
                Choice(
                    "double-piston",
                    _s_lazy("Double pistons"),
                    _s_lazy("pairs of thin cylinders, moved by long rods"),
                    "mechanism-double-piston",
                ),
            ),
        ),
        Question(
            "bell",
            BUILD,
            _s_lazy("Where does the bell point?"),
            _s_lazy("Bell"),
            (_s_lazy("Hold it as for playing."),),
            (
                Choice("back", _s_lazy("Backward"), _s_lazy("down past the player’s side"), "bell-back"),
                Choice("up", _s_lazy("Up"), _s_lazy("towards the ceiling"), "bell-up"),
                Choice("front", _s_lazy("Forward"), _s_lazy("towards the listener"), "bell-front"),
            ),
        ),
        Question(
            "wrap",
            BUILD,
            _s_lazy("How is the tube wound?"),
            _s_lazy("Wrap"),
            (_s_lazy("Look at the body of the horn, not at the bell."),),
            (
                Choice("standard", _s_lazy("A wide round hoop"), _s_lazy("the usual horn"), "wrap-standard"),
                Choice(
                    "compact", _s_lazy("Small and tight"), _s_lazy("more turns, levers close together"), "wrap-compact"
                ),
                Choice("oval", _s_lazy("A tall oval"), _s_lazy("higher than wide"), "wrap-oval"),
                Choice("trumpet", _s_lazy("Long, like a trumpet"), "", "wrap-trumpet"),
            ),
        ),
        Question(
            "crook",
            BUILD,
            _s_lazy("Does a crook come off?"),
            _s_lazy("Crook"),
            (
                _s_lazy(
                    "Look where the mouthpiece goes in. A crook is a coil of tube that comes off there, so that a "
                    "longer or shorter one fits in its place."
                ),
                _s_lazy(
                    "The mouthpiece is no crook, nor is a slide in the middle of the tube. Never force what is stuck."
                ),
            ),
            (
                Choice("yes", _s_lazy("Yes"), _s_lazy("a coil comes off, with the mouthpiece in its end"), "crook-yes"),
                Choice("no", _s_lazy("No"), _s_lazy("all one tube from mouthpiece to bell"), "crook-no"),
            ),
            "valves-0",
            "crook",
        ),
        *DECIDING,
    )
}

# What is heard beside the checks: the open notes, with the thumb up and with its lever down.
BY_EAR: dict[str, Question] = {
    UP: Question(
        UP,
        DECIDE,
        _s_lazy("Find the tube by ear"),
        _s_lazy("Open notes, thumb up"),
        (_s_lazy("Press no valve and leave the thumb up."),),
        (),
        "fingers",
        down="0",
        thumb="up",
        care=MOUTHPIECE,
        bare=Question(
            UP,
            DECIDE,
            _s_lazy("Find the tube by ear"),
            _s_lazy("Open notes"),
            (_s_lazy("Keep the hand out of the bell."),),
            (),
            "horn",
            care=MOUTHPIECE,
        ),
    ),
    DOWN: Question(
        DOWN,
        DECIDE,
        _s_lazy("And with the thumb lever down"),
        _s_lazy("Open notes, thumb down"),
        (_s_lazy("Hold the thumb lever down and press no other valve."),),
        (),
        "fingers",
        down="0",
        thumb="down",
        care=MOUTHPIECE,
    ),
}
