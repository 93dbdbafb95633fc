"""What a teacher should know about a chart, in sentences that follow from the build's description."""

from identify.core.fingering.charts import Chart, thumb_matters
from identify.core.fingering.stopped import RAISED_A_SEMITONE
from identify.core.fingering.teaching import HIGH_FROM
from identify.core.fingering.words import thumb_is_used
from identify.core.horns.air import TUBES
from identify.core.horns.builds import columns

_NO_SLIDE = "there is no stopping slide at hand"


def remarks(chart: Chart, kind: str = "all") -> tuple[str, ...]:
    """What a teacher should know about this chart, in short sentences; each follows from the description.

    Of what a smaller `kind` of chart does not show nothing is said.
    """
    build = chart.build
    if chart.part.code != build.reads_in(chart.stand):
        said = ["Part in the bass clef, at concert pitch: it sounds as written."]
    else:
        said = [f"Written part in {chart.part.code.split()[0].replace('b', '♭')}: it {chart.part.words}."]
    if kind != "all":
        stopping = _on_stopping(chart) if "stopped" in chart.teaching.layers else []
        return (*said, *_on_sides(chart, kind), *stopping)
    sounding = tuple(note for note in chart.sounding_notes if note.ways[0].partial > 1)
    if "pedals" in chart.teaching.layers and sounding[0] is not chart.sounding_notes[0]:
        said.append(
            "Pedal notes are made by the lips more than by the tube, so they speak late and bend far; they are for "
            "players who are sure of the notes above."
        )
    if sounding[0].written.midi < 54 and build.family != "other":
        said.append("Notes in the bass clef are transposed alike (the modern bass clef of horn parts).")
    if sounding[0] is not chart.notes[0]:
        who = "This horn" if chart.teaching.thumb or not thumb_matters(build, chart.stand) else "Without the thumb it"
        said.append(f"{who} cannot sound below written {sounding[0].written.display}, pedal notes apart.")
    gaps = [
        note.written.display for note in chart.notes if not note.sounds and note.written.midi > sounding[0].written.midi
    ]
    if gaps:
        said.append(f"It has no dependable {', '.join(gaps)}.")
    if build.family == "wagner":
        said.append("Scores write Wagner tubas in several ways; check the part before using this chart.")
    said += _on_sides(chart, kind)
    return (*said, *_on_stopping(chart))


def origins(chart: Chart) -> tuple[tuple[str, str], ...]:
    """What this chart claims, each with where it comes from; what has no source says so."""
    build, layers = chart.build, chart.teaching.layers
    tubes = {side.tube for side in build.sides}
    said = [("What this horn is", build.source[0].upper() + build.source[1:])]
    if build.valves:
        agrees = "agrees with C. Smalley, Double Horn Fingering Dictionary (CC0)"
        said.append(("The fingerings", f"Computed from the harmonic series; {agrees}"))
        said.append(("Cents", "Computed, with each valve in tune alone; a real horn’s slides differ"))
    else:
        said.append(("What the hand does", "J. Ericson, Horn Matters, 2009; which note is made so is common practice"))
    if {"F12", "Bb9"} <= tubes and build.thumb_levers and chart.stand.tube == "F12" and build.valves:
        said.append(("From which note up the B♭ side serves", "Common practice, no source"))
    if tubes & {"F6", "Eb6"} and len(tubes) > 1:
        said.append(("Where the high side begins", "Common practice; no published chart was found"))
    if "stopped" in layers:
        said.append(("Stopped notes", "J. Ericson, Horn Matters, 2009; how low they go is common practice"))
    if "trills" in layers:
        said.append(("Trills", "Computed from the harmonic series; one finger at a time is common practice"))
    if "pedals" in layers:
        said.append(("Pedal notes", "No true resonance (Moore, Acoustics Today, 2016); the fingers: common practice"))
    return tuple(said)


def _on_sides(chart: Chart, kind: str) -> list[str]:
    """Which side takes which notes, as far as this kind of chart shows any that take another."""
    build, said = chart.build, list[str]()
    shown = kind == "all" or thumb_is_used(chart, kind)
    tubes = {side.tube for side in build.sides}
    if not chart.teaching.thumb and thumb_matters(build, chart.stand):
        return [f"The thumb is never pressed: all of it is played on the {TUBES[chart.stand.tube].words} tube."]
    if {"F12", "Bb9"} <= tubes and all(side.row != "borrowed" for side in build.sides) and build.thumb_levers:
        if chart.stand.tube != "F12":
            said.append("At rest it is a B♭ horn and fingered as one.")
        if shown and chart.stand.tube == "F12":
            said.append("B♭ side from written A♭4 (G♯4) up, as is common practice; some teachers change at A4.")
        elif shown:
            said.append("The F side is for the low notes; its other fingerings stand in the table.")
    if shown and tubes & {"F6", "Eb6"} and len(tubes) > 1:
        longer = "B♭" if "Bb9" in tubes else "F"
        said.append(
            f"High side from written {chart.teaching.high_from} up; players cross between {HIGH_FROM[0]} and "
            f"{HIGH_FROM[-1]}. From there the notes of the {longer} side lie a tone apart, those of the high side "
            "a third, so that fewer are missed."
        )
    for column in columns(build, chart.stand):
        if shown and not column.in_tune:
            sharp = ", ".join(f"{f} by {column.sharpness(f):.0f}" for f in ("2", "1", "12", "23"))
            said.append(
                f"The {TUBES[column.tube].words} extension has no valve slides of its own, so its valves "
                f"play sharp ({sharp} cents): its fingerings are not those of an F horn."
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
        said.append(f"Stopped notes: finger a semitone lower{' on the F side' if len(own) > 1 else ''}.")
    if acts_on:
        side = f"the {TUBES[min(acts_on)].words} side"
        where = f" It acts on {side} only." if len(own) > 1 else ""
        begin = f"Stopped on {side}" if said else "Stopped notes"
        said.append(f"{begin}: press the stopping lever and finger as for the open note.{where}")
    if said:
        return said
    if any(side.tube in RAISED_A_SEMITONE for side in build.sides if side.has_own_set):
        return ["Stopped notes want the thumb on this horn: they are played on its F side."]
    if "Bb9" in own:
        where = "on the B♭ side" if len(own) > 1 else "on this tube"
        return [f"Stopped notes come out about three quarter tones high {where}; {_NO_SLIDE}."]
    # The hand shortens a shorter tube by a larger interval; how large was not looked up.
    return [f"Stopped notes come out much more than a semitone high on so short a tube; {_NO_SLIDE}."]
