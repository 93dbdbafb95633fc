"""The catalogue of works: what is done to a horn apart from mending its faults, and what to mind while it is done."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.utils.translation import gettext as _s

from fleet.register.models import Horn
from fleet.workshop.models.faults import FOR_WHOM, CatalogueError, catalogue
from fleet.workshop.models.fitted import TRAITS, applies

FILE = Path(__file__).with_name("works.toml")


@dataclass(frozen=True, slots=True)
class KnownWork:
    """`minutes` are common practice, None where nobody can say beforehand."""

    code: str
    words: str
    who: str = ""
    minutes: int | None = None
    do: str = ""
    cautions: tuple[str, ...] = ()
    applies: frozenset[str] = frozenset()

    @property
    def for_whom(self) -> str:
        return FOR_WHOM[self.who]


def read(file: Path = FILE) -> dict[str, KnownWork]:
    """The works by code, as the file has them. Raises CatalogueError for a code that is there twice, and for a who, a
    caution or a part of a horn that nobody knows."""
    found = tomllib.loads(file.read_text(encoding="utf-8"))
    cautions = catalogue().cautions | {raw["code"]: raw["words"] for raw in found["caution"]}
    works: dict[str, KnownWork] = {}
    for raw in found["work"]:
        strange = {*raw.get("cautions", ())} - cautions.keys() | {*raw.get("applies", ())} - TRAITS
        if raw["code"] in works or raw["who"] not in FOR_WHOM or strange:
            raise CatalogueError(f"{file.name}, entry {raw['code']!r}: {sorted(strange) or 'code or who'} cannot be.")
        minded = tuple(cautions[code] for code in raw.get("cautions", ()))
        works[raw["code"]] = KnownWork(**raw | {"cautions": minded, "applies": frozenset(raw.get("applies", ()))})
    return works


@cache
def works() -> dict[str, KnownWork]:
    return read()


def work(code: str) -> KnownWork:
    """One that only an older catalogue knew reads as its code."""
    return works().get(code) or KnownWork(code, code.replace("-", " "))


def works_on(horn: Horn) -> list[KnownWork]:
    """Those that this horn can have."""
    return [one for one in works().values() if applies(one.applies, horn)]


def minded(codes: Iterable[str], faults: Iterable[str] = ()) -> list[str]:
    """What to mind while these works are done and these faults mended: each caution once, the general one last."""
    *of_faults, general = catalogue().cautions_for(faults)
    of_works = (caution for code in codes for caution in work(code).cautions)
    return [*dict.fromkeys((*of_faults, *of_works)), general]


def mind(codes: Iterable[str], faults: Iterable[str] = ()) -> str:
    """The same on a line of paper."""
    return _s("Mind: %(cautions)s") % {"cautions": " ".join(_s(one) for one in minded(codes, faults))}
