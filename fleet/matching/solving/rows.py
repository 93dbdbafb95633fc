"""What a matching is made from: pupils, horns, and how much each rule matters."""

from __future__ import annotations

from dataclasses import dataclass, fields

from fleet.ground.languages.marks import _s_lazy

# How much a rule matters. The steps grow so that a rule that matters a lot outweighs two that only matter.
LEVELS = (
    (0, _s_lazy("does not matter")),
    (1, _s_lazy("matters a little")),
    (3, _s_lazy("matters")),
    (9, _s_lazy("matters a lot")),
)
MUST = 99
MUST_WORDS = _s_lazy("must be so")


@dataclass(frozen=True, slots=True)
class Rule:
    name: str
    words: str
    help: str
    default: int
    may_be_must: bool = False

    @property
    def levels(self) -> tuple[tuple[int, str], ...]:
        return (*LEVELS, (MUST, MUST_WORDS)) if self.may_be_must else LEVELS


RULES = (
    Rule("keep", _s_lazy("Keep the horn you have"), _s_lazy("A pupil who has a horn now goes on with it."), 9),
    Rule(
        "stand",
        _s_lazy("The same stand as the class"),
        _s_lazy("The class reads the same fingerings."),
        MUST,
        may_be_must=True,
    ),
    Rule(
        "wrap",
        _s_lazy("Compact horns for small players"),
        _s_lazy("Those who need a compact horn get one, and the others leave them free."),
        MUST,
        may_be_must=True,
    ),
    Rule(
        "better",
        _s_lazy("Better horns to older players"),
        _s_lazy("Better is the better playing grade first, then a double before a single, then the better finish."),
        1,
    ),
    Rule("carry", _s_lazy("Little carrying between rooms"), _s_lazy("The horn is kept where the class plays."), 1),
)


@dataclass(frozen=True)
class Weights:
    """How much each rule matters: 0, 1, 3 or 9, and for `stand` and `wrap` also `MUST`."""

    keep: int = 9
    stand: int = MUST
    wrap: int = MUST
    better: int = 1
    carry: int = 1

    def __post_init__(self) -> None:
        for rule in RULES:
            if getattr(self, rule.name) not in dict(rule.levels):
                raise ValueError(f"{rule.name} cannot weigh {getattr(self, rule.name)!r}.")

    def as_dict(self) -> dict[str, int]:
        return {field.name: getattr(self, field.name) for field in fields(self)}


@dataclass(frozen=True, slots=True)
class PupilRow:
    """`year` is None where it is no number. `needs_kind` is "single", "double" or ""; `stand` and `room` are
    those of the class, "" where nobody knows them."""

    key: int
    name: str
    sorted_by: str = ""
    year: int | None = None
    group: str = ""
    needs_compact: bool = False
    needs_kind: str = ""
    stand: str = ""
    room: str = ""

    @property
    def place(self) -> tuple[str, str, int]:
        """Where it stands in a list."""
        return self.sorted_by, self.name.casefold(), self.key


@dataclass(frozen=True, slots=True)
class HornRow:
    """A horn that may be lent, or would be once it is seen to. `other_stands` are those restringing gives it.

    `kind` is "single", "double", or "" for one that nobody has found out yet and that may be any.

    `held_by` is the key of the pupil who has it now. `finish` is 1 (as new) to 4 (gone), 0 where nobody looked.
    """

    key: int
    number: str
    sorted_by: tuple[str, int] = ("", 0)
    kind: str = "single"
    stand: str = "F"
    compact: bool = False
    grade: int = 1
    finish: int = 0
    room: str = ""
    held_by: int | None = None
    other_stands: tuple[str, ...] = ()

    @property
    def place(self) -> tuple[tuple[str, int], str, int]:
        """Where it stands in a list."""
        return self.sorted_by, self.number.casefold(), self.key

    @property
    def quality(self) -> int:
        """0 to 7: the playing grade counts most, then a double before a single, then the finish."""
        return 4 * (self.grade <= 1) + 2 * (self.kind == "double") + (self.finish in (1, 2))
