"""What a teacher should know about a chart, in sentences that follow from the build's description."""

from identify.core.fingering.charts import Chart, thumb_matters
from identify.core.fingering.stopped import RAISED_A_SEMITONE
from identify.core.fingering.teaching import HIGH_FROM
from identify.core.fingering.words import thumb_is_used
from identify.core.horns.air import TUBES
from identify.core.horns.builds import columns
from identify.core.horns.pitch import parse_note
from identify.core.horns.speech import _s, capital


def remarks(chart: Chart, kind: str = "all") -> tuple[str, ...]:
    """What a teacher should know about this chart, in short sentences; each follows from the description.

    Of what a smaller `kind` of chart does not show nothing is said.
    """
    build = chart.build
    if chart.part.code != build.reads_in(chart.stand):
        said = [_s("Part in the bass clef, at concert pitch: it sounds as written.")]
    else:
        key = _s(chart.part.code.split()[0].replace("b", "♭"))
        said = [_s("Written part in %(key)s: it %(sounds)s.") % {"key": key, "sounds": _s(chart.part.words)}]
    if kind != "all":
        stopping = _on_stopping(chart) if "stopped" in chart.teaching.layers else []
        return (*said, *_on_sides(chart, kind), *stopping)
    sounding = tuple(note for note in chart.sounding_notes if note.ways[0].partial > 1)
    if "pedals" in chart.teaching.layers and sounding[0] is not chart.sounding_notes[0]:
        said.append(
            _s(
                "Pedal notes are made by the lips more than by the tube, so they speak late and bend far; they are for "
                "players who are sure of the notes above."
            )
        )
    if sounding[0].written.midi < 54 and build.family != "other":
        said.append(_s("Notes in the bass clef are transposed alike (the modern bass clef of horn parts)."))
    if sounding[0] is not chart.notes[0]:
        below = (
            _s("This horn cannot sound below written %(note)s, pedal notes apart.")
            if chart.teaching.thumb or not thumb_matters(build, chart.stand)
            else _s("Without the thumb it cannot sound below written %(note)s, pedal notes apart.")
        )
        said.append(below % {"note": sounding[0].written.display})
    gaps = [
        note.written.display for note in chart.notes if not note.sounds and note.written.midi > sounding[0].written.midi
    ]
    if gaps:
        said.append(_s("It has no dependable %(notes)s.") % {"notes": _s(", ").join(gaps)})
    if build.family == "wagner":
        said.append(_s("Scores write Wagner tubas in several ways; check the part before using this chart."))
    said += _on_sides(chart, kind)
    return (*said, *_on_stopping(chart))


def origins(chart: Chart) -> tuple[tuple[str, str], ...]:
    """What this chart claims, each with where it comes from; what has no source says so."""
    build, layers = chart.build, chart.teaching.layers
    tubes = {side.tube for side in build.sides}
    said = [(_s("What this horn is"), capital(build.source))]
    if build.valves:
        agrees = _s("agrees with C. Smalley, Double Horn Fingering Dictionary (CC0)")
        said.append((_s("The fingerings"), _s("Computed from the harmonic series; %(agrees)s") % {"agrees": agrees}))
        said.append((_s("Cents"), _s("Computed, with each valve in tune alone; a real horn’s slides differ")))
    else:
        said.append(
            (_s("What the hand does"), _s("J. Ericson, Horn Matters, 2009; which note is made so is common practice"))
        )
    if {"F12", "Bb9"} <= tubes and build.thumb_levers and chart.stand.tube == "F12" and build.valves:
        said.append((_s("From which note up the B♭ side serves"), _s("Common practice, no source")))
    if tubes & {"F6", "Eb6"} and len(tubes) > 1:
        said.append((_s("Where the high side begins"), _s("Common practice; no published chart was found")))
    if "stopped" in layers:
        said.append((_s("Stopped notes"), _s("J. Ericson, Horn Matters, 2009; how low they go is common practice")))
    if "trills" in layers:
        said.append((_s("Trills"), _s("Computed from the harmonic series; one finger at a time is common practice")))
    if "pedals" in layers:
        said.append(
            (_s("Pedal notes"), _s("No true resonance (Moore, Acoustics Today, 2016); the fingers: common practice"))
        )
    return tuple(said)


