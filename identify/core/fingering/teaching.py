"""What a teacher chooses of a chart, beside its notes; an address and a command say it in the same words."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Teaching:
    """`thumb` is False where no thumb lever is ever pressed, as beginners on a double are taught.

    `high_from` is the written note, of HIGH_FROM, from which up descants and triples take their high side. `bass_clef`
    is for a baritone whose part stands in the bass clef and sounds as written. What a chart shows beside its open notes
    is named by `layers`, of LAYERS.
    """

    thumb: bool = True
    high_from: str = "D5"
    layers: frozenset[str] = frozenset()
    bass_clef: bool = False


# Where players cross to the high side: common practice, no published chart was found. From about C5 up the notes of the
# longer side lie a tone apart, those of the high side still a third, so that fewer are missed.
HIGH_FROM = ("C5", "D5", "E5")
LAYERS = {"both": "both spellings", "stopped": "stopped notes", "trills": "trills", "pedals": "pedal notes"}
USUAL = Teaching()


def asked(words: Mapping[str, str]) -> Teaching:
    """The choices in the words of an address such as `thumb=never&with=stopped`; unknown ones count as not said."""
    return Teaching(
        thumb=words.get("thumb") != "never",
        high_from=words.get("high", "") if words.get("high") in HIGH_FROM else USUAL.high_from,
        layers=frozenset(LAYERS.keys() & words.get("with", "").split(",")),
        bass_clef=words.get("clef") == "bass",
    )


def told(teaching: Teaching) -> dict[str, str]:
    """The words in which `asked` reads these choices again; none for what is usual."""
    said = {} if teaching.thumb else {"thumb": "never"}
    if teaching.high_from != USUAL.high_from:
        said["high"] = teaching.high_from
    if teaching.layers:
        said["with"] = ",".join(sorted(teaching.layers))
    if teaching.bass_clef:
        said["clef"] = "bass"
    return said
