"""The questions of the walk: how each check is asked, and the answers offered with their drawings.

What answers mean, and what follows from them, is the core's; here stands only how they are put to somebody
who holds a horn in one hand and a phone in the other.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from identify.core.hearing.kept_notes import DOWN, UP
from identify.drawings import drawn

CANT_TELL = "cant-tell"


@dataclass(frozen=True, slots=True)
class Choice:
    """An answer: `value` in the address, `words` on the button, a smaller `hint`, and a drawing.

    In the drawing of a hand `down` names the fingers pressed and `thumb` ("up" or "down") the thumb lever.
    """

    value: str
    words: str
    hint: str = ""
    drawing: str = ""
    down: str = ""
    thumb: str = ""

    @property
    def drawn(self) -> SafeString:
        return drawn(self.drawing, down=self.down, thumb=self.thumb)


@dataclass(frozen=True, slots=True)
class Question:
    """One step: the check's `key`, its `title`, `short` name, how to do it, and what it may answer.

    The first line of `how` is always shown, the others on demand. `picture` shows where to look and `look`
    names the part of it that is drawn in colour. `care` is a caution.
    """

    key: str
    part: str
    title: str
    short: str
    how: tuple[str, ...]
    choices: tuple[Choice, ...]
    picture: str = ""
    look: str = ""
    down: str = ""
    thumb: str = ""
    care: str = ""

    @property
    def drawn(self) -> SafeString:
        return drawn(self.picture, look=self.look, down=self.down, thumb=self.thumb, spoken=True)

    def words_of(self, answer: str) -> str:
        """How an answer reads in a list of observations; answers that have no button read as they are."""
        for choice in self.choices:
            if choice.value == answer:
                return choice.words
        return answer


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
    none = "no fingering sounds it, or no lever lies under the thumb" if thumb else "no fingering sounds it"
    return (*offered, Choice("none", "None of these", none))


_MOUTHPIECE = (
    "Use your own clean mouthpiece, or clean and disinfect this one before it touches anybody’s lips. "
    "Your school’s own rules come first."
)

# The lever that the reasoning means, `main_lever`.
WHICH_LEVER = (
    "With several thumb levers, hold the one that moves the pitch by a fourth, downwards if two do; if none does, the "
    "one that moves it most."
)

QUESTIONS: dict[str, Question] = {
    question.key: question
    for question in (
        Question(
            "valves",
            "Valves",
            "How many valves?",
            "Valves",
            (
                "Count the round caps or upright pistons, the thumb’s valve too. It is easily missed: "
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
                "A member of staff plays written F, first space: it sounds B♭. Leave the thumb lever up. What a pupil "
                "is used to playing is no evidence.",
                "Warm the horn up first. Try from no finger upwards and take the first fingering that speaks clearly.",
                "A tuner that shows B♭, anywhere within a quarter tone, is right: old horns and cold horns are off.",
                "A pupil may have learnt the fingerings of another horn and force them on this one.",
            ),
            _fingerings(""),
            "note-f4",
            care=_MOUTHPIECE,
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
            care=_MOUTHPIECE,
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
            "step_down",
            "Decide",
            "How far down is the next note?",
            "Step down",
            (
                "Sound the test note again, thumb up. Keep the same fingers and slur down to the next note that "
                "speaks.",
                "Which note is it? The pictures show it as written for horn in F.",
            ),
            (
                Choice("3", "A minor third", "F down to D: 3 semitones", "step-3"),
                Choice("5", "A fourth", "F down to C: 5 semitones", "step-5"),
                Choice("7", "A fifth", "F down to B♭: 7 semitones", "step-7"),
                Choice("12", "An octave", "F down to F: 12 semitones", "step-12"),
            ),
            care=_MOUTHPIECE,
        ),
        Question(
            "second_set",
            "Decide",
            "How long is the second row of slides?",
            "Second slide set",
            (
                "Start from the row that plays when the test note speaks with no finger down: the B♭ row. How long is "
                "the other one beside it?",
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
                "Hold a note and press the thumb lever; the other fingers stay as they are. Listen which way it goes.",
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
            care=_MOUTHPIECE,
        ),
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
        care=_MOUTHPIECE,
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
        care=_MOUTHPIECE,
    ),
}
