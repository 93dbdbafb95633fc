"""What a teacher chooses of a chart, beside its notes; an address and a command say it in the same words."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Teaching:
    """`thumb` is False where no thumb lever is ever pressed, as beginners on a double are taught.

    What a chart shows beside its open notes is named by `layers`, of LAYERS.
    """

    thumb: bool = True
    layers: frozenset[str] = frozenset()


LAYERS = {"stopped": "stopped notes"}
USUAL = Teaching()


def asked(words: Mapping[str, str]) -> Teaching:
    """The choices in the words of an address such as `thumb=never&with=stopped`; unknown ones count as not said."""
    return Teaching(
        thumb=words.get("thumb") != "never",
        layers=frozenset(LAYERS.keys() & words.get("with", "").split(",")),
    )


def told(teaching: Teaching) -> dict[str, str]:
    """The words in which `asked` reads these choices again; none for what is usual."""
    said = {} if teaching.thumb else {"thumb": "never"}
    if teaching.layers:
        said["with"] = ",".join(sorted(teaching.layers))
    return said
