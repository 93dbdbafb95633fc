"""Reads data/builds.toml into Build objects and refuses nonsense with the file, the entry and the reason."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from identify.core import DATA
from identify.core.horns.air import TUBES
from identify.core.horns.builds import (
    BELLS,
    CERTAINTIES,
    HANDS,
    LEVER_DUTIES,
    LINKAGES,
    MECHANISMS,
    MOUTHPIECES,
    ROWS,
    WORKED_BY,
    WRAPS,
    Build,
    Lever,
    Side,
    Stand,
    stand_name,
)
from identify.core.horns.pitch import PART_KEYS

FAMILIES = ("horn", "wagner", "other")
_CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_CLASS = re.compile(r"\d{3}(\.\d+)*")
_ENTRY = {
    "code", "name", "about", "family", "prior", "certainty", "source", "class", "reads", "crooked", "stands",
    "valves", "hand", "mechanism", "linkage", "bell", "wrap", "mouthpiece", "sides", "levers", "forms",
}  # fmt: skip
_FORM = {"form", "words", "share", "valves", "sides", "levers", "hand", "mechanism", "linkage", "bell", "wrap"}


class DataError(ValueError):
    """Nonsense in a data file; the message names the file, the entry and the reason."""

    def __init__(self, file: str, entry: str, reason: str) -> None:
        self.file, self.entry, self.reason = file, entry, reason
        super().__init__(f"{file}, {entry}: {reason}")


def read_table(path: Path) -> dict[str, Any]:
    """What a data file says. Raises DataError where it cannot be read."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as trouble:
        raise DataError(path.name, "the file", f"cannot be read ({trouble})") from trouble


class Catalogue(Mapping[str, Build]):
    """All builds by code, in the order of the file.

    Each build's `forms` holds its usual form and then its rarer ones.
    """

    def __init__(self, builds: Mapping[str, Build]) -> None:
        self._builds = dict(builds)

    def __getitem__(self, code: str) -> Build:
        return self._builds[code]

    def __iter__(self) -> Iterator[str]:
        return iter(self._builds)

    def __len__(self) -> int:
        return len(self._builds)

    def every_form(self) -> Iterator[Build]:
        for build in self._builds.values():
            yield from build.forms


class _Entry:
    """One table of the file, read field by field; every complaint carries where it was found."""

    def __init__(self, file: str, where: str, table: Mapping[str, Any], known: set[str]) -> None:
        self.file, self.where, self.table = file, where, table
        strange = sorted(set(table) - known)
        if strange:
            self.refuse(f"does not know the field {strange[0]!r}; known are {', '.join(sorted(known))}")

    def refuse(self, reason: str) -> None:
        raise DataError(self.file, self.where, reason)

    def need(self, good: bool, reason: str) -> None:
        if not good:
            self.refuse(reason)

    def text(self, field: str, default: str | None = None) -> str:
        value = self.table.get(field, default)
        self.need(isinstance(value, str) and bool(value.strip() or default == value), f"{field} must be some text")
        return str(value)

    def one_of(self, field: str, allowed: tuple[str, ...], default: str | None = None) -> str:
        value = self.text(field, default)
        self.need(value in allowed, f"{field} is {value!r}, but must be one of {', '.join(allowed)}")
        return value

    def some_of(self, field: str, allowed: tuple[str, ...], may_be_empty: bool = False) -> tuple[str, ...]:
        value = self.table.get(field)
        fine = isinstance(value, list) and all(item in allowed for item in value)
        self.need(
            fine and len(set(value or ())) == len(value or ()),
            f"{field} must list some of {', '.join(allowed)}",
        )
        self.need(bool(value) or may_be_empty, f"{field} is empty, but the horn has valves")
        return tuple(value or ())

    def number(self, value: object, field: str, low: float, high: float) -> float:
        fine = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        if not (fine and isinstance(value, int | float) and low < value <= high):
            self.refuse(f"{field} is {value!r}, but must be a number above {low:g} and up to {high:g}")
            raise AssertionError
        return float(value)

    def tables(self, field: str) -> list[Mapping[str, Any]]:
        value = self.table.get(field, [])
        self.need(
            isinstance(value, list) and all(isinstance(item, dict) for item in value),
            f"{field} must be a list",
        )
        return list(value)


