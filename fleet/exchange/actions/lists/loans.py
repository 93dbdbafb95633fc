"""What lists of loans have in common: which horn and whom a row is about, and when a horn is out by the records."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists.base import NO_HORN, NO_PUPIL, a_sum, numbered, refuse
from fleet.exchange.reading.columns import Row, Values
from fleet.exchange.reading.told import fillings
from fleet.lending.models import Loan, PastLoan
from fleet.people.models import Pupil, School
from fleet.register.models import Horn

# Later than any day.
STILL_OUT = "9999"


def horns_numbered(school: School, values: Sequence[Values], *, whole: bool = True) -> dict[str, Horn]:
    """The horns that rows name, by their numbers in capitals; `whole`, or with nothing but key and number."""
    found = numbered(school, {value["number"].upper() for value in values if "number" in value})
    return {horn.number.upper(): horn for horn in (found if whole else found.only("number"))}


def horn_named(row: Row, value: Values, horns: Mapping[str, Horn]) -> Horn | None:
    """The horn that the row names, of `horns_numbered`; the row is refused where there is none."""
    number = value.get("number", "")
    horn = horns.get(number.upper())
    if number and horn is None and not a_sum(row, "Register number", number, NO_HORN):
        refuse(row, "Register number", number, _s("No horn on the register has this number."))
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
    if not same and a_sum(row, "Pupil", name, NO_PUPIL):
        return None
    if any(column in {"Pupil", "Pupil id"} for column, *_ in row["wrong"]):
        return None
    if same:
        refuse(row, "Pupil", name, _s("Several pupils on record have this name. Give the pupil id."))
    elif name or own:
        refuse(row, "Pupil", name or own, _s("This pupil is not on record. Bring the pupils in first."))
    else:
        refuse(row, "Pupil", "", _s("Say who had the horn: a name or a pupil id."))
    return None


@dataclass(frozen=True, slots=True)
class Span:
    """A horn out from one day to another, days as text, `9999` while it is out; `pupil` had it by the records, else it
    stands in that `line` of the list. `key` is a past loan's."""

    horn: int
    issued: str
    returned: str
    pupil: str = ""
    line: int = 0
    key: int | None = None

    def clash(self, others: Iterable[Span]) -> Span | None:
        """The first of the others that this one overlaps; a horn may come back and go out on one day."""
        return next((one for one in others if self.issued < one.returned and one.issued < self.returned), None)


def recorded(horns: Collection[int], *, besides: Collection[int] = ()) -> dict[int, list[Span]]:
    """When these horns were or are out by the records, but for the past loans in `besides`. Two queries."""
    found: dict[int, list[Span]] = {horn: [] for horn in horns}
    for past in PastLoan.objects.filter(horn__in=horns).exclude(pk__in=besides).select_related("pupil"):
        days = past.issued_on.isoformat(), past.returned_on.isoformat()
        found[past.horn_id].append(Span(past.horn_id, *days, pupil=past.pupil.name, key=past.pk))
    for loan in Loan.objects.filter(horn__in=horns).select_related("pupil"):
        back = loan.returned_on.isoformat() if loan.returned_on else STILL_OUT
        found[loan.horn_id].append(Span(loan.horn_id, loan.issued_on.isoformat(), back, pupil=loan.pupil.name))
    return found


def refuse_twice_out(row: Row, issued: str, other: Span) -> None:
    """Refuses a row by which the horn is out, from a day, while it is by another."""
    if not other.pupil:
        sentence = _s(
            "Row %(row)s has this horn out from %(issued_on)s to %(returned_on)s. It cannot be with two pupils at once."
        )
    elif other.returned == STILL_OUT:
        sentence = _s("%(pupil)s has had this horn since %(issued_on)s. It cannot be with two pupils at once.")
    else:
        sentence = _s(
            "%(pupil)s had this horn from %(issued_on)s to %(returned_on)s. It cannot be with two pupils at once."
        )
    known = {"row": other.line, "pupil": other.pupil, "issued_on": other.issued, "returned_on": other.returned}
    refuse(row, "Out since", issued, sentence, **fillings(sentence, known))
