"""What a teacher should know about a chart, in sentences that follow from the build's description."""

from identify.core.fingering.charts import Chart, thumb_matters
from identify.core.fingering.stopped import RAISED_A_SEMITONE
from identify.core.fingering.teaching import HIGH_FROM
from identify.core.horns.air import TUBES
from identify.core.horns.builds import columns

_NO_SLIDE = "there is no stopping slide at hand"


def remarks(chart: Chart, in_plain_words: bool = False) -> tuple[str, ...]:
    """What a teacher should know about this chart, in short sentences; each follows from the description.

    `in_plain_words` speaks of no cents.
    """
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
    said += _on_sides(chart, in_plain_words)
    return (*said, *_on_stopping(chart))


def _on_sides(chart: Chart, in_plain_words: bool) -> list[str]:
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
        longer = "B♭" if "Bb9" in tubes else "F"
        said.append(
            f"High side from written {chart.teaching.high_from} up; players cross between {HIGH_FROM[0]} and "
            f"{HIGH_FROM[-1]}. From there the notes of the {longer} side lie a tone apart, those of the high side "
            "a third, so that fewer are missed."
        )
    for column in columns(build, chart.stand):
        if not column.in_tune:
            sharp = ", ".join(f"{f} by {column.sharpness(f):.0f}" for f in ("2", "1", "12", "23"))
            how_much = "" if in_plain_words else f" ({sharp} cents)"
            said.append(
                f"The {TUBES[column.tube].words} extension has no valve slides of its own, so its valves "
                f"play sharp{how_much}: its fingerings are not those of an F horn."
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
