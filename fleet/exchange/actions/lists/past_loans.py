"""A list of loans that have ended. Horns and pupils must be on record. What still runs is a list of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists.base import CHANGED, NEW, REFUSED, SAME, Seen, Stale, a_day, judge, refuse, through
from fleet.exchange.actions.lists.loans import Span, horn_named, horns_numbered, pupil_named, recorded, refuse_twice_out
from fleet.exchange.actions.lists.names import BORROWERS, GIVEN, NAMES, whole_name
from fleet.exchange.actions.lists.pupils import pupils_on_record
from fleet.exchange.reading.columns import ListColumn, Reading, Row, Values
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.lending.forms.past_loans import PastLoanForm
from fleet.lending.models import PastLoan
from fleet.people.forms.families import PupilForm
from fleet.people.models import School, User
from fleet.register.forms.horns import HornForm
from fleet.register.models import Horn

COLUMNS = (
    ListColumn("number", "Register number", through(HornForm, "number"), (
        "number", "horn", "horn no", "no", "nr", "instrument", "inventarnummer", "nummer", "numero", "asset number",
        "inv nr", "inventar nr", "inventarnr", "instrumentennummer", "numero d inventaire", "register no",
    ), required=True),
    ListColumn("name", "Pupil", through(PupilForm, "name"), (
        *NAMES, "name", *BORROWERS,
    ), vital=True),
    GIVEN,
    ListColumn("pupil_id", "Pupil id", through(PupilForm, "pupil_id"), (
        "id", "student id", "schulernummer", "schuler nr", "student number", "pupil number",
    ), vital=True),
    ListColumn("issued_on", "Out since", a_day(PastLoanForm, "issued_on"), (
        "issued", "issued on", "from", "out", "lent on", "loan date", "start", "ausgeliehen am", "von", "ausgabe",
        "prete le", "du", "desde", "dal", "van", "uit", "ausgeliehen", "ausleihdatum", "ausleihe", "entliehen am",
        "leihbeginn", "date out", "date lent", "loaned on", "lent", "sorti le", "date de pret", "prestado el",
    ), required=True),
    ListColumn("returned_on", "Came back", a_day(PastLoanForm, "returned_on"), (
        "returned", "returned on", "until", "to", "back", "end", "zuruck", "zuruckgegeben", "bis", "ruckgabe",
        "rendu le", "au", "hasta", "al", "tot", "terug", "ruckgabedatum", "zuruck am", "zuruckgegeben am", "leihende",
        "date in", "date returned", "retour", "devuelto el", "restituito il", "ended on",
    ), vital=True),
    ListColumn("notes", "Notes", through(PastLoanForm, "notes"), (
        "note", "remarks", "bemerkung", "remarques", "observaciones",
    )),
)  # fmt: skip


class PastLoans:
    key = "past-loans"
    columns = COLUMNS
    hint = _s_lazy(
        "Bring the horns and the pupils in first, those who have left too. What is still out: as running loans."
    )

    def check(self, rows: Sequence[Row], read: Reading, values: Sequence[Values], seen: Mapping[str, int]) -> Seen:
        met: Seen = {}
        for row, value in zip(rows, values, strict=True):
            whole_name(row, value)
        horns = horns_numbered(read.school, values, whole=False)
        by_id, by_name = pupils_on_record(read.school, values)
        there = _on_record(horns.values())
        for row, value in zip(rows, values, strict=True):
            number, issued, returned = (value.get(k, "") for k in ("number", "issued_on", "returned_on"))
            horn = horn_named(row, value, horns)
            pupil = pupil_named(row, value, by_id, by_name)
            named = any(column == "Came back" for column, *_ in row["wrong"])
            if not returned and not named:
                refuse(row, "Came back", "", _s("This loan has not ended. Bring the same file in as running loans."))
            elif issued and returned and returned < issued:
                refuse(row, "Came back", returned, _s("A horn cannot come back before it was issued."))
            mark = f"{number.upper()} {issued}"
            earlier = seen.get(mark) or met.get(mark)
            if number and issued and earlier:
                sentence = _s("Row %(row)s has this horn going out on the same day.")
                refuse(row, "Register number", number, sentence, row=earlier)
            elif number and issued:
                met[mark] = row["line"]
            if row["wrong"] or horn is None or pupil is None:
                judge(row, REFUSED)
                continue
            row["about"] = [["Register number", horn.number], ["Pupil", pupil.name]]
            after = {"horn": horn.pk, "pupil": pupil.pk, "issued_on": issued, "returned_on": returned}
            after["notes"] = value.get("notes", "")
            self._judge(row, after, there.get((horn.pk, issued)))
        _refuse_overlaps(rows, there, seen, met)
        return met

    @staticmethod
    def _judge(row: Row, after: dict[str, Any], past: PastLoan | None) -> None:
        if past is None:
            judge(row, NEW, after=after)
            return
        kept = _as_kept(past)
        if not after["notes"]:
            del after["notes"]
        changed = {name: value for name, value in after.items() if kept[name] != value}
        before = {name: kept[name] for name in changed}
        judge(row, CHANGED if changed else SAME, key=past.pk, before=before, after=changed)

    def write(self, rows: Sequence[Row], *, school: School, by: User, at: datetime) -> dict[str, Any]:
        new = [row for row in rows if row["verdict"] == NEW]
        changed = [row for row in rows if row["verdict"] == CHANGED]
        horns = Horn.objects.at(school).in_bulk([row["after"]["horn"] for row in new])
        there = _on_record(horns.values())
        if any((row["after"]["horn"], row["after"]["issued_on"]) in there for row in new):
            raise Stale
        loans = _as_before(changed, school)
        spans = [_span(row, loans.get(row["key"])) for row in (*new, *changed)]
        known = recorded({span.horn for span in spans}, besides=set(loans))
        if any(span.clash(known[span.horn]) for span in spans):
            raise Stale
        made = PastLoan.objects.bulk_create(PastLoan(**_to_columns(row["after"])) for row in new)
        for row, loan in zip(new, made, strict=True):
            row["key"] = loan.pk
        _amend(loans, changed, "after")
        return {}

    def undo(self, rows: Sequence[Row], made: Mapping[str, Any], *, school: School) -> None:
        new = [row for row in rows if row["verdict"] == NEW]
        changed = [row for row in rows if row["verdict"] == CHANGED]
        try:
            _as_before([{**row, "before": row["after"]} for row in new], school)
            loans = _as_before([{**row, "before": row["after"]} for row in changed], school)
        except Stale as since:
            raise Refused(_s("A past loan was changed since, so the import cannot be undone.")) from since
        _amend(loans, changed, "before")
        PastLoan.objects.filter(pk__in=[row["key"] for row in new]).delete()


def _span(row: Row, past: PastLoan | None) -> Span:
    """When the horn is out once this row is written."""
    whole = {**(_as_kept(past) if past else {}), **row["after"]}
    return Span(whole["horn"], whole["issued_on"], whole["returned_on"], line=row["line"])


def _refuse_overlaps(
    rows: Sequence[Row], there: Mapping[tuple[int, str], PastLoan], seen: Mapping[str, int], met: Seen
) -> None:
    """A horn cannot be with two pupils at once: neither within the file nor with what is on record.

    A past loan that the file tells anew counts as the file has it, so those rows come first. What was taken goes to
    `met` for the batches that follow.
    """
    by_key = {past.pk: past for past in there.values()}
    taken = [row for row in rows if row["verdict"] != REFUSED]
    anew = {row["key"] for row in taken if row["key"]}
    spans = {row["line"]: _span(row, by_key.get(row["key"])) for row in taken}
    known = recorded({span.horn for span in spans.values()})
    filed: dict[int, list[Span]] = {}
    for mark, line in seen.items():
        if mark.startswith("out "):
            _, horn, issued, returned, key = mark.split(" ")
            span = Span(int(horn), issued, returned, line=line, key=int(key))
            filed.setdefault(span.horn, []).append(span)
            anew.add(span.key)
    for row in sorted(taken, key=lambda row: row["key"] is None):
        span = spans[row["line"]]
        others = [one for one in known[span.horn] if one.key is None or one.key not in anew]
        other = span.clash(filed.get(span.horn, ())) or span.clash(others)
        if other is not None:
            refuse_twice_out(row, span.issued, other)
            anew.discard(row["key"])
            judge(row, REFUSED)
            continue
        filed.setdefault(span.horn, []).append(span)
        met[f"out {span.horn} {span.issued} {span.returned} {row['key'] or 0}"] = row["line"]


def _as_kept(past: PastLoan) -> dict[str, Any]:
    return {
        "horn": past.horn_id,
        "pupil": past.pupil_id,
        "issued_on": past.issued_on.isoformat(),
        "returned_on": past.returned_on.isoformat(),
        "notes": past.notes,
    }


def _to_columns(after: Mapping[str, Any]) -> dict[str, Any]:
    values: dict[str, Any] = {f"{name}_id": after[name] for name in ("horn", "pupil") if name in after}
    values |= {name: date.fromisoformat(after[name]) for name in ("issued_on", "returned_on") if name in after}
    return values | ({"notes": after["notes"]} if "notes" in after else {})


def _on_record(horns: Any) -> dict[tuple[int, str], PastLoan]:
    found = PastLoan.objects.filter(horn__in=[horn.pk for horn in horns])
    return {(past.horn_id, past.issued_on.isoformat()): past for past in found}


def _as_before(rows: Sequence[Row], school: School) -> dict[int, PastLoan]:
    loans = PastLoan.objects.filter(horn__school=school).select_for_update(of=("self",))
    found = loans.in_bulk([row["key"] for row in rows])
    for row in rows:
        past = found.get(row["key"])
        kept = _as_kept(past) if past else {}
        if past is None or any(kept[name] != value for name, value in row["before"].items()):
            raise Stale
    return found


def _amend(loans: Mapping[int, PastLoan], rows: Sequence[Row], which: str) -> None:
    fields: set[str] = set()
    for row in rows:
        for name, value in _to_columns(row[which]).items():
            setattr(loans[row["key"]], name, value)
            fields.add(name.removesuffix("_id"))
    if fields:
        PastLoan.objects.bulk_update(list(loans.values()), sorted(fields), batch_size=100)


PAST_LOANS = PastLoans()
