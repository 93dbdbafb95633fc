"""Where the valves and the rows of slides of a build lie, and how its rotors are turned, in words."""

from __future__ import annotations

from identify.core.horns.builds import Build, Side, stand_name

_TURNED: dict[tuple[str, ...], str] = {
    ("string",): "Strings turn its rotors.",
    ("mechanical",): "Rods turn its rotors; it has no strings.",
}


def side_words(build: Build, side: Side) -> str:
    """Such as `B♭ side`."""
    return f"{stand_name(side.tube, build.family).replace('b', '♭')} side"


def about_layout(build: Build) -> list[str]:
    """Sentences for whoever has the horn in hand; none where there is nothing to mistake."""
    said = []
    if thumbs := len(build.thumb_levers):
        lie = "s lie" if thumbs > 1 else " lies"
        said.append(f"The thumb’s valve{lie} beside the first finger’s.")
    if len(build.rows) > 1:
        rows = ", then ".join(f"that of the {side_words(build, side)}" for side in build.rows)
        said.append(f"Its rows of slides, from the front: {rows}.")
    if [side.tube for side in build.rows[:2]] == ["F12", "Bb9"]:
        said.append("Some old horns have these two the other way round: which row plays, only its sound tells.")
    if build.linkage:
        said.append(_TURNED.get(build.linkage, "Strings or rods turn its rotors."))
    return said