def _sides(entry: _Entry) -> tuple[Side, ...]:
    sides: list[Side] = []
    for table in entry.tables("sides"):
        part = _Entry(entry.file, f"{entry.where}, a side", table, {"tube", "row", "through"})
        side = Side(part.one_of("tube", tuple(TUBES)), part.one_of("row", ROWS, "full"), part.text("through", ""))
        had = {other.tube for other in sides}
        part.need(side.tube not in had, f"tube {side.tube} is there twice")
        if side.row != "full":
            part.need(side.through in had, f"a {side.row} side runs through a tube listed before it")
            shorter = TUBES[side.through].pedal > TUBES[side.tube].pedal
            part.need(shorter, f"{side.tube} cannot run through {side.through}, which is no shorter")
        else:
            part.need(not side.through, "a full side runs through no other tube's slides")
        sides.append(side)
    entry.need(bool(sides), "has no sides: it needs at least one tube")
    return tuple(sides)


def _levers(entry: _Entry, tubes: set[str]) -> tuple[Lever, ...]:
    levers: list[Lever] = []
    for table in entry.tables("levers"):
        part = _Entry(
            entry.file, f"{entry.where}, a lever", table,
            {"name", "does", "to", "between", "semitones", "worked_by", "words"},
        )  # fmt: skip
        between = table.get("between", [])
        part.need(isinstance(between, list) and len(between) in (0, 2), "between must name two tubes")
        does = part.one_of("does", LEVER_DUTIES)
        to = part.text("to", "")
        part.need(bool(to) != bool(between), "names either the tube it leads to or the two it changes between")
        part.need(set(between) <= tubes and (to in tubes or not to), "leads to a tube that is no side of this horn")
        part.need(not between or does == "change", "only a change lever changes between two tubes")
        semitones = 0.0
        if does == "stopping":
            semitones = part.number(table.get("semitones"), "semitones", 0, 3)
        else:
            part.need("semitones" not in table, "only a stopping lever states semitones")
        lever = Lever(
            part.text("name"), does, to, tuple(between), semitones,
            part.one_of("worked_by", WORKED_BY, "thumb"), part.text("words", ""),
        )  # fmt: skip
        part.need(all(lever.name != had.name for had in levers), f"there are two levers called {lever.name!r}")
        levers.append(lever)
    return tuple(levers)


def _valves(entry: _Entry) -> tuple[int, ...]:
    value = entry.table.get("valves")
    fine = isinstance(value, list) and all(type(item) is int and item and abs(item) <= 7 for item in value)
    entry.need(
        fine and len(value or ()) <= 4,
        "valves must list up to four whole numbers of semitones, none of them 0",
    )
    return tuple(value or ())


def _linkage(entry: _Entry, mechanism: tuple[str, ...]) -> tuple[str, ...]:
    """How the rotors are turned: by strings where nothing is said; pistons have no linkage."""
    if "linkage" not in entry.table:
        return LINKAGES[:1] if "rotary" in mechanism else ()
    entry.need("rotary" in mechanism, "only rotary valves have a linkage")
    return entry.some_of("linkage", LINKAGES)


def _stands(entry: _Entry, tubes: set[str], family: str) -> tuple[Stand, ...]:
    table = entry.table.get("stands")
    if not isinstance(table, dict) or not table:
        entry.refuse("stands must give the tube at rest and its share, such as { F12 = 1 }")
        raise AssertionError
    entry.need(set(table) <= tubes, "stands names a tube that is no side of this horn")
    shares = {tube: entry.number(share, f"the share of {tube}", 0, 1) for tube, share in table.items()}
    entry.need(abs(sum(shares.values()) - 1) < 1e-6, "the shares of its stands must add up to 1")
    return tuple(Stand(stand_name(tube, family), tube, share) for tube, share in shares.items())


def _reachable(entry: _Entry, build: Build) -> None:
    """Every tube can be made to sound, and every stand is one the levers can give."""
    reach = {stand.tube for stand in build.stands}
    reach |= {tube for lever in build.levers for tube in (lever.to, *lever.between) if tube}
    for side in build.sides:
        entry.need(side.tube in reach, f"no stand and no lever makes {side.tube} sound")
    if build.reversible:
        swaps = [set(lever.between) for lever in build.levers if lever.between]
        entry.need(
            {stand.tube for stand in build.stands} in swaps,
            "two stands need a lever that changes between them",
        )


