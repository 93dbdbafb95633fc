"""What a note is called where a family learned to read: by letters, the German way (H and B), or do, re, mi.

Which language names notes how, and the words for sharp and flat: general music teaching, from memory, no source
looked up. Letters carry the octave's number, as everywhere here; the German way says the octave as German and Polish
teachers do (c for C3, c¹ for C4). Do, re, mi goes without: where it is at home, octaves are numbered one lower or not
at all, and beside a note on its staff the bare name is what is said.
"""

from __future__ import annotations

from identify.core.horns.pitch import Note

LETTERS, GERMAN, SOLFEGE = "letters", "german", "solfege"
SYSTEMS = {LETTERS: "C D E F G A B", GERMAN: "c d e f g a h", SOLFEGE: "do re mi fa sol la si"}
USUAL = {"de": GERMAN, "pl": GERMAN, **dict.fromkeys(("fr", "es", "tr", "uk", "ar"), SOLFEGE)}

_STEPS = "CDEFGAB"
# The seven notes, then what follows them for a flat and a sharp. In other languages: the Latin names with the signs.
_SPOKEN = {
    "fr": ("do ré mi fa sol la si", " bémol", " dièse"),
    "es": ("do re mi fa sol la si", " bemol", " sostenido"),
    "tr": ("do re mi fa sol la si", " bemol", " diyez"),
    "uk": ("до ре мі фа соль ля сі", "-бемоль", "-дієз"),
    "ar": ("دو ري مي فا صول لا سي", " بيمول", " دييز"),
}
_OTHERWISE = ("do re mi fa sol la si", "♭", "♯")
_FLATS = {"E": "es", "A": "as", "H": "b"}
_OCTAVES = {1: "₁", 2: "", 3: "", 4: "¹", 5: "²", 6: "³"}


def named(note: Note, language: str, system: str = "") -> str:
    """The name of a note for a family that reads the language; `system` is a school's own choice, one of `SYSTEMS`."""
    code = language.partition("-")[0]
    way = system or USUAL.get(code, LETTERS)
    # Twice altered, or out of every horn's reach: by letters, which are never mistaken.
    if way == LETTERS or abs(note.alter) > 1 or note.octave not in _OCTAVES:
        return note.letters
    if way == GERMAN:
        return _german(note)
    steps, flat, sharp = _SPOKEN.get(code, _OTHERWISE)
    return steps.split()[_STEPS.index(note.step)] + {-1: flat, 0: "", 1: sharp}[note.alter]


def _german(note: Note) -> str:
    letter = "H" if note.step == "B" else note.step
    said = letter if note.alter == 0 else letter + "is" if note.alter > 0 else _FLATS.get(letter, letter + "es")
    return (said.capitalize() if note.octave < 3 else said.lower()) + _OCTAVES[note.octave]
