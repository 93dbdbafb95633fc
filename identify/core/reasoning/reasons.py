"""Sentences from the physics: why an answer speaks for or against a build in a stand.

Each reason has a short sentence and a detail for those who ask; both are made from the description of the
build, so a build that is added explains itself.
"""

from collections.abc import Callable
from dataclasses import dataclass

from identify.core.horns.air import TUBES, AirColumn, sounding, ways
from identify.core.horns.builds import Build, main_lever
from identify.core.horns.pitch import TEST_NOTE
from identify.core.reasoning.evidence import BOTH_SIDES, MEASURED, NONE, Observations
from identify.core.reasoning.expect import (
    IN_TUNE_ENOUGH,
    MEASURES,
    Hypothesis,
    expected,
    second_sets,
    step_below,
    test_note_ways,
    thumb_effect,
)
from identify.core.reasoning.numbers import FINGERS, capital, counted, fingered, interval, lowering, nth
from identify.core.reasoning.ranking import Candidate

# From a hypothesis, the answer, whether it fits, and the test note's fingering to a short sentence and its
# detail.
_Sentence = Callable[[Hypothesis, str, bool, str | None], tuple[str, str]]

_KINDS = {"rotary": "rotary", "piston": "pistons", "double-piston": "pairs of pistons"}
_PLACES = {"back": "back, beside the player", "up": "up", "front": "forward"}
_LENGTHS = {
    "longer": "not longer",
    "shorter": "not a little shorter",
    "much-shorter": "not much shorter",
    NONE: "not missing",
}
_SHAPES = {
    "standard": "round and of the usual size",
    "compact": "round and tightly wound",
    "oval": "oval and upright",
    "trumpet": "long, like a trumpet",
}


@dataclass(frozen=True)
class Testimony:
    """What one check says of one candidate.

    `speaks_for` it or against it, a short sentence, and a detail or "".
    """

    check: str
    speaks_for: bool
    short: str
    detail: str = ""


def reasons(candidate: Candidate, observations: Observations) -> tuple[Testimony, ...]:
    """For every check that was made, what its answer says of the candidate, in the order of the checks."""
    return tuple(reason_of(candidate.form, key, answer, observations) for key, answer in observations.answers.items())


def reason_of(hypothesis: Hypothesis, key: str, answer: str, observations: Observations) -> Testimony:
    """What one answer says of one build in one stand."""
    note = observations.answers.get("test_note")
    if key == "step_down" and note not in expected(hypothesis, "test_note"):
        note = None
    shares = expected(hypothesis, key, note)
    fits = not shares or answer in shares
    if hypothesis.state is None:
        return Testimony(key, fits, *_SENTENCES[key](hypothesis, answer, fits, note))
    whole = reason_of(hypothesis.whole, key, answer, observations)
    if fits == whole.speaks_for:
        return whole
    return Testimony(key, fits, f"{whole.short[:-1]}, were the horn whole.")


def _has(build: Build) -> str:
    return "Such a horn" if not build.form else f"The form {build.form_words}"


