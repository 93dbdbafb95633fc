"""What stands on a chart: its title, labels and legend, rows for machines, and the names asked for."""

import difflib
import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from identify.core.fingering.charts import Chart, ChartNote, chart, thumb_matters
from identify.core.fingering.teaching import Teaching
from identify.core.fingering.trills import Trill
from identify.core.fingering.ways import Way
from identify.core.horns.air import TUBES
from identify.core.horns.builds import Build, Stand
from identify.core.horns.catalogue import catalogue
from identify.core.horns.pitch import name_of, other_spelling, parse_note, part_key, sounding
from identify.core.horns.speech import _s, capital

KINDS = {"five": "first five notes", "octave": "first octave", "all": "all notes"}
# All notes in parts, each with the written note it begins at: a phone need not show all of them at once.
PARTS = {"lowest": "below C3", "low": "C3 to B3", "middle": "C4 to B4", "high": "C5 and higher"}
_BEGIN = {"lowest": 0, "low": 48, "middle": 60, "high": 72}
_FIVE = ("C4", "D4", "E4", "F4", "G4")
_OCTAVE = (*_FIVE, "A4", "B4", "C5")
_OPEN_FIVE = ("G3", "C4", "E4", "G4", "C5")
_OPEN_OCTAVE = ("C4", "E4", "G4", "C5")
# Of a tube as short as a trumpet, whose 2nd partial is written C4: what signals are made of.
_SIGNAL_FIVE = ("C4", "G4", "C5", "E5", "G5")
_SIGNAL_OCTAVE = ("C4", "G4", "C5")
_SHORT_PEDAL = 48
_HAND_LABELS = {"": "o", "half": "½", "stopped": "+"}
_HAND_SIGNS = {"": "", "stopped": "+"}


def kind_asked(words: Mapping[str, str], usual: str = "all") -> str:
    """The kind of chart in the words of an address; `usual` for none and for one we do not know."""
    wanted = words.get("notes", usual)
    return wanted if wanted in KINDS else usual


class NotInCatalogue(ValueError):
    """A build, form or stand there is none of; the message lists what there is."""


def _plain(text: str) -> str:
    words = text.strip().casefold().replace("♭", "b").replace("♯", "#")
    return re.sub(r"[^a-z0-9#]", "", words.replace("b-flat", "bb").replace("flat", "b"))


def build_named(code: str, form: str = "") -> Build:
    """The build of a code such as `double-full`, in one of its forms. Raises NotInCatalogue."""
    builds = catalogue()
    found = next((build for build in builds.values() if _plain(build.code) == _plain(code)), None)
    if found is None:
        near = difflib.get_close_matches(code.casefold(), list(builds), 1)
        hint = f" Did you mean {near[0]}?" if near else ""
        raise NotInCatalogue(f"There is no build {code!r}.{hint} Known are: {', '.join(builds)}.")
    for made in found.forms:
        if _plain(made.form) == _plain(form):
            return made
    forms = ", ".join(repr(made.form) for made in found.forms if made.form)
    raise NotInCatalogue(
        f"{found.code} has no form {form!r}. " + (f"Its forms are: {forms}." if forms else "It has only one.")
    )


def stand_named(build: Build, name: str = "") -> Stand:
    """The stand of a name such as `Bb`, `B♭` or `high-f`; may be left out where there is only one.

    Raises NotInCatalogue.
    """
    allowed = ", ".join(stand.name for stand in build.stands)
    if not name.strip():
        if len(build.stands) == 1:
            return build.stands[0]
        raise NotInCatalogue(f"Say what the {build.code} stands in; it can be: {allowed}.")
    for stand in build.stands:
        if _plain(stand.name) == _plain(name):
            return stand
    raise NotInCatalogue(f"A {build.code} does not stand in {name!r}; it can be: {allowed}.")


def letters(build: Build) -> dict[str, str]:
    """Thumb lever to its letter, in a chart and on a drawing: T, as is trade usage.

    H for the high side of a triple, S for a stopping slide.
    """
    changes = [lever for lever in build.thumb_levers if lever.does != "stopping"]
    return {
        lever.name: "S"
        if lever.does == "stopping"
        else "H"
        if len(changes) > 1 and lever.name.startswith("high")
        else "T"
        for lever in build.thumb_levers
    }


