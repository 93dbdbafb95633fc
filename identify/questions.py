"""The questions of the walk: how each check is asked, and the answers offered with their drawings.

What answers mean, and what follows from them, is the core's; here stands only how they are put to somebody
who holds a horn in one hand and a phone in the other.
"""

from __future__ import annotations

from identify.asked import MOUTHPIECE, WHICH_LEVER, Choice, Question
from identify.core.hearing.kept_notes import DOWN, UP
from identify.deciding import DECIDING

CANT_TELL = "cant-tell"
PARTS = ("Valves", "Slide sets", "Test note", "Build", "Decide")


def _fingerings(thumb: str) -> tuple[Choice, ...]:
    words = {
        "0": ("0", "no finger down"),
        "1": ("1", "first finger"),
        "2": ("2", "second finger"),
        "12": ("12", "first and second; 3 alone does the same"),
        "23": ("23", "second and third"),
        "13": ("13", "first and third"),
        "123": ("123", "all three"),
    }
    offered = [Choice(value, name, hint, "fingers", value, thumb) for value, (name, hint) in words.items()]
    none = "no fingering sounds the note, or no lever lies under the thumb" if thumb else "no fingering sounds the note"
    return (*offered, Choice("none", "None of these", none))


QUESTIONS: dict[str, Question] = {
    question.key: question
    for question in (
        Question(
            "valves",
            "Valves",
            "How many valves?",
            "Valves",
            (
                "Count the round caps or upright pistons, the thumb’s valve too, which is easily missed: "
                "look under the tubes.",
            ),
            (
                Choice("3", "3", "three levers or pistons, none for the thumb", "valves-3"),
                Choice("4", "4", "mostly three and one for the thumb", "valves-4"),
                Choice("5", "5", "mostly three and two for the thumb", "valves-5"),
                Choice("6", "6", "three and three more", "valves-6"),
                Choice("2", "2", "two pistons, or one and a rotor", "valves-2"),
                Choice("0", "None", "a plain hoop of tube", "valves-0"),
            ),
            "horn",
            "valves",
        ),
        Question(
            "slide_sets",
            "Slide sets",
            "How many rows of valve slides?",
            "Slide sets",
            (
                "The U-shaped slides of the finger valves are one row. Turn the horn round: is there "
                "a second slide behind "
                "each? Even a very short one counts.",
                "A single slide on the thumb’s valve is no row, nor is the large slide all players tune with.",
            ),
            (
                Choice("1", "1 row", "one slide on each finger valve", "sets-1"),
                Choice("2", "2 rows", "two slides on each, one behind the other", "sets-2"),
                Choice("3", "3 rows", "three slides on each", "sets-3"),
                Choice("0", "None", "no valve slides at all", "sets-0"),
            ),
            "horn",
            "slides",
        ),
        Question(
            "test_note",
            "Test note",
            "Which fingers sound this note?",
            "Test note, thumb up",
            (
                "A member of staff plays written F, first space, which sounds B♭. Leave the thumb lever up. What a "
                "pupil is used to playing is no evidence.",
                "Warm the horn up first. Try from no finger upwards and take the first fingering that speaks clearly.",
                "A tuner that shows B♭, anywhere within a quarter tone, is right: old horns and cold horns are off.",
                "A pupil may have learnt the fingerings of another horn and force them on this one.",
            ),
            _fingerings(""),
            "note-f4",
            care=MOUTHPIECE,
            bare="Does this note sound?",
        ),
        Question(
            "test_note_thumb",
            "Test note",
            "And with the thumb lever down?",
            "Test note, thumb down",
            ("The same note, written F, with the thumb lever held down.", WHICH_LEVER),
            _fingerings("down"),
            "fingers",
            down="0",
            thumb="down",
            care=MOUTHPIECE,
        ),
        Question(
            "hand",
            "Build",
            "Which hand works the valves?",
            "Hand",
            ("Hold the horn so that your fingers fall on the levers or buttons by themselves.",),
            (
                Choice("left", "Left hand", "the right one goes into the bell", "hand-left"),
                Choice("right", "Right hand", "as on a trumpet", "hand-right"),
            ),
        ),
        Question(
            "mechanism",
            "Build",
            "What kind of valves?",
            "Kind of valve",
            ("Press a lever and watch what moves.",),
            (
                Choice("rotary", "Rotary", "a round cap turns a quarter", "mechanism-rotary"),
                Choice("piston", "Pistons", "a cylinder goes straight down under your finger", "mechanism-piston"),
                Choice(
                    "double-piston",
                    "Double pistons",
                    "pairs of thin cylinders, moved by long rods",
                    "mechanism-double-piston",
                ),
            ),
        ),
        Question(
            "bell",
            "Build",
            "Where does the bell point?",
            "Bell",
            ("Hold it as for playing.",),
            (
                Choice("back", "Back", "down past the player’s side", "bell-back"),
                Choice("up", "Up", "towards the ceiling", "bell-up"),
                Choice("front", "Forward", "towards the listener", "bell-front"),
            ),
        ),
        Question(
            "wrap",
            "Build",
            "How is the tube wound?",
            "Wrap",
            ("Look at the body of the horn, not at the bell.",),
            (
                Choice("standard", "A wide round hoop", "the usual horn", "wrap-standard"),
                Choice("compact", "Small and tight", "more turns, levers close together", "wrap-compact"),
                Choice("oval", "A tall oval", "higher than wide", "wrap-oval"),
                Choice("trumpet", "Long, like a trumpet", "", "wrap-trumpet"),
            ),
        ),
        Question(
            "crook",
            "Build",
            "Does a crook come off?",
            "Crook",
            (
                "Look where the mouthpiece goes in. A crook is a coil of tube that comes off there, so that a longer "
                "or shorter one fits in its place.",
                "The mouthpiece is no crook, nor is a slide in the middle of the tube. Never force what is stuck.",
            ),
            (
                Choice("yes", "Yes", "a coil comes off, with the mouthpiece in its end", "crook-yes"),
                Choice("no", "No", "all one tube from mouthpiece to bell", "crook-no"),
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
        "Decide",
        "Find the tube by ear",
        "Open notes, thumb up",
        ("Press no valve and leave the thumb up.",),
        (),
        "fingers",
        down="0",
        thumb="up",
        care=MOUTHPIECE,
    ),
    DOWN: Question(
        DOWN,
        "Decide",
        "And with the thumb lever down",
        "Open notes, thumb down",
        ("Hold the thumb lever down and press no other valve.",),
        (),
        "fingers",
        down="0",
        thumb="down",
        care=MOUTHPIECE,
    ),
}
