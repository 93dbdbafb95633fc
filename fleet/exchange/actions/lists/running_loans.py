"""A list of who has which horn now. Nobody signed here yet: each loan waits for its sheet.

A list of all horns will do: a row that names nobody, or says when the horn came back, is left as it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists import past_loans
from fleet.exchange.actions.lists.base import NEW, REFUSED, SAME, Seen, Stale, judge, leave_empty, refuse
from fleet.exchange.actions.lists.horns import STRUCK_OUT
from fleet.exchange.actions.lists.loans import (
    STILL_OUT,
    Span,
    horn_named,
    horns_numbered,
    pupil_named,
    recorded,
    refuse_twice_out,
)
from fleet.exchange.actions.lists.names import GIVEN, whole_name
from fleet.exchange.actions.lists.pupils import pupils_on_record
from fleet.exchange.reading.cells import read_day
from fleet.exchange.reading.columns import ListColumn, Reading, Row, Values
from fleet.exchange.reading.told import fillings
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.lending.forms.dates import LONGEST_LOAN
from fleet.lending.models import Loan
from fleet.people.models import Guardian, Pupil, School, User
from fleet.people.queries.school_days import ProposedDay, school_days
from fleet.register.models import Horn
from fleet.signing.actions.listed import Listed, begin_listed, cannot_be_out, take_back_listed

# Years of two figures are read as past ones; a due day may lie ahead.
YEARS_AHEAD = 10


def _due(text: str, read: Reading) -> str:
    due = read_day(text, day_first=read.day_first, today=date(read.today.year + YEARS_AHEAD, 1, 1))
    if due > read.today + LONGEST_LOAN:
        raise ValidationError(_s("This day is too far away; check the year."))
    return str(due)


_SHARED = {column.name: column for column in past_loans.COLUMNS}
COLUMNS = (
    _SHARED["number"],
    _SHARED["name"],
    GIVEN,
    _SHARED["pupil_id"],
    replace(_SHARED["issued_on"], required=False),
    ListColumn("due_on", "Due back", _due, (
        "due", "due on", "due date", "return by", "back by", "fallig am", "fallig", "ruckgabe bis", "zuruck bis",
        "leihe bis", "ausgeliehen bis", "a rendre le", "echeance", "vence el", "scadenza", "terug op",
    )),
    # A heading like “Rückgabe” says both: a day that lies ahead is when the horn is due.
    replace(_SHARED["returned_on"], clean=_due),
)  # fmt: skip


# Why a horn cannot be with the pupil, by the reason that keeps it back; filled from the horn's row.
ELSEWHERE_BY_REASON = {
    "withdrawn": _s_lazy("This horn was withdrawn on %(withdrawn_on)s."),
    "not-found": _s_lazy("This horn has not been found since %(not_found_on)s."),
    "out": _s_lazy("%(holder_name)s has this horn by the records."),
    "workshop": _s_lazy("This horn is in the workshop."),
    "away": _s_lazy("This horn is at the repairer’s: %(repairer)s has it."),
    "promised": _s_lazy("This horn is promised to %(promised_to)s: an agreement with the family waits."),
}


class RunningLoans:
    key = "running"
    columns = COLUMNS
    hint = _s_lazy(
        "Bring the horns and the pupils in first. The sheets are signed later: Today says which are still owed."
    )

    def check(self, rows: Sequence[Row], read: Reading, values: Sequence[Values], seen: Mapping[str, int]) -> Seen:
        met: Seen = {}
        for row, value in zip(rows, values, strict=True):
            whole_name(row, value)
        _tell_due_from_back(rows, values, str(read.today))
        horns = horns_numbered(read.school, values)
        by_id, by_name = pupils_on_record(read.school, values)
        keys = [horn.pk for horn in horns.values()]
        out = {loan.horn_id: loan for loan in Loan.objects.open().filter(horn__in=keys).select_related("pupil")}
        spans = recorded(keys)
        usual = school_days(read.school).proposed(read.today)
        signers = _signers({p.pk for found in by_name.values() for p in found} | {p.pk for p in by_id.values()})
        for row, value in zip(rows, values, strict=True):
            if not row["wrong"] and (value.get("returned_on") or not (value.get("name") or value.get("pupil_id"))):
                judge(row, SAME)
                continue
            number = value.get("number", "")
            horn = horn_named(row, value, horns)
            pupil = pupil_named(row, value, by_id, by_name)
            earlier = seen.get(number.upper()) or met.get(number.upper())
            if number and earlier:
                refuse(row, "Register number", number, _s("Row %(row)s has this horn out too."), row=earlier)
            elif number:
                met[number.upper()] = row["line"]
            if row["wrong"] or horn is None or pupil is None:
                judge(row, REFUSED)
                continue
            signer, there = signers.get(pupil.pk), out.get(horn.pk)
            self._judge(row, value, read, horn, pupil, there, spans[horn.pk], signer, usual)
        return met

    @staticmethod
    def _judge(
        row: Row,
        value: Values,
        read: Reading,
        horn: Horn,
        pupil: Pupil,
        there: Loan | None,
        spans: Sequence[Span],
        signer: Guardian | None,
        usual: ProposedDay,
    ) -> None:
        if there is not None and there.pupil_id == pupil.pk:
            judge(row, SAME)
            return
        if no := cannot_be_out(horn):
            sentence = str(STRUCK_OUT if horn.struck_out else ELSEWHERE_BY_REASON[no.code])
            refuse(row, "Register number", horn.number, sentence, **fillings(sentence, vars(horn)))
        if pupil.left_on is not None:
            refuse(row, "Pupil", pupil.name, _s("This pupil has left the school."))
        if signer is None:
            refuse(row, "Pupil", pupil.name, _s("Nobody on record answers for this pupil, so nobody can sign."))
        due = value.get("due_on", "")
        issued = value.get("issued_on") or min(str(read.today), due or str(read.today))
        if due and due < issued:
            sentence = _s("A horn cannot be due back before it was issued.")
            leave_empty(row, "Due back", value.pop("due_on"), sentence)
        other = Span(horn.pk, issued, STILL_OUT).clash(spans) if there is None else None
        if other is not None:
            refuse_twice_out(row, issued, other)
        if row["wrong"] or signer is None:
            judge(row, REFUSED)
            return
        if "issued_on" not in value:
            late = _s("The loan begins on the day it was due.")
            _take(row, "Out since", late if issued < str(read.today) else _s("The loan begins today."))
        if "due_on" not in value:
            _take(row, "Due back", _s("The horn is due on %(due_on)s."), due_on=str(usual.on))
        row["about"] = [["Register number", horn.number], ["Pupil", pupil.name], [_s("Signs"), signer.name]]
        after = {"horn": horn.pk, "pupil": pupil.pk, "guardian": signer.pk, "issued_on": issued}
        judge(row, NEW, after={**after, "due_on": value.get("due_on", str(usual.on))})

    def write(self, rows: Sequence[Row], *, school: School, by: User, at: datetime) -> dict[str, Any]:
        listed = [_listed(row["after"]) for row in rows]
        there = recorded({one.horn for one in listed})
        if any(Span(one.horn, str(one.issued_on), STILL_OUT).clash(there[one.horn]) for one in listed):
            raise Stale
        try:
            made = begin_listed(school=school, listed=listed, by=by, at=at)
        except Refused as since:
            raise Stale from since
        for row, loan in zip(rows, made, strict=True):
            row["key"] = loan.pk
        return {}

    def undo(self, rows: Sequence[Row], made: Mapping[str, Any], *, school: School) -> None:
        take_back_listed(school=school, loans={row["key"]: _listed(row["after"]) for row in rows})


def _tell_due_from_back(rows: Sequence[Row], values: Sequence[Values], today: str) -> None:
    """A day that lies ahead is when the horn is due. Where no other column says that, and at least half of the days
    lie ahead, the whole column does: a day that is past is then overdue, and a cell that cannot be read empty."""
    days = [value["returned_on"] for value in values if "returned_on" in value]
    all_due = 0 < len(days) <= 2 * sum(day > today for day in days) and not any("due_on" in value for value in values)
    for row, value in zip(rows, values, strict=True):
        back = value.get("returned_on", "")
        if back and (all_due or back > today):
            if value.setdefault("due_on", back) != back:
                refuse(row, "Came back", back, _s("This day has not come yet."))
            del value["returned_on"]
        if all_due:
            unread = [wrong for wrong in row["wrong"] if wrong[0] == "Came back"]
            row["wrong"] = [wrong for wrong in row["wrong"] if wrong not in unread]
            row["noted"] += [["Due back", *rest] for _, *rest in unread]


def _take(row: Row, column: str, sentence: str, **filled: str) -> None:
    """Says what is taken where a day is missing, or beside why the day that stands there cannot be."""
    if all(note[0] != column for note in row["noted"]):
        leave_empty(row, column, "", _s("No day is given."))
    next(note for note in row["noted"] if note[0] == column).extend([sentence, filled])


def _listed(after: Mapping[str, Any]) -> Listed:
    days = {name: date.fromisoformat(after[name]) for name in ("issued_on", "due_on")}
    return Listed(after["horn"], after["pupil"], after["guardian"], **days)


def _signers(pupils: set[int]) -> dict[int, Guardian]:
    """Who answers for each pupil, the first on record where there are several."""
    ties = Pupil.guardians.through.objects.filter(pupil_id__in=pupils).order_by("-guardian_id")
    return {tie.pupil_id: tie.guardian for tie in ties.select_related("guardian")}


RUNNING_LOANS = RunningLoans()
