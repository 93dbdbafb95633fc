"""Scores pitch finders over clips and lays the figures out as tables."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from identify.core.hearing.notes import SURE
from tests.bench.chance import short
from tests.bench.hearing.clips import Clip
from tests.bench.hearing.others import Finder

CLOSE = 20.0  # cents


@dataclass
class Tally:
    """Of one finder. Counts of clips; cents of the right answers; seconds of processor time and of sound."""

    name: str
    timed: bool = True
    notes: int = 0
    answered: int = 0
    right: int = 0
    octaves: int = 0
    gross: int = 0
    without: int = 0
    false: Counter[str] = field(default_factory=Counter)
    kinds: Counter[str] = field(default_factory=Counter)
    sure_and_wrong: int = 0
    cents: list[float] = field(default_factory=list)
    spent: float = 0.0
    sound: float = 0.0
    wrong: list[str] = field(default_factory=list)
    met: Counter[str] = field(default_factory=Counter)
    mastered: Counter[str] = field(default_factory=Counter)

    def add(self, clip: Clip, hz: float | None, confidence: float) -> None:
        if clip.hz is None:
            self.without += 1
            self.kinds[clip.kind] += 1
            if hz is not None:
                self.false[clip.kind] += 1
                self.sure_and_wrong += confidence >= SURE
            return
        self.notes += 1
        met = circumstances(clip)
        self.met.update(met)
        if hz is None:
            return
        self.answered += 1
        off = 1200 * float(np.log2(hz / clip.hz))
        if abs(off) <= CLOSE:
            self.right += 1
            self.mastered.update(met)
            self.cents.append(abs(off))
            return
        self.octaves += min(abs(abs(off) - 1200), abs(abs(off) - 2400)) < 60
        self.gross += abs(off) > 60
        self.sure_and_wrong += confidence >= SURE
        self.wrong.append(
            f"{clip.what} {clip.hz:.1f} Hz heard as {hz:.1f} ({off:+.0f} cents, confidence {confidence:.2f}; "
            f"{clip.seconds:.1f} s at {clip.rate} Hz, {', '.join(clip.how) or 'clean'})"
        )

    def row(self, pace: float) -> str:
        def share(part: int, whole: int) -> str:
            return f"{100 * part / whole:.2f} %" if whole else "–"

        return (
            f"{self.name:<30}{share(self.answered, self.notes):>10}{share(self.right, self.answered):>12}"
            f"{share(self.right, self.notes):>11}{share(self.octaves, self.notes):>10}"
            f"{share(self.gross, self.notes):>9}{share(sum(self.false.values()), self.without):>9}"
            f"{np.median(self.cents) if self.cents else 0:>8.2f}"
            + (
                f"{1000 * self.spent / max(self.sound, 1e-9):>9.1f}{self.spent / max(pace, 1e-9):>8.1f}"
                if self.timed
                else f"{'–':>9}{'–':>8}"
            )
        )


def circumstances(clip: Clip) -> list[str]:
    """What makes a note hard to hear, as far as the table tells it apart. The pages record a second and more."""
    long = clip.seconds >= 1
    return [clip.what, *(clip.how or ("clean",)), f"{clip.what} of 1 s and more" if long else "under 1 s"]


def missed(ours: Tally) -> list[str]:
    """The aims that ours falls short of by more than chance does, in words."""
    figures = (
        ("99.3 % of all notes within 20 cents", short(ours.right, ours.notes, 0.993)),
        ("99.7 % of the answered notes within 20 cents", short(ours.right, ours.answered, 0.997)),
        ("95 % by telephone", short(ours.mastered["telephone"], ours.met["telephone"], 0.95)),
        ("0.05 % octave errors at most", short(ours.notes - ours.octaves, ours.notes, 0.9995)),
        ("1 % false answers at most", short(ours.without - sum(ours.false.values()), ours.without, 0.99)),
        ("nothing sure that is wrong", ours.sure_and_wrong > 0),
        ("15 ms a second of sound", ours.spent > 0.015 * ours.sound),
    )
    return [words for words, missed_it in figures if missed_it]


HEADING = (
    f"{'':<30}{'answered':>10}{'right: of':>12}{'of all':>11}{'octave':>10}{'wrong':>9}{'false':>9}"
    f"{'median':>8}{'ms a s':>9}{'time':>8}\n"
    f"{'':<30}{'':>10}{'answered':>12}{'notes':>11}{'errors':>10}{'note':>9}{'answers':>9}{'cents':>8}"
    f"{'of sound':>9}{'/ ours':>8}"
)


def score(finders: Sequence[Finder], clips: Iterable[Clip]) -> list[Tally]:
    """Every finder on every clip, one after another on each, so that a busy machine slows all alike."""
    tallies = [Tally(finder.name, finder.timed) for finder in finders]
    for number, clip in enumerate(clips):
        for finder, tally in zip(finders, tallies, strict=True):
            if number == 0:
                finder.ask(clip)  # the first call compiles and loads; it is not timed
            before = time.process_time()
            hz, confidence = finder.ask(clip)
            tally.spent += time.process_time() - before
            tally.sound += clip.seconds
            tally.add(clip, hz, confidence)
    return tallies


def table(tallies: Sequence[Tally]) -> str:
    pace = tallies[0].spent
    lines = [HEADING, *(tally.row(pace) for tally in tallies)]
    ours = tallies[0]
    kinds = ", ".join(f"{kind} {ours.false[kind]}/{count}" for kind, count in sorted(ours.kinds.items()))
    lines.append(f"  false answers of ours: {kinds}")
    met = ", ".join(
        f"{what} {100 * ours.mastered[what] / count:.1f} % of {count}" for what, count in ours.met.most_common()
    )
    lines.append(f"  of all notes ours heard: {met}")
    lines.append(f"  ours said sure (≥ {SURE}) and was wrong: {ours.sure_and_wrong} of {ours.notes + ours.without}")
    lines += [f"  ours wrong: {wrong}" for wrong in ours.wrong[:20]]
    return "\n".join(lines)