def _form(entry: _Entry, usual: Build, table: Mapping[str, Any]) -> Build:
    part = _Entry(entry.file, f"{entry.where}, a form", table, _FORM)
    changes: dict[str, Any] = {
        "form": part.text("form"),
        "form_words": part.text("words"),
        "share": part.number(table.get("share"), "share", 0, 0.999),
    }
    if "valves" in table:
        changes["valves"] = _valves(part)
    if "sides" in table:
        changes["sides"] = _sides(part)
    tubes = {side.tube for side in changes.get("sides", usual.sides)}
    if "levers" in table:
        changes["levers"] = _levers(part, tubes)
    for field, allowed in (("hand", HANDS), ("mechanism", MECHANISMS), ("bell", BELLS), ("wrap", WRAPS)):
        if field in table:
            changes[field] = part.some_of(field, allowed)
    if {"mechanism", "linkage"} & set(table):
        changes["linkage"] = _linkage(part, changes.get("mechanism", usual.mechanism))
    form = replace(usual, **changes)
    _reachable(part, form)
    return form


def _build(entry: _Entry) -> Build:
    family = entry.one_of("family", FAMILIES)
    sides = _sides(entry)
    tubes = {side.tube for side in sides}
    valves = _valves(entry)
    crooked = entry.table.get("crooked", False)
    entry.need(isinstance(crooked, bool), "crooked must be true or false")
    entry.need(bool(_CLASS.fullmatch(entry.text("class"))), "class must look like 423.232.12")
    mechanism = entry.some_of("mechanism", MECHANISMS, may_be_empty=not valves)
    usual = Build(
        code=entry.text("code"),
        name=entry.text("name"),
        about=entry.text("about"),
        family=family,
        sides=sides,
        stands=_stands(entry, tubes, family),
        valves=valves,
        levers=_levers(entry, tubes),
        hand=entry.some_of("hand", HANDS, may_be_empty=not valves),
        mechanism=mechanism,
        linkage=_linkage(entry, mechanism),
        bell=entry.some_of("bell", BELLS),
        wrap=entry.some_of("wrap", WRAPS),
        mouthpiece=entry.one_of("mouthpiece", MOUTHPIECES, "cup" if family == "other" else "horn"),
        reads=entry.one_of("reads", (*PART_KEYS, "crook")),
        class_code=entry.text("class"),
        prior=entry.number(entry.table.get("prior"), "prior", 0, 1000),
        certainty=entry.one_of("certainty", CERTAINTIES),
        source=entry.text("source"),
        crooked=bool(crooked),
    )
    _reachable(entry, usual)
    rarer = [_form(entry, usual, table) for table in entry.tables("forms")]
    names = ["", *(form.form for form in rarer)]
    entry.need(len(set(names)) == len(names), "two of its forms have the same name")
    left = 1.0 - sum(form.share for form in rarer)
    entry.need(left > 0, "the shares of its forms leave nothing for the usual one")
    usual = replace(usual, share=left)
    return replace(usual, forms=(usual, *rarer))


def read_catalogue(path: Path) -> Catalogue:
    """Read a file of builds. Raises DataError, with file, entry and reason, at the first nonsense."""
    raw = read_table(path)
    entries = raw.get("build")
    if set(raw) - {"build"} or not isinstance(entries, list) or not entries:
        raise DataError(path.name, "the file", "must consist of [[build]] entries")
    builds: dict[str, Build] = {}
    for place, table in enumerate(entries, start=1):
        code = table.get("code") if isinstance(table, dict) else None
        if not isinstance(code, str) or not _CODE.fullmatch(code):
            raise DataError(path.name, f"entry {place}", f"code is {code!r}, but must look like single-f")
        entry = _Entry(path.name, f"entry {place} ({code})", table, _ENTRY)
        entry.need(code not in builds, "this code is there twice")
        builds[code] = _build(entry)
    return Catalogue(builds)


@lru_cache(maxsize=1)
def catalogue() -> Catalogue:
    """The builds this project knows, read once."""
    return read_catalogue(DATA / "builds.toml")
