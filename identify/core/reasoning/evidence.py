"""What was observed of a horn: the checks, the answers they allow, and reading answers from text.

Every check may be left out. "Can't tell" is remembered as asked, so that it is not asked again, and weighs
nothing.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from identify.core.hearing.kept_notes import KeptNotes, read_notes
from identify.core.horns.air import FINGERINGS
from identify.core.horns.builds import BELLS, HANDS, MECHANISMS, WRAPS
from identify.core.horns.catalogue import catalogue

NONE = "none"
AGAIN = "again"  # the field that lists checks looked at twice
LIKE = "like"  # the field that says which build the horn before it was, where this one is said to be like it
MOST_VALVES = 8
MOST_SETS = 4
MOST_STEP = 24
# Centimetres from the plane of the bell to the far bow: the steps that are told apart, both edges of each included.
LENGTHS = ((0, 27), (28, 32), (33, 37), (38, 42), (43, 47), (48, 54), (55, 64), (65, 199))
# The same across the mouth of the bell.
WIDTHS = ((0, 13), (14, 17), (18, 22), (23, 25), (26, 28), (29, 99))
# What is measured, by check: each answer with the centimetres it stands for.
MEASURED = {
    key: {f"{low}-{high}": (low, high) for low, high in steps}
    for key, steps in (("length", LENGTHS), ("width", WIDTHS))
}
ONE_SIDE, BOTH_SIDES = "one-side", "both-sides"


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to observe.

    `key`, `words` for reading, `answers` it allows, `group` of the four checks or deciding.
    """

    key: str
    words: str
    answers: tuple[str, ...]
    group: str
    allowed: str


def _listed(answers: tuple[str, ...]) -> str:
    return ", ".join(answers)


def _whole(most: int) -> tuple[str, ...]:
    return tuple(str(number) for number in range(most + 1))


# Which finger changes nothing when it is pressed, or raises the note; none where each lowers it.
_ODD = (NONE, "1", "2", "3", "4")
_FINGERED = (*FINGERINGS, NONE)
_FINGERED_WORDS = "0 (open), 1, 2, 12 (or 3), 13, 23, 123, or none where no fingering sounds it"


def _checks() -> tuple[Check, ...]:
    valves, sets, steps = f"0 to {MOST_VALVES}", f"0 to {MOST_SETS}", f"0 to {MOST_STEP}"
    lengths = ("longer", "shorter", "much-shorter", NONE)
    served, long, wide = (ONE_SIDE, BOTH_SIDES), *(f"0 to {steps[-1][1]} centimetres" for steps in (LENGTHS, WIDTHS))
    effects = ("raises", "lowers-little", "lowers-fourth", "nothing")
    return (
        Check("valves", "number of valves", _whole(MOST_VALVES), "valves", valves),
        Check("slide_sets", "number of valve-slide sets", _whole(MOST_SETS), "slide sets", sets),
        Check("test_note", "test note with the thumb up", _FINGERED, "test note", _FINGERED_WORDS),
        Check("test_note_thumb", "test note with the thumb down", _FINGERED, "test note", _FINGERED_WORDS),
        Check("hand", "hand that works the valves", HANDS, "build", _listed(HANDS)),
        Check("mechanism", "kind of valve", MECHANISMS, "build", _listed(MECHANISMS)),
        Check("bell", "where the bell points", BELLS, "build", _listed(BELLS)),
        Check("wrap", "shape it is wound in", WRAPS, "build", _listed(WRAPS)),
        Check("crook", "crook at the mouthpiece", ("yes", "no"), "build", "yes, no"),
        Check("step_down", "step down from the test note, in semitones", _whole(MOST_STEP), "deciding", steps),
        Check("second_set", "length of the second slide set", lengths, "deciding", _listed(lengths)),
        Check("thumb", "what the thumb lever does to the pitch", effects, "deciding", _listed(effects)),
        Check("shared_row", "sides that the longer row of slides serves", served, "deciding", _listed(served)),
        Check("each_finger", "finger that does not lower the note", _ODD, "deciding", _listed(_ODD)),
        Check("length", "length from the bell to the far bow", tuple(MEASURED["length"]), "deciding", long),
        Check("width", "width of the bell", tuple(MEASURED["width"]), "deciding", wide),
    )


