"""Mistakes of the observer: from the answer a horn gives to the chance of each answer being written down.

The rates and their origins are in data/mistakes.toml; this module knows which mistake can befall which check
of which build.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import exp
from pathlib import Path

from identify.core import DATA
from identify.core.horns.air import FINGERINGS, AirColumn, sounding
from identify.core.horns.builds import Build, main_lever
from identify.core.horns.catalogue import DataError, read_table
from identify.core.horns.pitch import TEST_NOTE
from identify.core.reasoning.evidence import CHECKS, NONE
from identify.core.reasoning.expect import Hypothesis, Shares, expected, second_sets, test_note_ways

NAMES = (
    "lever_overlooked", "valve_miscounted", "short_set_overlooked", "full_set_overlooked",
    "extra_slide_counted", "tuning_slides_counted", "neighbouring_partial", "lever_not_working",
    "finger_slip", "interval_misnamed", "partial_skipped", "short_set_taken_for_full",
    "set_length_misjudged", "second_set_missed", "direction_misheard", "small_change_missed",
    "left_for_right", "mechanism_misnamed", "pistons_unpaired", "pistons_paired", "wrong_set_compared",
    "bell_misjudged", "wrap_misjudged", "compact_taken_for_standard", "standard_taken_for_compact",
    "length_misread", "breath_misjudged", "crook_misjudged", "finger_overlooked", "finger_imagined",
    "likeness_misjudged", "repeated", "anything_else",
)  # fmt: skip


# How fast a wrong note becomes unlikely to be taken for the right one with its distance, in cents.
_EAR = 60.0


@dataclass(frozen=True, slots=True)
class Mistake:
    """A way of getting a check wrong, how often it happens (0 to 0.5; the mean of what was estimated), and where that
    comes from."""

    name: str
    rate: float
    words: str
    origin: str


def read_mistakes(path: Path) -> dict[str, Mistake]:
    """Read a file of mistakes. Raises DataError with file, entry and reason."""
    found: dict[str, Mistake] = {}
    for name, table in read_table(path).items():
        if name not in NAMES:
            raise DataError(path.name, name, "no check uses this mistake")
        if not isinstance(table, dict) or set(table) != {"rate", "words", "origin"}:
            raise DataError(path.name, name, "must state rate, words and origin, and nothing else")
        rate = table["rate"]
        estimates = rate if isinstance(rate, list) and rate else [rate]
        if not all(type(one) in (int, float) and 0.0 < one <= 0.5 for one in estimates):
            raise DataError(path.name, name, f"rate is {rate!r}, but must be numbers above 0 and up to 0.5")
        if not all(isinstance(table[field], str) and table[field].strip() for field in ("words", "origin")):
            raise DataError(path.name, name, "words and origin must be some text")
        found[name] = Mistake(name, sum(estimates) / len(estimates), table["words"], table["origin"])
    missing = [name for name in NAMES if name not in found]
    if missing:
        raise DataError(path.name, missing[0], "this mistake is missing")
    return found


@lru_cache(maxsize=1)
def mistakes() -> dict[str, Mistake]:
    return read_mistakes(DATA / "mistakes.toml")


@lru_cache(maxsize=1)
def rates() -> dict[str, float]:
    """The rate of every mistake by its name."""
    return {name: mistake.rate for name, mistake in mistakes().items()}


def _counts(sure: Shares, slips: Mapping[int, float]) -> Shares:
    spread: Shares = {}
    for answer, share in sure.items():
        for change, rate in slips.items():
            wrong = str(int(answer) + change)
            spread[wrong] = spread.get(wrong, 0.0) + share * rate
    return spread


def _pairs(sure: Shares, confusions: Mapping[tuple[str, str], float]) -> Shares:
    spread: Shares = {}
    for (true, seen), rate in confusions.items():
        if true in sure:
            spread[seen] = spread.get(seen, 0.0) + sure[true] * rate
    return spread


def _confused(
    key: str, rate: float, special: Mapping[tuple[str, str], float] | None = None
) -> dict[tuple[str, str], float]:
    answers = CHECKS[key].answers
    others = {(true, seen): rate / (len(answers) - 1) for true in answers for seen in answers if true != seen}
    return {**others, **(special or {})}


def _notes(column: AirColumn, r: Mapping[str, float]) -> Shares:
    """Fingerings that seem to give the test note because a neighbouring partial or note was taken for it."""
    right = {fingering for fingering, _share in test_note_ways(column)}
    nearness = {
        fingering: exp(-abs(sounding(column, fingering, TEST_NOTE.midi).cents) / _EAR)
        for fingering in FINGERINGS
        if fingering not in right and column.has(fingering)
    }
    total = sum(nearness.values())
    spread = {fingering: r["neighbouring_partial"] * near / total for fingering, near in nearness.items()}
    for fingering in FINGERINGS:
        spread[fingering] = spread.get(fingering, 0.0) + r["finger_slip"] / len(FINGERINGS)
    return spread


def _valves(build: Build, sure: Shares, r: Mapping[str, float]) -> Shares:
    slips = {1: r["valve_miscounted"] / 4, -1: r["valve_miscounted"] * 3 / 4}
    hidden = len(build.thumb_levers)
    if hidden:
        # Where there are two levers, seeing one draws the eye to the other.
        slips[-1] += r["lever_overlooked"] / hidden
        if hidden > 1:
            slips[-hidden] = slips.get(-hidden, 0.0) + r["lever_overlooked"] / 4
    return _counts(sure, slips)


def _slide_sets(build: Build, sure: Shares, r: Mapping[str, float]) -> Shares:
    short = any(side.row == "compensating" for side in build.own_sets)
    extra = len(build.valves) > 3 or any(lever.does != "change" for lever in build.levers)
    slips = {1: r["extra_slide_counted"] if extra else r["tuning_slides_counted"] if build.valves else 0.0}
    if build.slide_sets > 1:
        # One short row of three is less easily overlooked than one of two.
        slips[-1] = r["short_set_overlooked"] / (build.slide_sets - 1) if short else r["full_set_overlooked"]
    return _counts(sure, slips)


def _step_down(sure: Shares, hypothesis: Hypothesis, r: Mapping[str, float]) -> Shares:
    half = r["interval_misnamed"] / 2
    spread = _counts(sure, {1: half, -1: half})
    column = hypothesis.at_rest
    fingering = test_note_ways(column)[0][0]
    partial = sounding(column, fingering if fingering != NONE else "0", TEST_NOTE.midi).partial
    if partial > 2 and sure:
        fallen = round(column.pitch("0", partial) - column.pitch("0", partial - 2))
        spread[str(fallen)] = spread.get(str(fallen), 0.0) + r["partial_skipped"]
    return spread


_LONG, _SHORT, _VERY_SHORT = "longer", "shorter", "much-shorter"


def _second_set(build: Build, sure: Shares, r: Mapping[str, float]) -> Shares:
    off, missed = r["set_length_misjudged"], r["second_set_missed"]
    spread = _pairs(
        sure,
        {
            (_LONG, _SHORT): off, (_SHORT, _LONG): off, (_SHORT, _VERY_SHORT): off, (_VERY_SHORT, _SHORT):
            off, (_VERY_SHORT, _LONG): r["short_set_taken_for_full"], (_LONG, NONE): missed / 4, (_SHORT,
            NONE): missed / 4, (_VERY_SHORT, NONE): missed, (NONE, _VERY_SHORT): missed / 2, (NONE, _SHORT):
            missed / 2,
        },
    )  # fmt: skip
    for words in second_sets(build)[1:]:
        spread[words] = spread.get(words, 0.0) + r["wrong_set_compared"]
    return spread


def _thumb(build: Build, sure: Shares, r: Mapping[str, float]) -> Shares:
    wrong = r["direction_misheard"]
    spread = _pairs(
        sure,
        {
            ("raises", "lowers-fourth"): wrong, ("lowers-fourth", "raises"): wrong,
            ("raises", "lowers-little"): wrong / 4, ("lowers-little", "raises"): wrong,
            ("lowers-little", "lowers-fourth"): wrong, ("lowers-fourth", "lowers-little"): wrong,
            ("lowers-little", "nothing"): r["small_change_missed"],
        },
    )  # fmt: skip
    if build.thumb_levers:
        spread["nothing"] = spread.get("nothing", 0.0) + r["lever_not_working"]
    return spread


def _each_finger(build: Build, sure: Shares, r: Mapping[str, float]) -> Shares:
    fingers = [str(place) for place in range(1, len(build.valves) + 1)]
    imagined = {(NONE, finger): r["finger_imagined"] / len(fingers) for finger in fingers}
    return _pairs(sure, imagined | {(finger, NONE): r["finger_overlooked"] for finger in fingers})


def _test_note_thumb(hypothesis: Hypothesis, r: Mapping[str, float]) -> Shares:
    rest = hypothesis.at_rest
    lever = main_lever(hypothesis.build)
    spread = _notes(hypothesis.pressed(lever) if lever else rest, r)
    # A lever that does nothing, or none at all, leaves the answer of the thumb up.
    stuck = r["lever_not_working"] if lever else r["finger_slip"]
    for fingering, share in test_note_ways(rest):
        spread[fingering] = spread.get(fingering, 0.0) + stuck * share
    return spread


def _blunder(key: str, answer: str, sure: Shares) -> float:
    """Counts far from the truth are rarer still: nobody counts no valves where there are three."""
    if key not in ("valves", "slide_sets"):
        return 1.0
    off = min(abs(int(answer) - int(true)) for true in sure)
    return 1.0 if off < 2 else 0.02


# Checks whose answers are all taken for one another alike.
_ONE_RATE = {
    "hand": "left_for_right",
    "bell": "bell_misjudged",
    "length": "length_misread",
    "width": "length_misread",
    "shared_row": "breath_misjudged",
    "crook": "crook_misjudged",
}


def chances(
    hypothesis: Hypothesis,
    key: str,
    test_note: str | None = None,
    given: Mapping[str, float] | None = None,
    *,
    sure: Shares | None = None,
) -> Shares:
    """The chance of each answer to a check being written down, mistakes included; they add up to 1.

    `given` are other rates than those of the data file, by name, `sure` the shares without mistakes where whoever
    asks has them. A check that has no meaning for a build (the hand on a natural horn) is answered at random.
    """
    r = given or rates()
    check = CHECKS[key]
    sure = expected(hypothesis, key, test_note) if sure is None else sure
    build = hypothesis.build
    if not sure:
        return dict.fromkeys(check.answers, 1.0 / len(check.answers))
    if key == "valves":
        spread = _valves(build, sure, r)
    elif key == "slide_sets":
        spread = _slide_sets(build, sure, r)
    elif key == "test_note":
        spread = _notes(hypothesis.at_rest, r)
    elif key == "test_note_thumb":
        spread = _test_note_thumb(hypothesis, r)
    elif key == "step_down":
        spread = _step_down(sure, hypothesis, r)
    elif key == "second_set":
        spread = _second_set(build, sure, r)
    elif key == "thumb":
        spread = _thumb(build, sure, r)
    elif key == "each_finger":
        spread = _each_finger(build, sure, r)
    elif key == "mechanism":
        special = {
            ("double-piston", "piston"): r["pistons_unpaired"],
            ("piston", "double-piston"): r["pistons_paired"],
        }
        spread = _pairs(sure, _confused("mechanism", r["mechanism_misnamed"], special))
    elif key in _ONE_RATE:
        spread = _pairs(sure, _confused(key, r[_ONE_RATE[key]]))
    else:
        compact, standard = r["compact_taken_for_standard"], r["standard_taken_for_compact"]
        special = {("compact", "standard"): compact, ("standard", "compact"): standard}
        spread = _pairs(sure, _confused("wrap", r["wrap_misjudged"], special))
    floor = r["anything_else"] / len(check.answers)
    wrong = {answer: floor * _blunder(key, answer, sure) + spread.get(answer, 0.0) for answer in check.answers}
    left = 1.0 - sum(wrong.values())
    return {answer: wrong[answer] + left * sure.get(answer, 0.0) for answer in check.answers}


def second_look(once: Shares, sure: Shares, repeated: float) -> Shares:
    """The chance of each answer after a second look, which puts a mistake right unless it is `repeated`.

    `once` are the chances after one look, `sure` the shares of the answers without mistakes.
    """
    if not sure:
        return once
    wrong = sum(chance for answer, chance in once.items() if answer not in sure)
    return {
        answer: chance + (1.0 - repeated) * wrong * sure[answer] if answer in sure else repeated * chance
        for answer, chance in once.items()
    }
