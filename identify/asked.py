"""What a question of the walk is made of: its words, its answers and their drawings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy

from identify.drawings import drawn


def _s_lazy(sentence: str) -> str:
    """Marks a sentence where a module is read: in the language that is spoken when it is shown."""
    return cast(str, gettext_lazy(sentence))


# The parts of the walk, in their order: four checks, and what decides between the horns they leave.
VALVES, SLIDE_SETS, TEST_NOTE, BUILD, DECIDE = PARTS = (
    _s_lazy("Valves"),
    _s_lazy("Slide sets"),
    _s_lazy("Test note"),
    _s_lazy("Build"),
    _s_lazy("Decide"),
)
MOUTHPIECE = _s_lazy(
    "Use your own clean mouthpiece, or clean and disinfect this one first. Your school’s own rules come first."
)

# The lever that the reasoning means, `main_lever`.
WHICH_LEVER = _s_lazy(
    "With several thumb levers, hold the one that moves the pitch by a fourth, downwards if two do; if none does, the "
    "one that moves the pitch most."
)


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


# Each is one that a module made: pages know it again as such, and not by its words.
@dataclass(frozen=True, slots=True, eq=False)
class Question:
    """One step: the check's `key`, its `part` of `PARTS`, `title`, `short` name, how to do it, and what it may answer.

    The first line of `how` is always shown, the others on demand. `picture` shows where to look and `look`
    names the part of it that is drawn in colour. `care` is a caution. `bare` is how it is asked of a horn without
    valves.
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
    bare: Question | None = None

    def of_horn(self, valves: str) -> Question:
        """As it is asked of a horn with so many valves: without any, fingers and thumb are not named."""
        return self.bare if valves == "0" and self.bare else self

    @property
    def drawn(self) -> SafeString:
        return drawn(self.picture, look=self.look, down=self.down, thumb=self.thumb, spoken=True)

    def words_of(self, answer: str) -> str:
        """How an answer reads in a list of observations; answers that have no button read as they are."""
        for choice in self.choices:
            if choice.value == answer:
                return str(choice.words)
        return answer
