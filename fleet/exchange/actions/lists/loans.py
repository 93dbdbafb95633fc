"""What lists of loans have in common: which horn and whom a row is about, and when a horn is out by the records."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format

from fleet.exchange.actions.lists.base import a_sum, numbered, refuse
from fleet.exchange.reading.columns import Row, Values
from fleet.lending.models import Loan, PastLoan
from fleet.people.models import Pupil, School
from fleet.register.models import Horn


def horns_numbered(school: School, values: Sequence[Values], *, whole: bool = True) -> dict[str, Horn]:
    """The horns that rows name, by their numbers in capitals; `whole`, or with nothing but key and number."""
    found = numbered(school, {value["number"].upper() for value in values if "number" in value})
    return {horn.number.upper(): horn for horn in (found if whole else found.only("number"))}


def horn_named(row: Row, value: Values, horns: Mapping[str, Horn]) -> Horn | None:
    """The horn that the row names, of `horns_numbered`; the row is refused where there is none."""
    number = value.get("number", "")
    horn = horns.get(number.upper())
    if number and horn is None and not a_sum(row, "Register number", number, "horn"):
        refuse(row, "Register number", number, "No horn on the register has this number.")
    return horn


def pupil_named(
    row: Row, value: Values, by_id: Mapping[str, Pupil], by_name: Mapping[str, list[Pupil]]
) -> Pupil | None:
    """The one pupil on record whom the row names; the row is refused where there is none, or several."""
    own, name = value.get("pupil_id", ""), value.get("name", "")
    if own in by_id:
        return by_id[own]
    same = by_name.get(name.casefold(), []) if name else []
    if len(same) == 1:
        return same[0]
    if not same and a_sum(row, "Pupil", name, "pupil"):
        return None
    if any(column in {"Pupil", "Pupil id"} for column, _, _ in row["wrong"]):
        return None
    if same:
        refuse(row, "Pupil", name, "Several pupils on record have this name. Give the pupil id.")
    elif name or own:
        refuse(row, "Pupil", name or own, "This pupil is not on record. Bring the pupils in first.")
    else:
        refuse(row, "Pupil", "", "Say who had the horn: a name or a pupil id.")
    return None


@dataclass(frozen=True, slots=True)
class Span:
    """A horn out from one day to another, days as text; `told` says where that stands, `key` is a past loan's."""

    horn: int
    issued: str
    returned: str
    told: str = ""
    key: int | None = None

    def clash(self, others: Iterable[Span]) -> Span | None:
        """The first of the others that this one overlaps; a horn may come back and go out on one day."""
        return next((one for one in others if self.issued < one.returned and one.issued < self.returned), None)


def recorded(horns: Collection[int], *, besides: Collection[int] = ()) -> dict[int, list[Span]]:
    """When these horns were or are out by the records, but for the past loans in `besides`. Two queries."""
    found: dict[int, list[Span]] = {horn: [] for horn in horns}
    for past in PastLoan.objects.filter(horn__in=horns).exclude(pk__in=besides).select_related("pupil"):
        words = told(f"with {past.pupil}", past.issued_on, past.returned_on)
        found[past.horn_id].append(
            Span(past.horn_id, past.issued_on.isoformat(), past.returned_on.isoformat(), words, past.pk)
        )
    for loan in Loan.objects.filter(horn__in=horns).select_related("pupil"):
        back = loan.returned_on.isoformat() if loan.returned_on else "9999"
        words = told(f"with {loan.pupil}", loan.issued_on, loan.returned_on)
        found[loan.horn_id].append(Span(loan.horn_id, loan.issued_on.isoformat(), back, words))
    return found


def told(whose: str, issued: date, returned: date | None) -> str:
    until = f"to {date_format(returned)}" if returned else "and is still out"
    return f"{whose} from {date_format(issued)} {until}"
