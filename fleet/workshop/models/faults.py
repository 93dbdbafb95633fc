"""The catalogue of faults: what may be wrong with a horn, how bad it usually is, and what to do about it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from fleet.ground.languages.marks import _s_lazy
from fleet.register.models import Horn
from fleet.workshop.models.fitted import PLACED, TRAITS
from fleet.workshop.models.measures import Measure, in_figures, wrong_measure

FILE = Path(__file__).with_name("faults.toml")
# Who does it, and in how long.
FOR_WHOM = {"staff": _s_lazy("For trained staff."), "repairer": _s_lazy("For the repairer."), "": ""}
FOR_WHOM_AND_LONG = {
    "staff": _s_lazy("For trained staff, about %(minutes)s min."),
    "repairer": _s_lazy("For the repairer, about %(minutes)s min."),
}
# What to mind while a horn is looked over, in this order.
MINDED = ("hygiene", "oil", "rotor", "pliers", "first")
# From a look that changes nothing to one that ends the playing: the order in which findings weigh.
WEIGHT = {"n": 0, "w": 1, "r": 2, "x": 3}
GRADE = {
    "n": Horn.Grade.PLAYS_WELL,
    "w": Horn.Grade.SMALL_FAULT,
    "r": Horn.Grade.REPAIR_FIRST,
    "x": Horn.Grade.MUST_NOT_BE_PLAYED,
}
FAULT_KEYS = {"code", "words", "severity", "who", "minutes", "do", "caution", "finish", "test_note", "applies"}
FAULT_KEYS |= {"at", "counts", "measure", "stops"}


class CatalogueError(ValueError):
    """The catalogue's file says something that cannot be: file, entry and reason in one sentence."""


@dataclass(frozen=True, slots=True)
class Fault:
    code: str
    words: str
    part: str
    severity: str
    who: str
    minutes: int | None
    do: str
    caution: str
    finish: bool
    test_note: bool
    applies: frozenset[str] = frozenset()
    at: str = ""
    counts: bool = False
    measure: Measure | None = None
    stops: str = ""

    @property
    def for_whom(self) -> str:
        return FOR_WHOM[self.who]

    @property
    def for_whom_and_long(self) -> str:
        long = self.who and self.minutes
        return FOR_WHOM_AND_LONG[self.who] % {"minutes": self.minutes} if long else self.for_whom


@dataclass(frozen=True, slots=True)
class PartOfHorn:
    name: str
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class FaultCatalogue:
    origin: str
    parts: tuple[PartOfHorn, ...]
    cautions: dict[str, str]
    by_code: dict[str, Fault]

    def fault(self, code: str) -> Fault:
        """The fault of that code. One that only an older catalogue knew reads as its code: no finding is lost."""
        known = self.by_code.get(code)
        if known is not None:
            return known
        return Fault(code, code.replace("-", " "), "Other", "w", "", None, "", "", False, False)

    def cautions_for(self, codes: Iterable[str]) -> list[str]:
        """What to mind when these faults are worked on, each caution once, the general one last."""
        wanted = dict.fromkeys(self.fault(code).caution for code in codes)
        return [self.cautions[code] for code in wanted if code] + [self.cautions["first"]]


def worst(severities: Iterable[str]) -> str:
    """The heaviest of some severities, "" where there is none."""
    return max(severities, key=WEIGHT.__getitem__, default="")


def grade_of(severities: Iterable[str]) -> Horn.Grade:
    """The playing grade of a check: its worst finding, never an average (rule of museum condition checking,
    Collections Trust). A horn with nothing found, or with notes only, plays well."""
    return GRADE[worst(severities) or "n"]


