"""Sentences from the physics: why an answer speaks for or against a build in a stand.

Each reason has a short sentence and a detail for those who ask; both are made from the description of the
build, so a build that is added explains itself.
"""

from collections.abc import Callable
from dataclasses import dataclass

from identify.core.horns.air import TUBES, sounding
from identify.core.horns.builds import Lever, main_lever
from identify.core.horns.pitch import TEST_NOTE
from identify.core.horns.speech import _s, capital, figure, within
from identify.core.reasoning.evidence import BOTH_SIDES, MEASURED, NONE, Observations
from identify.core.reasoning.expect import (
    MEASURES,
    Hypothesis,
    expected,
    second_sets,
    step_below,
    test_note_ways,
    thumb_effect,
)
from identify.core.reasoning.missed import sounded
from identify.core.reasoning.numbers import counted, interval, nth
from identify.core.reasoning.ranking import Candidate

# From a hypothesis, the answer, whether it fits, and the test note's fingering to a short sentence and its
# detail.
_Sentence = Callable[[Hypothesis, str, bool, str | None], tuple[str, str]]

LONG, WIDE = "Nine in ten are %(cm)s cm long", "Nine bells in ten are %(cm)s cm wide"
PLAYED, VALVES_ARE, POINTS, WOUND = (
    "Such a horn is played with %(hand)s", "The valves are %(kind)s", "The bell points %(where)s",
    "Such a horn is wound %(shape)s",
)  # fmt: skip
HANDS_USED = {"left": "the left hand", "right": "the right hand"}
KINDS = {"rotary": "rotary", "piston": "pistons", "double-piston": "pairs of pistons"}
PLACES = {"back": "back, beside the player", "up": "up", "front": "forward"}
LENGTHS_NOT = {
    "longer": "not longer",
    "shorter": "not a little shorter",
    "much-shorter": "not much shorter",
    NONE: "not missing",
}
SHAPES = {
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
    note = note_heard(hypothesis, key, observations.answers.get("test_note"))
    shares = expected(hypothesis, key, note)
    fits = not shares or answer in shares
    if hypothesis.state is None:
        return Testimony(key, fits, *_SENTENCES[key](hypothesis, answer, fits, note))
    whole = reason_of(hypothesis.whole, key, answer, observations)
    if fits == whole.speaks_for:
        return whole
    return Testimony(key, fits, _s("%(sentence)s, were the horn whole.") % {"sentence": whole.short[:-1]})


def note_heard(hypothesis: Hypothesis, key: str, note: str | None) -> str | None:
    """The test note's fingering on which the sentence hangs: one that such a horn has none of says nothing."""
    return None if key == "step_down" and note not in expected(hypothesis, "test_note") else note


def _valves(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    build = one.build
    count = counted(build.valve_count, "valve")
    worked = [counted(len(build.valves), "finger valve")] if build.valves else []
    worked += [_of_lever(lever) for lever in build.levers]
    told = {"form": _s(build.form_words) if build.form_words else "", "valves": _s(" and ").join(worked)}
    if not worked:
        detail = _s("Such a horn has no valves at all.")
    elif build.form:
        detail = _s("The form %(form)s has %(valves)s.") % told
    else:
        detail = _s("Such a horn has %(valves)s.") % told
    return _counted(count, answer, fits), detail


def _of_lever(lever: Lever) -> str:
    return _s(lever.words or lever.name)


def _counted(count: str, answer: str, fits: bool) -> str:
    said = _s("Such a horn has %(count)s.") if fits else _s("Such a horn has %(count)s, not %(answer)s.")
    return said % {"count": count, "answer": answer}


def _slide_sets(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    build = one.build
    count = counted(build.slide_sets, "set")
    rows = []
    for side in build.sides if build.valves else ():
        words = TUBES[side.tube].words
        if side.row == "full":
            rows.append(_s("the %(side)s side has a set of its own") % {"side": words})
        elif side.row == "compensating":
            through = TUBES[side.through].words
            said = _s("the %(side)s side runs through the %(other)s slides and a short set that adds the rest")
            rows.append(said % {"side": words, "other": through})
        else:
            said = _s("the %(side)s side has no slides of its own and borrows those of %(other)s")
            rows.append(said % {"side": words, "other": TUBES[side.through].words})
    detail = f"{capital('; '.join(rows))}." if rows else _s("Without valves there are no valve slides.")
    return _counted(count, answer, fits), detail


def _test_note(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    return sounded(one.at_rest, answer, fits)


def _test_note_thumb(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    lever = main_lever(one.build)
    if lever is None:
        return (_s("Such a horn has no thumb lever.") if fits else _s("Such a horn has no thumb lever to press.")), ""
    pressed = one.pressed(lever)
    if fits and answer not in dict(test_note_ways(pressed)):
        other = next(each for each in one.build.thumb_levers if each is not lever)
        return _s("That is the other lever: %(lever)s.") % {"lever": _of_lever(other)}, ""
    short, detail = sounded(pressed, answer, fits)
    return _s("With the thumb: %(sentence)s") % {"sentence": within(short)}, detail


def _step_down(one: Hypothesis, answer: str, fits: bool, note: str | None) -> tuple[str, str]:
    column = one.at_rest
    usual = test_note_ways(column)[0][0]
    kept = note if note not in (None, NONE) and column.has(str(note)) else usual
    if kept == NONE:
        return _s("Without a fingering for the test note there is no step down."), ""
    partial = sounding(column, str(kept), TEST_NOTE.midi).partial
    step = step_below(column, str(kept))
    said = {"partial": nth(partial), "interval": interval(step), "answer": "" if fits else interval(int(answer))}
    if fits:
        short = _s("From the %(partial)s partial the next one down is %(interval)s lower.") % said
    else:
        short = _s("From the %(partial)s partial the next one down is %(interval)s lower, not %(answer)s.") % said
    sum_ = {"sum": f"12 × log2({partial}/{partial - 1})", "semitones": counted(step, "semitone")}
    return short, _s("%(sum)s rounds to %(semitones)s.") % sum_


def _second_set(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    build = one.build
    lengths = second_sets(build)
    if not lengths:
        return (_s("Such a horn has no second set.") if fits else _s("Such a horn has no second set at all.")), ""
    ratio, side = build.set_ratios()[0], build.own_sets[1]
    short = {
        "longer": _s("The second set is longer than the first"),
        "shorter": _s("The second set is shorter than the first"),
        "much-shorter": _s("The second set is very short"),
    }[lengths[0]]
    said = {"ratio": figure(ratio, 2), "side": TUBES[side.tube].words}
    if side.row == "compensating":
        why = _s("%(ratio)s of the first set’s tube: only the difference between the two sides.") % said
    else:
        why = _s("%(ratio)s of the first set’s tube: all of the %(side)s side.") % said
    return (f"{short}." if fits else f"{short}, {_s(LENGTHS_NOT[answer])}."), why


def _thumb(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    build = one.build
    if not build.thumb_levers:
        if fits:
            return _s("Such a horn has no thumb lever."), ""
        return _s("Such a horn has no thumb lever to change the pitch with."), ""
    effects = {thumb_effect(one, lever): lever for lever in build.thumb_levers}
    lever = effects.get(answer) or main_lever(build) or build.thumb_levers[0]
    rest, pressed = one.at_rest, one.pressed(lever)
    change = pressed.pedal - rest.pedal
    said = {"lever": _of_lever(lever), "tube": TUBES[pressed.tube].words, "interval": interval(round(abs(change)))}
    if abs(change) < 0.1:
        return _s("Pressed alone, %(lever)s changes nothing.") % said, ""
    said["lever"] = capital(said["lever"])
    if pressed.tube == rest.tube:
        return _s("%(lever)s adds one short slide and lowers the pitch a little.") % said, ""
    if change > 0:
        return _s("%(lever)s leads to the %(tube)s tube and raises the pitch %(interval)s.") % said, ""
    return _s("%(lever)s leads to the %(tube)s tube and lowers the pitch %(interval)s.") % said, ""


def _shared_row(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
    shares = expected(one, "shared_row")
    if not shares:
        return _s("Such a horn may answer either way."), ""
    both = BOTH_SIDES in shares
    short = {
        (True, True): _s("The longer row of slides serves both sides."),
        (False, True): _s("The longer row of slides serves one side only."),
        (True, False): _s("The longer row of slides serves both sides, not one only."),
        (False, False): _s("The longer row of slides serves one side only, not both."),
    }[both, fits]
    if both:
        return short, _s("The other side runs through this row and adds the rest.")
    return short, _s("Each side has slides of its own.")


def _each_finger(one: Hypothesis, _answer: str, _fits: bool, _note: str | None) -> tuple[str, str]:
    if not one.build.valves:
        return _s("Such a horn has no valves, so this says nothing."), ""
    odd = next(iter(expected(one.whole, "each_finger")))
    if odd == NONE:
        return _s("Each finger of such a horn lowers the note."), ""
    said = _s("Such a horn has a valve that raises the note: the %(finger)s finger.")
    return said % {"finger": nth(int(odd))}, ""


def _measured(key: str, words: str) -> _Sentence:
    def sentence(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
        met = list(dict.fromkeys(MEASURES[key](one.build, wrap) for wrap in one.build.wrap))
        low, high = MEASURED[key][answer]
        met_so = [_s("%(low)s to %(high)s") % {"low": figure(each.low), "high": figure(each.high)} for each in met]
        short = _s(words) % {"cm": _s(" or ").join(met_so)}
        origins = "; ".join(dict.fromkeys(each.origin for each in met))
        if fits:
            return f"{short}.", f"{capital(origins)}."
        said = _s("%(sentence)s, not %(low)s to %(high)s.") % {"sentence": short, "low": low, "high": high}
        return said, f"{capital(origins)}."

    return sentence


def _shape(attribute: str, words: dict[str, str], sentence: str, blank: str) -> _Sentence:
    def said(one: Hypothesis, answer: str, fits: bool, _note: str | None) -> tuple[str, str]:
        met = [_s(words.get(value, value)) for value in getattr(one.build, attribute)]
        if not met:
            return _s("Such a horn has no valves, so this says nothing."), ""
        stated = _s(sentence) % {blank: _s(" or ").join(met)}
        if fits:
            return f"{stated}.", ""
        return _s("%(sentence)s, not %(answer)s.") % {"sentence": stated, "answer": _s(words.get(answer, answer))}, ""

    return said


def _crook(one: Hypothesis, _answer: str, _fits: bool, _note: str | None) -> tuple[str, str]:
    if one.build.valves:
        return _s("Such a horn has valves, so this says nothing."), ""
    if one.build.crooked:
        return _s("Such a horn is played with crooks, which come off at the mouthpiece."), ""
    return _s("The tube of such a horn is all in one piece: no crook comes off."), ""


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
    "length": _measured("length", LONG),
    "width": _measured("width", WIDE),
    "hand": _shape("hand", HANDS_USED, PLAYED, "hand"),
    "mechanism": _shape("mechanism", KINDS, VALVES_ARE, "kind"),
    "bell": _shape("bell", PLACES, POINTS, "where"),
    "wrap": _shape("wrap", SHAPES, WOUND, "shape"),
    "crook": _crook,
}
