"""The pages that listen: the test note and the step-down on their steps, and the tube from its open notes."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.utils.translation import gettext as _s

from identify.core.hearing import sounded
from identify.core.hearing.claim import ClaimChecked, RecordedTubes, check_claim
from identify.core.hearing.kept_notes import DOWN, STEP, UP
from identify.core.hearing.notes import HeardNote, Played
from identify.core.horns.air import TUBES
from identify.core.horns.pitch import A4_HZ, both_names, hz_to_midi
from identify.core.horns.speech import figure
from identify.core.reasoning.verdict import Verdict
from identify.questions import BY_EAR
from identify.tuning import Tuning, tuning
from identify.walk import HEARD_ON, Walk
from identify.words import how_sure, in_words

ENOUGH = 4  # neighbouring open notes that tell nearly every tube
FEWEST = 3  # notes before the page calls a tube found: one of two may be wrong


@dataclass(frozen=True, slots=True)
class HeardTold:
    """What is said of one recording: the note if there was one, whether it is of use, and what to do."""

    heard: HeardNote
    good: bool
    sentence: str
    offer: str = ""  # an answer to the step-down, for the person to accept
    asked: int | None = None  # the note that was asked for, a MIDI number
    a4: float = A4_HZ

    @property
    def picture(self) -> Tuning | None:
        return tuning(self.heard, self.asked, self.a4)

    @property
    def sure(self) -> str:
        return how_sure(self.heard.confidence, self.heard.confidence)


@dataclass(frozen=True, slots=True)
class KeptOnStep:
    """One open note on the page: its name, how sure the hearing was, and the address without it."""

    name: str
    hz: float
    sure: str
    without: str


@dataclass(frozen=True, slots=True)
class Listening:
    """What a page needs to listen: what to play, which step the recording is for, and what was told of the last."""

    step: str
    prompt: str
    address: str
    told: HeardTold | None = None
    kept: str = ""
    forget: str = ""


def heard_on(taken: Walk, step: str, heard: HeardNote, a4: float = A4_HZ) -> tuple[Walk, HeardTold]:
    """The walk with a note heard on one of its steps, or with an open note, and what to say of it.

    `a4` is what the school tunes its A to, in hertz.
    """
    if step == "step_down":
        taken, told = _step_down(taken, heard, a4)
    elif step in HEARD_ON:
        taken, told = _test_note(taken, step, heard, a4)
    else:
        taken, told = _open_note(taken, step, heard)
    return taken, replace(told, a4=a4)


def on_step(taken: Walk, step: str, told: HeardTold | None = None) -> Listening | None:
    """The listening part of a step, or None where there is nothing to hear."""
    if step not in HEARD_ON:
        return None
    field = HEARD_ON[step]
    notes = taken.notes[field]
    # At a second look the notes of the first one would tell its answer; the test note that a step begins from does not.
    if taken.blind and not told and not (step == "step_down" and len(notes) == 1):
        notes = ()
    prompt = _s("Press Listen, then play the test note and hold it.")
    if notes:
        prompt = _s("Not what you meant? Listen again.")
    if step == "step_down":
        prompt = _s("Listen again, from the test note.")
        if not notes:
            prompt = _s("First the test note: press Listen, play it and hold it.")
        if len(notes) == 1:
            prompt = _s("Now keep the same valves and slur down to the next note. Press Listen and hold that one.")
    kept = _s(", then ").join(f"{both_names(round(hz_to_midi(note.hz)))}, {figure(note.hz, 1)} Hz" for note in notes)
    there = Walk.second_look if taken.blind else Walk.address
    forget = there(taken.with_notes(taken.notes.having(field, ())), step) if notes else ""
    return Listening(step, prompt, there(taken, step), told, kept, forget)


def _played(heard: HeardNote) -> Played:
    assert heard.hz is not None
    return Played(round(heard.hz, 1), max(0.01, round(heard.confidence, 2)))


def _test_note(taken: Walk, step: str, heard: HeardNote, a4: float) -> tuple[Walk, HeardTold]:
    said = sounded.test_note(heard, a4)
    if said.is_it:
        taken = taken.with_notes(taken.notes.having(HEARD_ON[step], [_played(heard)]))
    return taken, HeardTold(heard, bool(said.is_it), said.sentence, asked=sounded.TEST_NOTE)


def _step_down(taken: Walk, heard: HeardNote, a4: float) -> tuple[Walk, HeardTold]:
    notes = taken.notes[STEP]
    if len(notes) != 1:
        said = sounded.test_note(heard, a4)
        if said.is_it:
            taken = taken.with_notes(taken.notes.having(STEP, [_played(heard)]))
            sentence = _s("This is the test note. Keep the same valves for the next one.")
            return taken, HeardTold(heard, True, sentence, asked=sounded.TEST_NOTE)
        return taken, HeardTold(heard, False, said.sentence, asked=sounded.TEST_NOTE)
    upper = notes[0]
    fallen = sounded.step_down(HeardNote(upper.hz, upper.confidence), heard)
    if heard.hz is None or fallen.semitones is None:
        return taken, HeardTold(heard, False, heard.reason or fallen.sentence)
    taken = taken.with_notes(taken.notes.having(STEP, [upper, _played(heard)]))
    offer = str(fallen.semitones) if fallen.confidence >= 0.5 else ""
    sentence = fallen.sentence if offer else f"{fallen.sentence} {_s('But that is not sure: play both notes again.')}"
    return taken, HeardTold(heard, bool(offer), sentence, offer)


def _open_note(taken: Walk, side: str, heard: HeardNote) -> tuple[Walk, HeardTold]:
    if heard.hz is None:
        return taken, HeardTold(heard, False, heard.reason or "")
    note = _played(heard)
    if taken.notes.has(side, note):
        return taken, HeardTold(heard, False, _s("That is a note you have played already. Blow for the next one up."))
    return taken.with_notes(taken.notes.adding(side, note)), HeardTold(heard, True, _s("Kept."))


def tube_shown(
    taken: Walk, side: str, verdict: Verdict, record: RecordedTubes | None, told: HeardTold | None
) -> dict[str, object]:
    """What the page about the tube shows of the notes so far."""
    from identify.core.hearing.open_notes import find_tube

    notes = taken.notes[side]
    found = find_tube(notes)
    settled = found.settled and len(notes) >= FEWEST
    other = UP if side == DOWN else DOWN
    lever = record.down is not None if record else any(one.build.thumb_levers for one in verdict.still_possible)
    return {
        "question": BY_EAR[side].of_horn(taken.answer("valves")),
        "kept": [_kept(taken, side, note) for note in notes],
        "found": found if len(notes) > 1 else None,
        "settled": settled,
        "first_notes": len(notes) < FEWEST,
        "tubes": [(TUBES[code].words, in_words(share)) for code, share in found.candidates if code in found.remaining],
        "claim": _claim(notes, side, record),
        "record": record,
        "listening": Listening(side, _prompt(notes, settled), taken.address(side), told),
        "other": taken.address(other) if lever or taken.notes[other] or side == DOWN else "",
        "other_done": bool(taken.notes[other]),
        "enough": settled or len(notes) >= ENOUGH,
        "not_enough": not settled and len(notes) < ENOUGH,
        "onward": taken.address(),
        "afresh": taken.with_notes(taken.notes.having(side, ())).address(side) if notes else "",
    }


def _prompt(notes: tuple[Played, ...], settled: bool) -> str:
    if not notes:
        return _s("Play the lowest open note that speaks easily, and hold it.")
    if len(notes) < ENOUGH:
        return _s("Now the next open note up. Skip none.")
    if settled:
        return _s("That is enough. One more note would make it surer still.")
    return _s("Play the note named above, if it speaks; or any open note not played yet.")


def _kept(taken: Walk, side: str, note: Played) -> KeptOnStep:
    left = [one for one in taken.notes[side] if one != note]
    address = taken.with_notes(taken.notes.having(side, left)).address(side)
    return KeptOnStep(both_names(round(hz_to_midi(note.hz))), note.hz, in_words(note.confidence), address)


def _claim(notes: tuple[Played, ...], side: str, record: RecordedTubes | None) -> ClaimChecked | None:
    """What the open notes say of the record, once there are enough to call a tube found."""
    tube = record and (record.down if side == DOWN else record.up)
    return check_claim(notes, tube) if tube and len(notes) >= FEWEST else None


def heard_reasons(taken: Walk) -> list[str]:
    """For the result: what the open notes say, with the thumb up and down where there is one to hold."""
    from identify.core.hearing.open_notes import find_tube

    said, notes = [], taken.notes
    for side, words in (
        (UP, _s("Thumb up, no valve pressed.")),
        (DOWN, _s("Thumb down, no valve pressed.")),
    ):
        if len(notes[side]) > 1:
            found = find_tube(notes[side]).sentence
            said.append(found if taken.answer("valves") == "0" else f"{words} {found}")
    return said