def _said(note: str) -> str:
    return parse_note(note).display


def _on_sides(chart: Chart, kind: str) -> list[str]:
    """Which side takes which notes, as far as this kind of chart shows any that take another."""
    build, said = chart.build, list[str]()
    shown = kind == "all" or thumb_is_used(chart, kind)
    tubes = {side.tube for side in build.sides}
    if not chart.teaching.thumb and thumb_matters(build, chart.stand):
        words = _s("The thumb is never pressed: all of it is played on the %(tube)s tube.")
        return [words % {"tube": TUBES[chart.stand.tube].words}]
    if {"F12", "Bb9"} <= tubes and all(side.row != "borrowed" for side in build.sides) and build.thumb_levers:
        if chart.stand.tube != "F12":
            said.append(_s("At rest it is a B♭ horn and fingered as one."))
        if shown and chart.stand.tube == "F12":
            words = _s(
                "B♭ side from written %(note)s (%(other)s) up, as is common practice; some teachers change at %(at)s."
            )
            said.append(words % {"note": _said("Ab4"), "other": _said("G#4"), "at": _said("A4")})
        elif shown:
            said.append(_s("The F side is for the low notes; its other fingerings stand in the table."))
    if shown and tubes & {"F6", "Eb6"} and len(tubes) > 1:
        longer = "B♭" if "Bb9" in tubes else "F"
        said.append(
            _s(
                "High side from written %(note)s up; players cross between %(first)s and %(last)s. From there the "
                "notes of the %(key)s side lie a tone apart, those of the high side a third, so that fewer are missed."
            )
            % {
                "note": _said(chart.teaching.high_from),
                "first": _said(HIGH_FROM[0]),
                "last": _said(HIGH_FROM[-1]),
                "key": _s(longer),
            }
        )
    for column in columns(build, chart.stand):
        if shown and not column.in_tune:
            sharp = [
                _s("%(fingering)s by %(cents)s") % {"fingering": f, "cents": f"{column.sharpness(f):.0f}"}
                for f in ("2", "1", "12", "23")
            ]
            said.append(
                _s(
                    "The %(tube)s extension has no valve slides of its own, so its valves play sharp (%(sharp)s "
                    "cents): its fingerings are not those of an F horn."
                )
                % {"tube": TUBES[column.tube].words, "sharp": _s(", ").join(sharp)}
            )
    return said


def _on_stopping(chart: Chart) -> list[str]:
    """Hand-stopping; its source stands in `stopped`."""
    build = chart.build
    if not build.is_french_horn or not build.valves:
        return []
    every = [column for column in columns(build, chart.stand) if chart.teaching.thumb or not column.thumb]
    own = {column.tube for column in every if column.in_tune}
    acts_on = {column.tube for column in every if column.lowered}
    said = []
    if own & RAISED_A_SEMITONE:
        said.append(
            _s("Stopped notes: finger a semitone lower on the F side.")
            if len(own) > 1
            else _s("Stopped notes: finger a semitone lower.")
        )
    if acts_on:
        side = {"side": TUBES[min(acts_on)].words}
        pressed = (
            _s("Stopped on the %(side)s side: press the stopping lever and finger as for the open note.")
            if said
            else _s("Stopped notes: press the stopping lever and finger as for the open note.")
        )
        only = f" {_s('It acts on the %(side)s side only.')}" if len(own) > 1 else ""
        said.append(f"{pressed}{only}" % side)
    if said:
        return said
    if any(side.tube in RAISED_A_SEMITONE for side in build.sides if side.has_own_set):
        return [_s("Stopped notes want the thumb on this horn: they are played on its F side.")]
    if "Bb9" not in own:
        # The hand shortens a shorter tube by a larger interval; how large was not looked up.
        return [
            _s(
                "Stopped notes come out much more than a semitone high on so short a tube; there is no stopping slide "
                "at hand."
            )
        ]
    if len(own) > 1:
        return [
            _s(
                "Stopped notes come out about three quarter tones high on the B♭ side; there is no stopping slide at "
                "hand."
            )
        ]
    return [
        _s("Stopped notes come out about three quarter tones high on this tube; there is no stopping slide at hand.")
    ]