def read(file: Path = FILE) -> FaultCatalogue:
    """The catalogue as the file has it. Raises CatalogueError for anything in it that cannot be."""

    def refuse(entry: str, reason: str) -> CatalogueError:
        return CatalogueError(f"{file.name}, {entry}: {reason}")

    try:
        found = tomllib.loads(file.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as trouble:
        raise refuse("the whole file", f"not readable as TOML: {trouble}.") from trouble
    if not found.get("origin"):
        raise refuse("the head", "origin is missing: say where the entries come from.")

    cautions: dict[str, str] = {}
    for raw in found.get("caution", []):
        if not (raw.get("code") and raw.get("words") and raw.get("origin")):
            raise refuse(f"caution {raw.get('code', '?')!r}", "code, words and origin are all needed.")
        cautions[raw["code"]] = raw["words"]
    if "first" not in cautions:
        raise refuse("the cautions", "the one that defers to local rules ('first') is missing.")

    stops = {raw.get("code", ""): raw.get("words", "") for raw in found.get("stop", [])}
    parts: list[PartOfHorn] = []
    by_code: dict[str, Fault] = {}
    for part in found.get("part", []):
        name = part.get("name", "")
        if not name:
            raise refuse("a part", "its name is missing.")
        faults = []
        for raw in part.get("fault", []):
            entry = f"entry {raw.get('code', '?')!r} of {name}"
            reason = _wrong(raw, cautions, stops, by_code)
            if reason:
                raise refuse(entry, reason)
            fault = Fault(
                code=raw["code"],
                words=raw["words"],
                part=name,
                severity=raw["severity"],
                who=raw.get("who", ""),
                minutes=raw.get("minutes"),
                do=raw["do"],
                caution=raw.get("caution", ""),
                finish=raw.get("finish", False),
                test_note=raw.get("test_note", False),
                applies=frozenset(raw.get("applies", [])),
                at=raw.get("at", ""),
                counts=raw.get("counts", False),
                measure=in_figures(raw.get("measure")),
                stops=stops.get(raw.get("stops", ""), ""),
            )
            by_code[fault.code] = fault
            faults.append(fault)
        parts.append(PartOfHorn(name, tuple(faults)))
    if not by_code:
        raise refuse("the whole file", "there is no fault in it.")
    return FaultCatalogue(found["origin"], tuple(parts), cautions, by_code)


def _wrong(raw: dict[str, Any], cautions: dict[str, str], stops: dict[str, str], known: dict[str, Fault]) -> str:
    """What is wrong with one entry, "" where nothing is."""
    code, minutes = raw.get("code"), raw.get("minutes")
    if strange := sorted(raw.keys() - FAULT_KEYS):
        return f"{strange[0]!r} is no word of the catalogue."
    if not isinstance(code, str) or not re.fullmatch(r"[a-z]+(-[a-z]+)*", code) or len(code) > 40:
        return "code must be small letters with dashes, at most 40."
    if code in known:
        return "this code is there twice."
    for key in ("words", "do"):
        if not isinstance(raw.get(key), str) or not raw[key].strip():
            return f"{key} is missing."
    if raw.get("severity") not in WEIGHT:
        return f"severity must be n, w, r or x, not {raw.get('severity')!r}."
    if raw.get("who", "") not in FOR_WHOM:
        return f"who must be staff or repairer, not {raw['who']!r}."
    if minutes is not None and (type(minutes) is not int or not 1 <= minutes <= 1000):
        return f"minutes must be a whole number from 1 to 1000, not {minutes!r}."
    if raw.get("caution", "") and raw["caution"] not in cautions:
        return f"there is no caution {raw['caution']!r}."
    wanted = raw.get("applies", [])
    if not isinstance(wanted, list) or not all(isinstance(one, str) for one in wanted):
        return "applies must be a list of words."
    if strange := sorted(set(wanted) - TRAITS):
        return f"applies names {strange[0]!r}, which no horn has."
    if raw.get("at", "") not in PLACED:
        return f"at must be {' or '.join(sorted(PLACED - {''}))}, not {raw['at']!r}."
    if bool(stops.get(raw.get("stops", ""))) != (raw["severity"] in {"r", "x"}):
        return "a fault that keeps a horn from being lent says why in stops, and no other does."
    if raw.get("counts") and raw.get("at"):
        return "counts is for a fault without places: its places count it."
    if "measure" in raw and (reason := wrong_measure(raw["measure"])):
        return reason
    for key in ("finish", "test_note", "counts"):
        if type(raw.get(key, False)) is not bool:
            return f"{key} must be true or false."
    if raw.get("finish") and raw["severity"] != "n":
        return "a fault of the finish stays a note: it never stops a loan."
    return ""


@cache
def catalogue() -> FaultCatalogue:
    return read()