def lever_letters(chart: Chart) -> dict[str, str]:
    """The letters of the thumb levers that a chart uses."""
    used = {name for note in chart.notes for way in (*note.ways, *note.stopped) for name in way.thumb}
    return {name: letter for name, letter in letters(chart.build).items() if name in used}


def label(chart: Chart, way: Way, marked: bool = True) -> str:
    """What stands under a note: `12`, `T0`, `+2` stopped, with a star where it is far off (unless not `marked`).

    On a natural horn `o`, `½` or `+`.
    """
    if not chart.build.valves:
        return _HAND_LABELS[way.hand]
    thumb, star = beside_fingers(chart, way)
    return _HAND_SIGNS[way.hand] + thumb + way.fingering + (star if marked else "")


def beside_fingers(chart: Chart, way: Way) -> tuple[str, str]:
    """What a label says beside the fingers: the letters of the thumb, and a star where it is far off."""
    letters = lever_letters(chart)
    star = "*" if way.far_off and not way.hand else ""  # the hand finds the pitch
    return "".join(letters[name] for name in way.thumb), star


def trill_label(chart: Chart, trill: Trill) -> str:
    """Such as `T0~` for the lip, `1-12` for one valve."""
    lower = label(chart, trill.lower, marked=False)
    return f"{lower}-{trill.upper.fingering}" if trill.upper else f"{lower}~"


def shown_names(chart: Chart, note: ChartNote) -> str:
    """A written note by the names this chart gives it, such as `C♯4 / D♭4`."""
    other = other_spelling(note.written)
    both = "both" in chart.teaching.layers and other != note.written
    return f"{note.written.display} / {other.display}" if both else note.written.display


def spelled_notes(chart: Chart, kind: str) -> tuple[ChartNote, ...]:
    """`chosen_notes`, each black key by both names where the chart shows both, the sharp first."""
    found: list[ChartNote] = []
    for note in chosen_notes(chart, kind):
        other = other_spelling(note.written)
        if "both" not in chart.teaching.layers or other == note.written:
            found.append(note)
        else:
            pair = sorted((note.written, other), key=lambda written: -written.alter)
            found += [replace(note, written=one, sounding=sounding(one, chart.part.code)) for one in pair]
    return tuple(found)


def chosen_notes(chart: Chart, kind: str) -> tuple[ChartNote, ...]:
    """The notes of a kind of chart that sound: a beginner's five or octave, all or one of `PARTS`. Raises KeyError."""
    if kind in PARTS:
        return tuple(note for note in chart.sounding_notes if part_of(note) == kind)
    KINDS[kind]
    if kind == "all":
        return chart.sounding_notes
    five: tuple[str, ...] = _FIVE
    octave: tuple[str, ...] = _OCTAVE
    if not chart.build.valves:
        short = TUBES[chart.stand.tube].pedal - chart.part.semitones == _SHORT_PEDAL
        five, octave = (_SIGNAL_FIVE, _SIGNAL_OCTAVE) if short else (_OPEN_FIVE, _OPEN_OCTAVE)
    names = five if kind == "five" else octave
    lower = part_key(chart.build.reads_in(chart.stand)).semitones - chart.part.semitones  # a part in the bass clef
    names = tuple(name_of(parse_note(name).midi + lower).name for name in names)
    return tuple(note for note in chart.sounding_notes if note.written.name in names)


def part_of(note: ChartNote) -> str:
    """In which of `PARTS` a note stands."""
    return max((part for part in PARTS if note.written.midi >= _BEGIN[part]), key=lambda part: _BEGIN[part])


def thumb_is_used(chart: Chart, kind: str) -> bool:
    """Whether any note of a kind of chart is usually played with the thumb."""
    return any(note.ways[0].thumb for note in chosen_notes(chart, kind))


