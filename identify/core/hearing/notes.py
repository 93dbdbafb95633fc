"""A note as it was heard, and as it was played: plain numbers, so that pages know them without what hears."""

from __future__ import annotations

from dataclasses import dataclass

from identify.core.horns.pitch import hz_to_midi

SURE = 0.98  # nothing held out that was wrong came near it


@dataclass(frozen=True)
class HeardNote:
    """What was heard. ``hz``, ``note`` (as sounding, ``Bb3``), ``written`` (part in F) and ``cents`` from
    the note are None when no single steady note was; then ``reason`` is a sentence saying so and what to
    do, ``code`` its key in REASONS. ``confidence`` (0–1) is the chance that ``hz`` is right; below
    LEAST_CONFIDENCE nothing is answered.

    ``course`` is how the pitch went, in cents from ``hz``, at most sixty points; ``remarks`` are sentences
    about flaws that did no harm.
    """

    hz: float | None
    confidence: float
    code: str | None = None
    reason: str | None = None
    note: str | None = None
    written: str | None = None
    cents: float | None = None
    seconds: float = 0.0
    course: tuple[float, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def sure(self) -> bool:
        return self.hz is not None and self.confidence >= SURE

    @property
    def midi(self) -> int | None:
        """The nearest MIDI note."""
        return None if self.hz is None else round(hz_to_midi(self.hz))


@dataclass(frozen=True)
class Played:
    """A note somebody sounded: Hz, how sure the hearing is (0–1), and which valves were down."""

    hz: float
    confidence: float = 1.0
    fingering: str = "0"
