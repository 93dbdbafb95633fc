"""Loans that were put before families and are not made yet: together again as the batches they were asked in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _s

from fleet.ground.refusal import WayOut
from fleet.lending.models.accessories import USUAL_ACCESSORIES
from fleet.people.models import School
from fleet.signing.models import MOST_IN_A_BATCH, OnlineSignature, Proposed, SheetOut, SheetOutQuerySet


@dataclass(frozen=True, slots=True)
class Awaited:
    """Agreements about the same due date, things and version. `address` leads to where they are issued."""

    signatures: list[OnlineSignature]
    address: str

    @property
    def signed(self) -> list[OnlineSignature]:
        return [one for one in self.signatures if one.signed_at is not None]


def awaited(school: School, found: Iterable[OnlineSignature]) -> list[Awaited]:
    """Of these, those with somebody who signed come first, then the oldest. No query."""
    together = groupby(sorted(found, key=_what), key=_what)
    made = [
        Awaited(part, address_of(school, part))
        for rows in (list(rows) for _, rows in together)
        for part in (rows[at : at + MOST_IN_A_BATCH] for at in range(0, len(rows), MOST_IN_A_BATCH))
    ]
    return sorted(made, key=lambda one: (not one.signed, min(each.asked_at for each in one.signatures)))


@dataclass(frozen=True, slots=True)
class SheetBatch:
    """Sheets printed in one go, by the pupils' names: those that are in, those still out, and the rest, which nobody
    waits for."""

    back: list[SheetOut]
    out: list[SheetOut]
    rest: list[SheetOut]

    @property
    def sheets(self) -> list[SheetOut]:
        return [*self.back, *self.out, *self.rest]

    @property
    def classes(self) -> str:
        """`5b`, `5a, 5b`; "" where none of the pupils has one."""
        return ", ".join(sorted({one.pupil.group for one in self.sheets if one.pupil.group}))

    @property
    def in_words(self) -> str:
        """`5b: 12 of 29 sheets are in`"""
        said = _s("%(back)s of %(total)s sheets are in") % {
            "back": len(self.back),
            "total": len(self.back) + len(self.out),
        }
        return f"{self.classes}: {said}" if self.classes else said


def batch_of(one: SheetOut) -> SheetBatch:
    """All that were printed in one go with this sheet. One query."""
    together = SheetOut.objects.at(one.horn.school).filter(printed_at=one.printed_at, printed_by=one.printed_by_id)
    return _batches(_told(together).select_related(*Proposed.SAID_OF, "printed_by", "loan"))[0]


def with_those_out(school: School) -> SheetOutQuerySet:
    """The sheets that are out, and those that may have been printed in one go with them."""
    here = SheetOut.objects.at(school)
    together = here.filter(printed_at__in=here.out().values("printed_at"))
    return _told(together).select_related(*Proposed.SAID_OF)


def batches_out(sheets: Iterable[SheetOut]) -> list[SheetBatch]:
    """Of the sheets `with_those_out` the batches of which one is out, which went home first before the others. No
    query."""
    return [one for one in _batches(sheets) if one.out]


def _told(sheets: SheetOutQuerySet) -> SheetOutQuerySet:
    """Each with whether it is out, batch by batch."""
    out = Exists(SheetOut.objects.filter(pk=OuterRef("pk")).out())
    return sheets.annotate(is_out=out).order_by("printed_at", "printed_by", "pupil__sorted_by", "pk")


def _batches(sheets: Iterable[SheetOut]) -> list[SheetBatch]:
    made = []
    for _, together in groupby(sheets, key=lambda one: (one.printed_at, one.printed_by_id)):
        batch = SheetBatch([], [], [])
        for one in together:
            part = batch.back if one.loan_id else batch.out if one.is_out else batch.rest  # type: ignore[attr-defined]
            part.append(one)
        made.append(batch)
    return made


def sheets_by_class(sheets: Iterable[SheetOut]) -> list[list[SheetOut]]:
    """Sheets as `batches_out` gives them: those of a class about the same due date, things and version together, those
    that went home first before the others."""

    def which(one: SheetOut) -> tuple[object, ...]:
        return (one.pupil.group, *_what(one))

    found = [list(rows) for _, rows in groupby(sorted(sheets, key=which), key=which)]
    parts = [rows[at : at + MOST_IN_A_BATCH] for rows in found for at in range(0, len(rows), MOST_IN_A_BATCH)]
    return sorted(parts, key=lambda rows: rows[0].printed_at)


def _what(one: Proposed) -> tuple[object, ...]:
    return (one.due_on, one.agreement.version, tuple(one.accessories))


def address_of(school: School, loans: Sequence[Proposed]) -> str:
    """Where these are issued, as they were put before the families."""
    return way_to(loans, "").address(school.slug)


def way_to(loans: Sequence[Proposed], label: str) -> WayOut:
    """The page where these are issued: one by itself, several as a batch."""
    first = loans[0]
    more = ", ".join(name for name in first.accessories if name not in USUAL_ACCESSORIES)
    said = [("due_on", first.due_on.isoformat())]
    said += [("accessories", name) for name in first.accessories if name in USUAL_ACCESSORIES]
    said += [("more", more), ("agreement", str(first.agreement.version))]
    if len(loans) == 1:
        said += [("horn", str(first.horn_id)), ("pupil", str(first.pupil_id)), ("guardian", str(first.guardian_id))]
        said += [("check", str(first.check_seen_id)), ("then", "sign")]
        return WayOut("loans:issue", label, query=tuple(said))
    for one in loans:
        said.append(("pair", f"{one.pupil_id}.{one.horn_id}.{one.check_seen_id}"))
        said.append((f"signs-{one.pupil_id}", str(one.guardian_id)))
    return WayOut("loans:batch", label, query=tuple(said))
