"""What each horn is checked for, as a phone keeps it: the catalogue once, and what of it each sort of horn is asked."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext as _s

from fleet.register.models import Horn
from fleet.workshop.forms.faults import SEVERITIES, WHICH
from fleet.workshop.models import Finding
from fleet.workshop.models.faults import GRADE, MINDED, Fault, catalogue
from fleet.workshop.models.fitted import PLACED, PLACES, applies, places
from fleet.workshop.models.measures import MOST_OF_ONE, Measure, in_words
from identify.core.horns.catalogue import catalogue as builds


def checked_for() -> dict[str, Any]:
    """The catalogue by part, with what a page says of each fault and asks besides."""
    return {
        "parts": [
            {"name": _s(part.name), "faults": [_fault(one) for one in part.faults]} for part in catalogue().parts
        ],
        "severities": SEVERITIES,
        "weighs": GRADE,
        "places": {at: {code: _s(name) for code, name in names.items()} for at, names in PLACES.items()},
        "which": WHICH,
        "most": MOST_OF_ONE,
        "cautions": [_s(catalogue().cautions[code]) for code in MINDED],
    }


class Asked:
    """The lists of what is asked of a horn, for each kind one may be: horns that are asked the same share theirs."""

    def __init__(self) -> None:
        self.lists: list[dict[str, Any]] = []
        self._known: dict[tuple[str, str], int] = {}
        self.kinds = {build: self.of(Horn(build=build)) for build in ("", *builds())}

    def of(self, horn: Horn) -> int:
        """Which of `lists` is this horn's."""
        sort = horn.build, horn.bell
        if sort not in self._known:
            faults = [code for code, fault in catalogue().by_code.items() if applies(fault.applies, horn)]
            asked = {"faults": faults, **{at: list(places(at, horn)) for at in sorted(PLACED - {""})}}
            if asked not in self.lists:
                self.lists.append(asked)
            self._known[sort] = self.lists.index(asked)
        return self._known[sort]


def findings(known: Iterable[Finding]) -> list[list[Any]]:
    """What is wrong with a horn as far as is known: fault, severity, places, number, measured; no note."""
    return [
        [one.fault, one.severity, one.places, one.number, None if one.measured is None else in_words(one.measured)]
        for one in known
    ]


def _fault(one: Fault) -> dict[str, Any]:
    said = {
        "code": one.code,
        "words": _s(one.words),
        "severity": one.severity,
        "do": one.do and _s(one.do),
        "who": one.who,
        "for_whom": one.for_whom_and_long,
        "stops": one.stops and _s(one.stops),
        "finish": one.finish,
        "at": one.at,
        "counts": one.counts,
        "measure": one.measure and _measure(one.measure),
    }
    return {name: value for name, value in said.items() if value}


def _measure(one: Measure) -> dict[str, Any]:
    return {"asks": one.asks, "least": in_words(one.least), "most": in_words(one.most)}