# In the order in which they are usually made; the deciding ones come last, for what the others leave.
CHECKS: dict[str, Check] = {check.key: check for check in _checks()}
USUAL_ORDER = tuple(key for key, check in CHECKS.items() if check.group != "deciding")
DECIDING = tuple(key for key, check in CHECKS.items() if check.group == "deciding")

_CANT_TELL = {
    "",
    "?",
    "-",
    "can't tell",
    "can’t tell",
    "cant tell",
    "can't-tell",
    "cant-tell",
    "unknown",
    "unsure",
}
_NO_FINGERING = {"open": "0", "3": "12", "no": NONE, "nothing": NONE}
_SAME: dict[str, dict[str, str]] = {
    "test_note": _NO_FINGERING,
    "test_note_thumb": _NO_FINGERING,
    "each_finger": {"no": NONE, "0": NONE},
    "second_set": {"no": NONE, "0": NONE, "much shorter": "much-shorter"},
    "thumb": {
        NONE: "nothing",
        "no": "nothing",
        "lowers little": "lowers-little",
        "lowers a little": "lowers-little",
        "lowers fourth": "lowers-fourth",
        "lowers a fourth": "lowers-fourth",
    },
    "shared_row": {"one side": ONE_SIDE, "one": ONE_SIDE, "both sides": BOTH_SIDES, "both": BOTH_SIDES},
    "mechanism": {
        "rotor": "rotary",
        "rotors": "rotary",
        "pistons": "piston",
        "double piston": "double-piston",
    },
}


class UnknownAnswer(ValueError):
    """An answer that no check allows; `key` is the check, the message lists what it takes."""

    def __init__(self, key: str, message: str) -> None:
        self.key = key
        super().__init__(message)


@dataclass(frozen=True)
class Heard:
    """What a recording says of the tube that sounds: likelihood weights by tube code (`F12`, `Bb9` …), any
    scale.

    `up` is heard with the thumb up, `down` with the main thumb lever down; empty says nothing. A tube that is
    not named weighs as little as the least of those that are. `notes` are the numbers behind it, which are kept.
    """

    up: Mapping[str, float] = field(default_factory=dict)
    down: Mapping[str, float] = field(default_factory=dict)
    notes: KeptNotes = field(default_factory=lambda: KeptNotes({}))

    def __post_init__(self) -> None:
        for weights in (self.up, self.down):
            if any(not (0.0 <= weight < float("inf")) for weight in weights.values()):
                raise ValueError("Likelihood weights must be finite numbers of 0 or more.")
            if weights and max(weights.values()) <= 0.0:
                raise ValueError("At least one tube must have a likelihood above 0.")

    @property
    def says_nothing(self) -> bool:
        """Whether it weighs nothing: single notes are kept with the answers they belong to."""
        return not self.up and not self.down