def differs(of: Chart, kind: str, teaching: Teaching) -> bool:
    """Whether a kind of chart shows anything else when it is taught so."""

    def shown(one: Chart) -> list[object]:
        notes = spelled_notes(one, kind)
        return [(n.written, n.ways if kind == "all" else n.ways[0], n.stopped, n.trills) for n in notes]

    return shown(of) != shown(chart(of.build, of.stand, teaching))


def title(chart: Chart) -> str:
    """Such as: Full double horn in F and B♭, standing in F."""
    build = chart.build
    said = [_s(build.name), *([_s(build.form_words)] if build.form_words else [])]
    if build.crooked:
        said.append(_s("%(key)s crook") % {"key": _s(chart.stand.words)})
    elif len(build.stands) > 1:
        said.append(_s("standing in %(key)s") % {"key": _s(chart.stand.words)})
    if not chart.teaching.thumb and thumb_matters(build, chart.stand):
        said.append(_s("thumb never pressed"))
    if chart.part.code != build.reads_in(chart.stand):
        said.append(_s("bass clef"))
    return capital(_s(", ").join(said))


def legend(chart: Chart, kind: str = "all") -> tuple[tuple[str, str], ...]:
    """(sign, meaning) of what stands under the notes of a kind of chart; only signs that occur."""
    notes = chosen_notes(chart, kind)
    usual = [note.ways[0] for note in notes]
    stopped = [note.stopped[0] for note in notes if note.stopped]
    if not chart.build.valves:
        words = {
            "": _s("open"),
            "half": _s("the hand half closes the bell"),
            "stopped": _s("the hand closes the bell"),
        }
        shown = [note.alternatives[0] for note in notes if kind == "all" and note.alternatives]
        met = {way.hand for way in (*usual, *shown)}
        signs = [(_HAND_LABELS[hand], words[hand]) for hand in words if hand in met]
        return (*signs, *([("( )", _s("another way"))] if shown else []))
    letters = lever_letters(chart)
    lines = [
        (letters[lever.name], _s("thumb presses %(lever)s") % {"lever": _s(lever.words or f"the {lever.name} lever")})
        for lever in chart.build.thumb_levers
        if any(lever.name in way.thumb for way in (*usual, *stopped))
    ]
    lines.append(("0", _s("no finger")))
    if kind == "all" and any(note.alternatives for note in notes):
        lines.append(("( )", _s("another fingering")))
    if stopped:
        lines.append(("+", _s("stopped: the hand closes the bell")))
    tones = [trill for note in notes for trill in note.trills if trill.semitones == 2]
    if any(trill.upper is None for trill in tones):
        lines.append(("~", _s("trill to the tone above by the lip")))
    if any(trill.upper for trill in tones):
        lines.append(("-", _s("trill to the tone above between these two")))
    far = [abs(way.cents) for way in usual if way.far_off]
    if far:
        sharp = _s("up to %(cents)s cents sharp as tuned: pull the slides out or lip it down")
        lines.append(("*", sharp % {"cents": f"{max(far):.0f}"}))
    return tuple(lines)


def _way_row(note: ChartNote, way: Way | None) -> dict[str, Any]:
    return {
        "written": note.written.name,
        "sounding": note.sounding.name,
        "fingering": way.fingering if way else "",
        "thumb": list(way.thumb) if way else [],
        "partial": way.partial if way else None,
        "cents": round(way.cents, 1) if way else None,
        "hand": way.hand if way else "",
        "warning": way.warning if way else "",
        "alternatives": [],
        "stopped": [],
        "trills": [],
        "sounds": way is not None,
    }


def rows(chart: Chart) -> list[dict[str, Any]]:
    """The chart for machines, rising, JSON-ready; `partial` and `cents` are None where nothing sounds."""
    table = []
    for note in chart.notes:
        row = _way_row(note, note.usual)
        row["alternatives"] = [_way_row(note, way) for way in note.alternatives]
        row["stopped"] = [_way_row(note, way) for way in note.stopped]
        row["trills"] = [{"semitones": one.semitones, "fingering": trill_label(chart, one)} for one in note.trills]
        table.append(row)
    return table
