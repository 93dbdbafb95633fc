"""What is done to many pupils at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.desk.forms import ClassForm, LeftForm
from fleet.desk.pages.several.act import Several
from fleet.ground.answering import posted
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.lending.actions.pupils import amend
from fleet.lending.queries.loans import has_now
from fleet.people.forms.classes import groups_of
from fleet.people.models import Pupil, School, User
from fleet.people.queries.seats import SeatedRequest


class OfPupils(Several[Any]):
    box, listed_on = "pupil", "people:pupils"
    at_least = _s_lazy("Tick at least one pupil.")

    def count(self, many: int) -> str:
        return _s_many("%(many)s pupil", "%(many)s pupils", many) % {"many": many}

    def rows(self, school: School, keys: Iterable[int]) -> list[Any]:
        pupils = Pupil.objects.at(school).filter(pk__in=list(keys), struck_out="").select_related("school")
        return list(pupils.in_order().prefetch_related(has_now()))

    def all_of(self, request: SeatedRequest) -> QuerySet[Any]:
        return Pupil.objects.listed(request.seat.school, request.GET.get("q", "")).in_order()

    def why_not(self, row: Any, today: date) -> str:
        return _s("Left on %(left_on)s.") % {"left_on": day(row.left_on)} if row.left_on else ""


class MoveClass(OfPupils):
    path, title, button = "class", _s_lazy("Move to another class"), _s_lazy("Move them")

    def form(self, request: SeatedRequest, rows: Sequence[Any]) -> ClassForm:
        sent = posted(request)
        return ClassForm(sent, groups=groups_of(request.seat.school, bound=sent is not None))

    def now(self, row: Any) -> str:
        return row.class_in_words or _s("no class")

    def seen(self, row: Any) -> str:
        # On one line: a browser sends the end of a line otherwise than it was given.
        return f"{row.year}/{row.group}"

    def do(self, row: Any, *, said: dict[str, Any], by: User, at: datetime) -> list[str]:
        amend(pupil=row, changes={name: value for name, value in said.items() if value}, by=by, at=at)
        return [row.year, row.group]

    def undo(self, row: Any, before: Any, *, by: User, at: datetime) -> None:
        year, group = before
        amend(pupil=row, changes={"year": year, "group": group}, by=by, at=at)

    def told(self, many: str, said: dict[str, Any]) -> str:
        return _s("%(many)s moved to %(said)s.") % {"many": many, "said": said["group"]}


class Leavers(OfPupils):
    path, title, button = "leavers", _s_lazy("They left the school"), _s_lazy("Mark them as leavers")

    def form(self, request: SeatedRequest, rows: Sequence[Any]) -> LeftForm:
        return LeftForm(posted(request), now=request.now)

    def now(self, row: Any) -> str:
        owes = ", ".join(
            _s("still has %(horn)s, due %(day)s") % {"horn": loan.horn, "day": day(loan.due_on)} for loan in row.has_now
        )
        return "; ".join(filter(None, (row.class_in_words, owes)))

    def seen(self, row: Any) -> str:
        return row.left_on.isoformat() if row.left_on else ""

    def do(self, row: Any, *, said: dict[str, Any], by: User, at: datetime) -> None:
        amend(pupil=row, changes=said, by=by, at=at)

    def undo(self, row: Any, before: Any, *, by: User, at: datetime) -> None:
        amend(pupil=row, changes={"left_on": None}, by=by, at=at)

    def told(self, many: str, said: dict[str, Any]) -> str:
        return _s("%(many)s marked as having left on %(said)s.") % {"many": many, "said": day(said["left_on"])}