@dataclass(frozen=True)
class Observations:
    """Answers by check key, checks passed over as "can't tell", what was heard, and checks looked at twice.

    `like` is the code of a build: somebody says that it is like a horn of that kind. That is no answer, settles nothing
    and makes that kind only so much likelier beforehand. Raises UnknownAnswer for nonsense.
    """

    answers: Mapping[str, str] = field(default_factory=dict)
    passed: frozenset[str] = frozenset()
    heard: Heard | None = None
    again: frozenset[str] = frozenset()
    like: str = ""

    def __post_init__(self) -> None:
        clean = {}
        for key, value in self.answers.items():
            answer = read_answer(key, str(value))
            if answer is not None:
                clean[key] = answer
        # In the usual order, so that the same answers make equal observations whatever order they came in.
        object.__setattr__(self, "answers", {key: clean[key] for key in CHECKS if key in clean})
        passed = frozenset(key for key in CHECKS if key in self.passed and key not in clean)
        object.__setattr__(self, "passed", passed)
        object.__setattr__(self, "again", frozenset(key for key in clean if key in self.again))

    @cached_property
    def asked(self) -> frozenset[str]:
        return self.passed | frozenset(self.answers)

    @property
    def nothing_observed(self) -> bool:
        return not self.answers and (self.heard is None or self.heard.says_nothing)

    def without(self, keys: Iterable[str]) -> "Observations":
        """The same observations with some answers taken back."""
        drop = set(keys)
        left = {key: value for key, value in self.answers.items() if key not in drop}
        return replace(self, answers=left)

    def with_answer(self, key: str, value: str) -> "Observations":
        """The same observations with one more answer. Raises UnknownAnswer."""
        return replace(self, answers={**self.answers, key: value})

    def looked_again(self, key: str, value: str) -> "Observations":
        """The same observations after a look at one check by somebody who was not shown the first answer.

        Only the same answer once more counts as looked at twice: of two that differ one is wrong, so the new one counts
        once. Raises UnknownAnswer.
        """
        seen = self.with_answer(key, value)
        same = seen.answers.get(key) == self.answers.get(key)
        return replace(seen, again=self.again | {key} if same else self.again - {key})


def read_answer(key: str, text: str) -> str | None:
    """The answer that some text gives to a check, or None for "can't tell". Raises UnknownAnswer.

    Fingerings may be written in any order and 3 for 12: they lower alike.
    """
    check = CHECKS.get(key)
    if check is None:
        raise UnknownAnswer(key, f"There is no check called {key[:40]!r}; there are {', '.join(CHECKS)}.")
    said = " ".join(text.split()).lower().replace("_", "-")
    if said in _CANT_TELL:
        return None
    said = _SAME.get(key, {}).get(said, said)
    if check.answers is _FINGERED and said.isascii() and said.isdigit() and len(set(said)) == len(said):
        said = "".join(sorted(said))
    elif said.isascii() and said.isdigit() and len(said) < 4:
        said = _step_of(key, int(said)) if key in MEASURED else str(int(said))
    if said not in check.answers:
        shown = text.strip()[:40]
        wrong = f"{check.words.capitalize()}: {shown!r} is not an answer; allowed are {check.allowed}."
        raise UnknownAnswer(key, wrong)
    return said


def _step_of(key: str, cm: int) -> str:
    return next((answer for answer, (low, high) in MEASURED[key].items() if low <= cm <= high), str(cm))


def read_observations(given: Mapping[str, str | None]) -> tuple[Observations, dict[str, str]]:
    """Read answers from text: the observations that make sense, and for each that does not a sentence by its
    key.

    Never raises, whatever the text. A key whose value is None was not asked; keys that are no check are
    ignored, so a form or an address may carry others beside them. `again` lists checks that were looked at
    twice, by key; `like` is a build's code, left out where nobody knows it; the fields of `kept_notes` hold what
    was heard.
    """
    answers: dict[str, str] = {}
    passed: set[str] = set()
    problems: dict[str, str] = {}
    for key in CHECKS:
        text = given.get(key)
        if text is None:
            continue
        try:
            answer = read_answer(key, str(text))
        except UnknownAnswer as trouble:
            problems[key] = str(trouble)
            continue
        if answer is None:
            if text.strip():
                passed.add(key)
        else:
            answers[key] = answer
    again = frozenset(re.split(r"[\s,]+", str(given.get(AGAIN) or "").replace("-", "_")))
    notes, unread = read_notes(given)
    like = str(given.get(LIKE) or "")
    seen = Observations(answers, frozenset(passed), heard_in(notes), again, like if like in catalogue() else "")
    return seen, problems | unread


def heard_in(notes: KeptNotes) -> Heard | None:
    """The evidence that kept notes amount to, or None without any."""
    return Heard(notes.up, notes.down, notes) if notes else None
