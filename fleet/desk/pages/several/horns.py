"""What is done to many horns at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.desk.forms import AllFineForm, MovePlaceForm
from fleet.desk.pages.several.act import Several
from fleet.ground.answering import posted
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.lending.actions.returning import record_mouthpiece_cleaned
from fleet.lending.forms.returning import MouthpieceForm
from fleet.lending.queries.loans import last_ended_of
from fleet.people.models import School, User
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions.horns import amend_horn
from fleet.register.models import Horn, Place
from fleet.register.queries.filters import HornFilters
from fleet.workshop.actions import checking
from fleet.workshop.queries.condition import latest_checks_of, open_findings_of, usual_occasion


class OfHorns(Several[Any]):
    box, listed_on = "horn", "register:horns"
    at_least = _s_lazy("Tick at least one horn.")

    def count(self, many: int) -> str:
        return _s_many("%(many)s horn", "%(many)s horns", many) % {"many": many}

    def rows(self, school: School, keys: Iterable[int]) -> list[Any]:
        horns = Horn.objects.at(school).filter(pk__in=list(keys)).select_related("place", "school")
        return list(horns.by_number())

    def all_of(self, request: SeatedRequest) -> QuerySet[Any]:
        filters = HornFilters(request.GET, school=request.seat.school, request=request)
        found: QuerySet[Any] = filters.found().by_number()
        return found

    def why_not(self, row: Any, today: date) -> str:
        return _s("It is withdrawn.") if row.withdrawn_on else ""


class MovePlace(OfHorns):
    path, title, button = "place", _s_lazy("Move to another place"), _s_lazy("Move them")

    def form(self, request: SeatedRequest, rows: Sequence[Any]) -> MovePlaceForm:
        return MovePlaceForm(posted(request), school=request.seat.school)

    def now(self, row: Any) -> str:
        return _s("kept in %(place)s") % {"place": row.place} if row.place else _s("no place yet")

    def seen(self, row: Any) -> str:
        return str(row.place_id or "")

    def do(self, row: Any, *, said: dict[str, Any], by: User, at: datetime) -> int | None:
        before: int | None = row.place_id
        amend_horn(horn=row, changes={"place": said["place"]}, by=by, at=at)
        return before

    def undo(self, row: Any, before: Any, *, by: User, at: datetime) -> None:
        place = Place.objects.filter(school=row.school, pk=before).first()
        amend_horn(horn=row, changes={"place": place}, by=by, at=at)

    def told(self, many: str, said: dict[str, Any]) -> str:
        return _s("%(many)s moved to %(said)s.") % {"many": many, "said": said["place"]}


class AllFine(OfHorns):
    """Looked over, and as before: nothing new."""

    path, title, button = "checked", _s_lazy("Checked: all fine as before"), _s_lazy("Save the checks")
    for_good = _s_lazy("A check stays in the horn’s story. Check a horn again to say otherwise.")

    def rows(self, school: School, keys: Iterable[int]) -> list[Any]:
        horns = super().rows(school, keys)
        checks, findings = latest_checks_of(row.pk for row in horns), open_findings_of(row.pk for row in horns)
        for row in horns:
            row.newest, row.wrong = checks.get(row.pk), findings.get(row.pk, [])
        return horns

    def why_not(self, row: Any, today: date) -> str:
        where = row.whereabouts
        nobody_sees_it = where.code in {"not-found", "away"}
        return super().why_not(row, today) or (
            _s("It is %(where)s: nobody here looks it over.") % {"where": where.words} if nobody_sees_it else ""
        )

    def form(self, request: SeatedRequest, rows: Sequence[Any]) -> AllFineForm:
        return AllFineForm(posted(request), never=sum(not row.newest for row in rows))

    def now(self, row: Any) -> str:
        if row.newest is None:
            return _s("never checked")
        wrong = ", ".join(str(one) for one in row.wrong) or _s("nothing wrong")
        looks = row.newest.get_finish_grade_display()
        return _s("on %(at)s: %(wrong)s; finish: %(looks)s") % {
            "at": day(timezone.localdate(row.newest.at)),
            "wrong": wrong,
            "looks": looks,
        }

    def seen(self, row: Any) -> str:
        return str(row.newest.pk if row.newest else 0)

    def beside(self, row: Any) -> tuple[str, str]:
        return "workshop:check-new", _s("Something is wrong")

    def do(self, row: Any, *, said: dict[str, Any], by: User, at: datetime) -> None:
        told: dict[str, Any] = {"horn": row, "occasion": usual_occasion(row), "by": by, "at": at}
        if row.newest is None:
            checking.check_all_fine(seen=0, finish_grade=said["finish_grade"], **told)
        else:
            checking.check_as_before(seen=row.newest.pk, **told)

    def told(self, many: str, said: dict[str, Any]) -> str:
        return _s("%(many)s checked.") % {"many": many}


class Mouthpieces(OfHorns):
    """The mouthpieces that came back with horns are clean."""

    path, title, button = "mouthpieces", _s_lazy("Mouthpieces are clean"), _s_lazy("Save")
    for_good = _s_lazy("Who cleaned it and when stays with the loan.")

    def rows(self, school: School, keys: Iterable[int]) -> list[Any]:
        horns = super().rows(school, keys)
        last = last_ended_of(row.pk for row in horns)
        for row in horns:
            row.last = last.get(row.pk)
        return horns

    def form(self, request: SeatedRequest, rows: Sequence[Any]) -> MouthpieceForm:
        return MouthpieceForm(posted(request), today=request.today)

    def now(self, row: Any) -> str:
        return _s("came back on %(returned_on)s") % {"returned_on": day(row.last.returned_on)} if row.last else ""

    def why_not(self, row: Any, today: date) -> str:
        if row.last is None:
            return _s("It has not come back from a loan.")
        return "" if row.last.mouthpiece_waits else _s("Its mouthpiece does not wait to be cleaned.")

    def do(self, row: Any, *, said: dict[str, Any], by: User, at: datetime) -> None:
        record_mouthpiece_cleaned(loan=row.last, **said, by=by, at=at)

    def told(self, many: str, said: dict[str, Any]) -> str:
        return _s("The mouthpieces of %(many)s are noted as clean.") % {"many": many}


class PrintHorns(OfHorns):
    path, title = "labels", _s_lazy("Print for these horns")
    prints = (("reports:labels", _s_lazy("Labels")), ("reports:handover", _s_lazy("Handover receipt")))