def _valves(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    build = one.build
    count = counted(build.valve_count, "valve")
    worked = [counted(len(build.valves), "finger valve")] if build.valves else []
    worked += [lever.words or lever.name for lever in build.levers]
    detail = f"{_has(build)} has {' and '.join(worked)}." if worked else "Such a horn has no valves at all."
    return (f"Such a horn has {count}." if fits else f"Such a horn has {count}, not {answer}."), detail


def _slide_sets(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    build = one.build
    count = counted(build.slide_sets, "set") + " of valve slides"
    rows = []
    for side in build.sides if build.valves else ():
        words = TUBES[side.tube].words
        if side.row == "full":
            rows.append(f"the {words} side has a set of its own")
        elif side.row == "compensating":
            through = TUBES[side.through].words
            rows.append(f"the {words} side runs through the {through} slides and a short set that adds the rest")
        else:
            rows.append(f"the {words} side has no slides of its own and borrows those of {TUBES[side.through].words}")
    detail = f"T{'; '.join(rows)[1:]}." if rows else "Without valves there are no valve slides."
    return (f"Such a horn has {count}." if fits else f"Such a horn has {count}, not {answer}."), detail


def how_test_note_sounds(column: AirColumn, fingering: str) -> str:
    """Why a fingering does or does not sound the test note on an air column, in one sentence."""
    note = TEST_NOTE.display
    tube = TUBES[column.tube].words
    if fingering == NONE:
        fitting = ways(column, TEST_NOTE.midi, IN_TUNE_ENOUGH)
        if not fitting:
            if not column.valves:
                return f"No open note of the {tube} tube is {note}."
            return f"No fingering brings a partial of the {tube} tube to {note}."
        pressed = fitting[0].fingering
        how = "Open," if pressed == "0" else fingered(pressed).capitalize()
        return f"{how} the {tube} tube does sound {note}."
    if not column.has(fingering):
        return f"Such a horn has no valves to finger {fingering} with."
    heard = sounding(column, fingering, TEST_NOTE.midi)
    how = f"{FINGERS[fingering]} the {tube} tube {lowering(column.meant(fingering))}"
    how = f"Open, the {tube} tube" if fingering == "0" else capital(how)
    if abs(heard.cents) <= IN_TUNE_ENOUGH:
        return f"{how} sounds {note} as its {nth(heard.partial)} partial."
    off = f"{abs(heard.cents):.0f} cents too {'high' if heard.cents > 0 else 'low'}"
    if fingering in dict(test_note_ways(column)):
        return f"{how} sounds {note} as its {nth(heard.partial)} partial, {off}."
    return f"{how} misses {note}: its {nth(heard.partial)} partial is {off}."


def _sounded(column: AirColumn, answer: str, fits: bool) -> tuple[str, str]:
    usual = test_note_ways(column)[0][0]
    if fits:
        return how_test_note_sounds(column, answer), _in_cents(column, answer)
    if answer == NONE:
        return how_test_note_sounds(column, answer), _in_cents(column, usual)
    should = "no fingering sounds the note" if usual == NONE else f"that tube sounds the note {fingered(usual)}"
    return f"{how_test_note_sounds(column, answer)[:-1]}; {should}.", _in_cents(column, usual)


def _in_cents(column: AirColumn, fingering: str) -> str:
    if fingering == NONE or not column.has(fingering):
        return ""
    heard = sounding(column, fingering, TEST_NOTE.midi)
    pedal = f"The pedal is {TUBES[column.tube].pedal_hz:.1f} Hz"
    sharp = "" if column.in_tune else " The slides belong to a shorter tube, so the valves play sharp."
    return f"{pedal}; partial {heard.partial} with {fingering} comes out {heard.cents:+.0f} cents.{sharp}"


def _test_note(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    return _sounded(one.at_rest, answer, fits)


def _test_note_thumb(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    lever = main_lever(one.build)
    if lever is None:
        return ("Such a horn has no thumb lever." if fits else "Such a horn has no thumb lever to press."), ""
    pressed = one.pressed(lever)
    if fits and answer not in dict(test_note_ways(pressed)):
        other = next(each for each in one.build.thumb_levers if each is not lever)
        return f"That is the other lever: {other.words or other.name}.", ""
    short, detail = _sounded(pressed, answer, fits)
    return f"With the thumb: {short[0].lower()}{short[1:]}", detail


def _step_down(one: Hypothesis, answer: str, fits: bool, note: str | None) -> tuple[str, str]:
    column = one.at_rest
    usual = test_note_ways(column)[0][0]
    kept = note if note not in (None, NONE) and column.has(str(note)) else usual
    if kept == NONE:
        return "Without a fingering for the test note there is no step down.", ""
    partial = sounding(column, str(kept), TEST_NOTE.midi).partial
    step = step_below(column, str(kept))
    short = f"From the {nth(partial)} partial the next one down is {interval(step)} lower"
    detail = f"12 × log2({partial}/{partial - 1}) rounds to {counted(step, 'semitone')}."
    return (f"{short}." if fits else f"{short}, not {interval(int(answer))}."), detail


def _second_set(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    build = one.build
    lengths = second_sets(build)
    if not lengths:
        return ("Such a horn has no second set." if fits else "Such a horn has no second set at all."), ""
    ratio, side = build.set_ratios()[0], build.own_sets[1]
    looks = lengths[0].replace("-", " ")
    short = f"The second set is {looks} than the first" if looks != "much shorter" else "The second set is very short"
    if side.row == "compensating":
        why = "only the difference between the two sides"
    else:
        why = f"all of the {TUBES[side.tube].words} side"
    return (f"{short}." if fits else f"{short}, {_LENGTHS[answer]}."), f"{ratio:.2f} of the first set’s tube: {why}."


def _thumb(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    build = one.build
    if not build.thumb_levers:
        return (f"Such a horn has no thumb lever{'' if fits else ' to change the pitch with'}."), ""
    effects = {thumb_effect(one, lever): lever for lever in build.thumb_levers}
    lever = effects.get(answer) or main_lever(build) or build.thumb_levers[0]
    rest, pressed = one.at_rest, one.pressed(lever)
    change = pressed.pedal - rest.pedal
    if abs(change) < 0.1:
        return f"Pressed alone, {lever.words or lever.name} changes nothing.", ""
    if pressed.tube == rest.tube:
        return (
            f"{capital(lever.words or lever.name)} adds one short slide and lowers the pitch a little.",
            "",
        )
    way = f"{'raises' if change > 0 else 'lowers'} the pitch {interval(round(abs(change)))}"
    return (
        f"{capital(lever.words or lever.name)} leads to the {TUBES[pressed.tube].words} tube and {way}.",
        "",
    )


def _shared_row(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    shares = expected(one, "shared_row")
    if not shares:
        return "Such a horn may answer either way.", ""
    both = BOTH_SIDES in shares
    short = f"The longer row of slides serves {'both sides' if both else 'one side only'}"
    not_so = "" if fits else f", not {'both' if answer == BOTH_SIDES else 'one only'}"
    why = "the other side runs through this row and adds the rest" if both else "each side has slides of its own"
    return f"{short}{not_so}.", f"{why.capitalize()}."


def _each_finger(one: Hypothesis, _answer: str, _fits: bool, _note: str | None) -> tuple[str, str]:
    if not one.build.valves:
        return "Such a horn has no valves, so this says nothing.", ""
    odd = next(iter(expected(one.whole, "each_finger")))
    if odd == NONE:
        return "Each finger of such a horn lowers the note.", ""
    return f"Such a horn has a valve that raises the note: the {nth(int(odd))} finger.", ""


def _measured(key: str, words: str) -> _Sentence:
    def sentence(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
        met = list(dict.fromkeys(MEASURES[key](one.build, wrap) for wrap in one.build.wrap))
        low, high = MEASURED[key][answer]
        short = words.format(" or ".join(f"{each.low:g} to {each.high:g}" for each in met))
        origins = "; ".join(dict.fromkeys(each.origin for each in met))
        return (f"{short}." if fits else f"{short}, not {low} to {high}."), f"{capital(origins)}."

    return sentence


def _shape(attribute: str, words: dict[str, str], what: str) -> _Sentence:
    def sentence(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
        met = [words.get(value, value) for value in getattr(one.build, attribute)]
        if not met:
            return "Such a horn has no valves, so this says nothing.", ""
        stated = f"{what} {' or '.join(met)}"
        return (f"{stated}." if fits else f"{stated}, not {words.get(answer, answer)}."), ""

    return sentence


def _crook(one: Hypothesis, _answer: str, _fits: bool, _note: str | None) -> tuple[str, str]:
    if one.build.valves:
        return "Such a horn has valves, so this says nothing.", ""
    if one.build.crooked:
        return "Such a horn is played with crooks, which come off at the mouthpiece.", ""
    return "The tube of such a horn is all in one piece: no crook comes off.", ""


_SENTENCES: dict[str, _Sentence] = {
    "valves": _valves,
    "slide_sets": _slide_sets,
    "test_note": _test_note,
    "test_note_thumb": _test_note_thumb,
    "step_down": _step_down,
    "second_set": _second_set,
    "thumb": _thumb,
    "shared_row": _shared_row,
    "each_finger": _each_finger,
    "length": _measured("length", "Nine in ten are {} cm long"),
    "width": _measured("width", "Nine bells in ten are {} cm wide"),
    "hand": _shape("hand", {"left": "the left hand", "right": "the right hand"}, "Such a horn is played with"),
    "mechanism": _shape("mechanism", _KINDS, "The valves are"),
    "bell": _shape("bell", _PLACES, "The bell points"),
    "wrap": _shape("wrap", _SHAPES, "Such a horn is wound"),
    "crook": _crook,
}
