"""Where the valves and the rows of slides of a build lie, and how its rotors are turned, in words."""

from __future__ import annotations

from identify.core.horns.builds import Build, Side, stand_name
from identify.core.horns.speech import _s


def _turned() -> dict[tuple[str, ...], str]:
    return {
        ("string",): _s("Strings turn its rotors."),
        ("mechanical",): _s("Rods turn its rotors; it has no strings."),
    }


def side_words(build: Build, side: Side) -> str:
    """Such as `B♭ side`."""
    return _s("%(key)s side") % {"key": _s(stand_name(side.tube, build.family).replace("b", "♭"))}


def about_layout(build: Build) -> list[str]:
    """Sentences for whoever has the horn in hand; none where there is nothing to mistake."""
    said = []
    if thumbs := len(build.thumb_levers):
        said.append(
            _s("The thumb’s valves lie beside the first finger’s.")
            if thumbs > 1
            else _s("The thumb’s valve lies beside the first finger’s.")
        )
    if len(build.rows) > 1:
        rows = [_s("that of the %(side)s") % {"side": side_words(build, side)} for side in build.rows]
        said.append(_s("Its rows of slides, from the front: %(rows)s.") % {"rows": _s(", then ").join(rows)})
    if [side.tube for side in build.rows[:2]] == ["F12", "Bb9"]:
        said.append(_s("Some old horns have these two the other way round: which row plays, only its sound tells."))
    if build.linkage:
        said.append(_turned().get(build.linkage, _s("Strings or rods turn its rotors.")))
    return said
