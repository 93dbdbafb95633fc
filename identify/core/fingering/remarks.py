"""What a teacher should know about a chart, in sentences that follow from the build's description."""

from identify.core.fingering.charts import Chart, thumb_matters
from identify.core.horns.air import TUBES
from identify.core.horns.builds import Build, columns


def remarks(chart: Chart) -> tuple[str, ...]:
    """What a teacher should know about this chart, in short sentences; each follows from the description."""
    build = chart.build
    said = [f"Written part in {chart.part.code.split()[0].replace('b', '♭')}: it {chart.part.words}."]
    sounding = chart.sounding_notes
    if sounding[0].written.midi < 54:
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
    said += _on_sides(chart)
    return (*said, *_on_stopping(build))


def _on_sides(chart: Chart) -> list[str]:
    """Which side takes which notes."""
    build, said = chart.build, list[str]()
    tubes = {side.tube for side in build.sides}
    if not chart.teaching.thumb and thumb_matters(build, chart.stand):
        return [f"The thumb is never pressed: all of it is played on the {TUBES[chart.stand.tube].words} tube."]
    if {"F12", "Bb9"} <= tubes and all(side.row != "borrowed" for side in build.sides) and build.thumb_levers:
        if chart.stand.tube == "F12":
            said.append("B♭ side from written A♭4 (G♯4) up, as is common practice; some teachers change at A4.")
        else:
            said.append(
                "At rest it is a B♭ horn and fingered as one; the F side is for the low notes. The other fingerings of "
                "the F side stand in the table."
            )
    if tubes & {"F6", "Eb6"} and len(tubes) > 1:
        start = "A♭5 (G♯5)" if "Bb9" in tubes else "A♭4 (G♯4)"
        said.append(f"High side from written {start} up: common practice, and players differ.")
    for column in columns(build, chart.stand):
        if not column.in_tune:
            sharp = ", ".join(f"{f} by {column.sharpness(f):.0f}" for f in ("2", "1", "12", "23"))
            said.append(
                f"The {TUBES[column.tube].words} extension has no valve slides of its own, so its valves "
                f"play sharp ({sharp} cents): its fingerings are not those of an F horn."
            )
    return said


# The long tubes, on which the stopping hand raises a note by about a semitone.
_STOPPED_A_SEMITONE_UP = {"F12", "Eb13"}


def _on_stopping(build: Build) -> list[str]:
    """Hand-stopping: J. Ericson, Horn Matters, 2009."""
    if not build.is_french_horn or not build.valves:
        return []
    if any(lever.does == "stopping" for lever in build.levers):
        return ["Stopped notes: press the stopping lever and finger as for the open note."]
    own = {side.tube for side in build.sides if side.row != "borrowed"}
    if own & _STOPPED_A_SEMITONE_UP:
        return [f"Stopped notes: finger a semitone lower{' on the F side' if len(own) > 1 else ''}."]
    if "Bb9" in own:
        where = "on the B♭ side" if len(own) > 1 else "on this tube"
        return [f"Stopped notes come out about three quarter tones high {where}; it has no stopping slide."]
    # The hand shortens a shorter tube by a larger interval; how large was not looked up.
    return ["Stopped notes come out much more than a semitone high on so short a tube; it has no stopping slide."]
