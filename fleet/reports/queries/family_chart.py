"""What a family's fingering chart says, on the page and on paper, in the language spoken now: nothing that wants a
teacher to explain it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.ground.languages.known import spoken_tag
from fleet.ground.wording import with_commas
from fleet.register.models import Horn
from identify.core.drawing.hand import hand
from identify.core.drawing.picture import Picture
from identify.core.fingering.charts import Chart
from identify.core.fingering.words import chosen_notes, label, legend, letters, thumb_is_used
from identify.core.horns.note_names import named

# In a list of all notes, since do, re, mi say no octave. Middle C, as it is written, begins the first.
OCTAVES = {
    -3: _("Three octaves lower"),
    -2: _("Two octaves lower"),
    -1: _("An octave lower"),
    0: _("First octave"),
    1: _("An octave higher"),
    2: _("Two octaves higher"),
}
KINDS = {"five": _("First five notes"), "octave": _("First octave"), "all": _("All notes")}


@dataclass(frozen=True, slots=True)
class FamilyChart:
    """`octaves` are headings ("" where there is but one) with notes as (written, fingering, others) from the lowest up,
    `signs` what stands under them and means what."""

    kind: str
    horn: str
    octaves: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...]
    signs: tuple[tuple[str, str], ...]
    fingers: tuple[str, ...]

    @property
    def words(self) -> str:
        """Which notes it shows."""
        return str(KINDS[self.kind])


def chart_for_family(horn: Horn, chart: Chart, kind: str) -> FamilyChart:
    octaves: dict[str, list[tuple[str, str, str]]] = {}
    for note in chosen_notes(chart, kind):
        others = with_commas(label(chart, way, marked=False) for way in note.alternatives)
        name = named(note.written, spoken_tag(), horn.school.note_names)
        heading = str(OCTAVES[note.written.midi // 12 - 5]) if kind == "all" else ""
        octaves.setdefault(heading, []).append((name, label(chart, note.ways[0]), others))
    return FamilyChart(
        kind,
        capfirst(horn.in_full),
        tuple((heading, tuple(notes)) for heading, notes in octaves.items()),
        tuple((sign, _meaning(chart, sign)) for sign, _words in legend(chart, kind)),
        _fingers(chart, kind) if chart.build.valves else (),
    )


def hand_of(chart: Chart, kind: str) -> Picture | None:
    """The drawn hand; None for a horn without valves."""
    return hand(chart.build, thumb_is_used(chart, kind)) if chart.build.valves else None


def _meaning(chart: Chart, sign: str) -> str:
    by_hand = {
        "o": gettext("the hand leaves the bell open"),
        "½": gettext("the hand half closes the bell"),
        "+": gettext("the hand closes the bell"),
        "( )": gettext("another way to play it"),
        "0": gettext("no finger"),
        "*": gettext("comes out a little high: the teacher shows what to do"),
    }
    if sign in by_hand:
        return by_hand[sign]
    if list(letters(chart.build).values()).count(sign) == 1 and len(letters(chart.build)) > 1:
        names = {letter: lever for lever in chart.build.thumb_levers for letter in [letters(chart.build)[lever.name]]}
        return gettext("the thumb: %(lever)s") % {"lever": gettext(names[sign].words)}
    return gettext("the thumb presses its lever")


def _fingers(chart: Chart, kind: str) -> tuple[str, ...]:
    build = chart.build
    left = gettext("Left hand: 1 is the index finger, 2 the middle finger, 3 the ring finger.")
    right = gettext("Right hand: 1 is the index finger, 2 the middle finger, 3 the ring finger.")
    said = [right if build.hand[:1] == ("right",) else left]
    if build.fingered > 3:
        said.append(gettext("4 is the little finger."))
    if build.thumb_levers and thumb_is_used(chart, kind):
        said.append(
            gettext("%(letters)s: the thumb.") % {"letters": with_commas(dict.fromkeys(letters(build).values()))}
        )
    return tuple(said)
