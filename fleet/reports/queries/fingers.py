"""How the test note is fingered on a horn, in words for a sheet, in the language spoken now."""

from __future__ import annotations

from django.utils.translation import gettext

from fleet.ground.languages.known import spoken_tag
from fleet.workshop.models.fitted import in_words
from identify.core.horns.air import usual_way
from identify.core.horns.builds import Build, Lever, column_at_rest, column_with
from identify.core.horns.note_names import named
from identify.core.horns.pitch import TEST_NOTE, written


def in_fingers(fingering: str) -> str:
    """`12` as `1st and 2nd valve`."""
    return gettext("open, no valve") if fingering == "0" else in_words("valves", tuple(fingering))


def test_note(build: Build | None, stands_in: str, note_names: str) -> tuple[str, tuple[tuple[str, str], ...]]:
    """How the test note is written for this horn, and its fingering for each position of the thumb.

    Computed from the build's physical description. Empty for a build or stand the catalogue does not know.
    """
    if build is None or stands_in not in {stand.name for stand in build.stands}:
        return "", ()
    stand = build.stand(stands_in)
    note = written(TEST_NOTE, build.reads_in(stand))
    place, sounding = (named(one, spoken_tag(), note_names) for one in (note, TEST_NOTE))
    if note.name == "F4" and not note_names:
        place = gettext("F in the first space")
    said = gettext("Written: %(note)s. It sounds as %(sounding)s.") % {"note": place, "sounding": sounding}
    rows = [("", column_at_rest(build, stand))]
    for lever in build.thumb_levers:
        if lever.does != "stopping":
            rows.append((_pressed(build, lever), column_with(build, stand, (lever,))))
    if len(rows) > 1:
        rows[0] = (gettext("thumb at rest"), rows[0][1])
    ways = [(words, usual_way(column, TEST_NOTE.midi)) for words, column in rows]
    return said, tuple((words, in_fingers(way.fingering)) for words, way in ways if way is not None)


def _pressed(build: Build, lever: Lever) -> str:
    changing = [one for one in build.thumb_levers if one.does != "stopping"]
    if len(changing) == 1:
        return gettext("thumb lever pressed")
    return gettext(lever.words).removeprefix("the ") if lever.words else lever.name
