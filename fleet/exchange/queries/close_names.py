"""Rooms and classes of a list that are close to others: asked about before anything is written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fleet.exchange.models import Import, ListKey
from fleet.exchange.reading.columns import Values
from fleet.ground.wording import Name, closest
from fleet.people.models import Pupil
from fleet.register.models import Place

# Which columns say such a name.
SAID_IN: dict[str, tuple[str, ...]] = {ListKey.HORNS: ("room", "shelf"), ListKey.PUPILS: ("group",)}
# A list with more new names than that does not hold rooms or classes in this column.
MOST_NAMES = 200


def questions_of(imported: Import) -> list[list[Name]]:
    """[said, close to] for each name of the list that is new and close to one on record or further up in the list,
    unless somebody has said already what it means."""
    known = _on_record(imported)
    answered = answers_of(imported)
    asked: list[list[Name]] = []
    new = 0
    met = {_key(imported, name) for name in known}
    for name in _said(imported):
        key = _key(imported, name)
        if key in met or new == MOST_NAMES:
            continue
        new += 1
        met.add(key)
        near = closest(name, known)
        if near is None and (room := name[:1] + ("",) * len(name[1:])) != name and _key(imported, room) not in met:
            # Another shelf, and still the room may be one that is there.
            near, name, key = closest(room, [(one[0], *room[1:]) for one in known]), room, _key(imported, room)
            met.add(key)
        if near is not None and key not in answered:
            asked.append([name, near])
        known.append(name)
    return asked


def answers_of(imported: Import) -> dict[Name, Name]:
    """What names mean as somebody said, by what tells a name from others."""
    return {_key(imported, tuple(said)): tuple(meant) for said, meant in imported.answers}


def with_answers(values: Values, imported: Import, answers: Mapping[Name, Name]) -> None:
    """The names of a row as somebody said they are meant, by `answers_of`."""
    columns = SAID_IN.get(imported.kind, ())
    name = _name(values, columns)
    meant = answers.get(_key(imported, name))
    if meant is None and name[1:] and (room := answers.get(_key(imported, (name[0], "")))):
        meant = (room[0], *name[1:])
    if meant:
        values |= {column: word for column, word in zip(columns, meant, strict=True) if word or column in values}


def _name(values: Values, columns: tuple[str, ...]) -> Name:
    return tuple(values.get(column, "") for column in columns)


def _key(imported: Import, name: Name) -> Name:
    """Places are one whatever their capitals; classes are as they are written."""
    return tuple(word.lower() for word in name) if imported.kind == ListKey.HORNS else name


def _on_record(imported: Import) -> list[Name]:
    if imported.kind == ListKey.HORNS:
        places = list(Place.objects.filter(school=imported.school_id).order_by("pk").values_list("room", "shelf"))
        return [*places, *dict.fromkeys((room, "") for room, _ in places)]
    if imported.kind == ListKey.PUPILS:
        here = Pupil.objects.filter(school=imported.school_id, left_on=None).exclude(group="")
        return [(group,) for group in here.order_by("group").values_list("group", flat=True).distinct()]
    return []


def _said(imported: Import) -> Iterator[Name]:
    """The names of the rows that are to be written, in their order."""
    columns = SAID_IN.get(imported.kind)
    if columns:
        for batch in imported.batches.filter(written=False).order_by("place").iterator(chunk_size=4):
            for row in batch.rows_that_are("new", "changed"):
                if row["after"].get(columns[0]):
                    yield _name(row["after"], columns)
