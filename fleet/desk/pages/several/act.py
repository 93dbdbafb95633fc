"""One thing done to many rows of a list: what an act is, and the one page that all acts have.

The boxes of a list lead here by GET: the page shows each row as it is, with what the act asks for. Sent, each row is an
action of its own: one that is refused stays on the page with its reason and does not stop the others. What was done is
kept in the session until the next such act, so that it can be undone there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, Generic, TypeVar
from urllib.parse import urlencode

from django import forms
from django.contrib import messages
from django.db.models import Model, QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _s

from fleet.desk.forms import TickedForm
from fleet.ground.addresses import asked_back, way_back
from fleet.ground.answering import one_of, posted, status_of
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.people.models import School, User
from fleet.people.queries.seats import SeatedRequest

MOST = 200
KEPT = "several"
MOVED = _s_lazy("Somebody changed it meanwhile. Look again.")
Row = TypeVar("Row", bound=Model)


class Several(Generic[Row]):
    """One thing that is done to many rows. `path` ends its address, `listed_on` is the page of the list, `box` the name
    of its boxes, `at_least` what is said where none is ticked.

    `for_good` says why it cannot be undone; "" where `undo` undoes it. An act that only `prints` has the pages that
    print, each with the words of its button, and nothing to do.
    """

    path: str
    box: str
    listed_on: str
    at_least: str
    title: str
    button: str = ""
    for_good: str = ""
    prints: Sequence[tuple[str, str]] = ()

    @property
    def page(self) -> str:
        return f"desk:several-{self.path}"

    def rows(self, school: School, keys: Iterable[int]) -> list[Row]:
        """The school's rows of those keys in the list's order, with all that is shown of them."""
        raise NotImplementedError

    def all_of(self, request: SeatedRequest) -> QuerySet[Row]:
        """All rows that the list shows at this address."""
        raise NotImplementedError

    def form(self, request: SeatedRequest, rows: Sequence[Row]) -> forms.Form:
        """What the act asks for besides the rows."""
        return forms.Form(posted(request))

    def name(self, row: Row) -> str:
        return str(row)

    def now(self, row: Row) -> str:
        """How the row stands, in words."""
        return ""

    def seen(self, row: Row) -> str:
        """What of the row the act hangs on: changed meanwhile, the row is looked at again."""
        return ""

    def why_not(self, row: Row, today: date) -> str:
        """Why the act can do nothing with this row, or ""."""
        return ""

    def beside(self, row: Row) -> tuple[str, str] | None:
        """The page of a row that is not meant like the others, and the words of its link."""
        return None

    def do(self, row: Row, *, said: dict[str, Any], by: User, at: datetime) -> Any:
        """Does it and gives what was before, as JSON takes it. Raises Refused."""
        raise NotImplementedError

    def undo(self, row: Row, before: Any, *, by: User, at: datetime) -> None:
        """Puts back what was before. Raises Refused."""
        raise NotImplementedError

    def told(self, many: str, said: dict[str, Any]) -> str:
        """What was done, of `3 horns`."""
        raise NotImplementedError

    def count(self, many: int) -> str:
        """`3 horns`."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class RowShown:
    """A row as the page before the act shows it."""

    key: int
    name: str
    now: str
    seen: str
    why_not: str
    beside: tuple[str, str]
    ticked: bool
    refused: str = ""


def page_of(act: Several[Any]) -> Callable[[SeatedRequest], HttpResponse]:
    """The page of an act."""

    def page(request: SeatedRequest) -> HttpResponse:
        way = one_of(request, {"undo": _undo, "": _do}) or (_done if request.GET.get("done") else _look)
        return way(request, act)

    return page


def _look(request: SeatedRequest, act: Several[Any]) -> HttpResponse:
    ticked = TickedForm(request.GET, box=act.box)
    keys = ticked.keys
    if ticked.whole_list:
        keys = list(act.all_of(request).values_list("pk", flat=True)[: MOST + 1])
    rows = act.rows(request.seat.school, keys[:MOST])
    lines = _lines(request, act, rows, set(keys))
    return _page(request, act, lines, act.form(request, rows), more=len(keys) > MOST)


def _do(request: SeatedRequest, act: Several[Any]) -> HttpResponse:
    ticked = TickedForm(posted(request), box=act.box)
    keys = set(ticked.keys)
    rows = act.rows(request.seat.school, ticked.shown[:MOST])
    lines, form = _lines(request, act, rows, keys), act.form(request, rows)
    meant = [(row, line) for row, line in zip(rows, lines, strict=True) if line.ticked and not line.why_not]
    if not meant:
        form.add_error(None, act.at_least)
    if not form.is_valid() or act.prints:
        return _page(request, act, lines, form, more=ticked.more)
    done: dict[int, Any] = {}
    left: list[RowShown] = []
    for row, line in meant:
        try:
            if line.seen != ticked.seen(line.key):
                raise Refused(MOVED)
            done[line.key] = act.do(row, said=form.cleaned_data, by=request.user, at=request.now)
        except Refused as no:
            left.append(replace(line, refused=no.sentence))
    told = _keep(request, act, done, form.cleaned_data) if done else ""
    if left:
        if told:
            messages.success(request, told)
        return _page(request, act, left, form, refused=True)
    return redirect(f"{request.seat.here(act.page)}?{urlencode({'done': 1, 'next': asked_back(request)})}")


def _keep(request: SeatedRequest, act: Several[Any], done: dict[int, Any], said: dict[str, Any]) -> str:
    """What was done, in a sentence."""
    told = act.told(act.count(len(done)), said)
    after = [[row.pk, done[row.pk], act.seen(row)] for row in act.rows(request.seat.school, done)]
    request.session[KEPT] = {"school": request.seat.school.pk, "page": act.page, "told": told, "rows": after}
    return told


def _kept(request: SeatedRequest, act: Several[Any]) -> dict[str, Any]:
    """What was done last, where it was this act at this school."""
    kept = request.session.get(KEPT) or {}
    same = (kept.get("school"), kept.get("page")) == (request.seat.school.pk, act.page)
    return kept if same else {}


def _done(request: SeatedRequest, act: Several[Any]) -> HttpResponse:
    kept = _kept(request, act)
    back = way_back(request, request.seat.here(act.listed_on))
    if not kept:
        return redirect(back)
    rows = act.rows(request.seat.school, [pk for pk, *_ in kept["rows"]])
    lines = _lines(request, act, rows, set())
    return render(request, "several/done.html", {"act": act, "told": kept["told"], "lines": lines, "back": back})


def _undo(request: SeatedRequest, act: Several[Any]) -> HttpResponse:
    """Puts back each row that is still as the act left it."""
    kept = {} if act.for_good else _kept(request, act)
    undone, not_undone = 0, []
    was = {pk: (before, after) for pk, before, after in kept.get("rows", [])}
    for row in act.rows(request.seat.school, was):
        before, after = was[row.pk]
        try:
            if act.seen(row) != after:
                raise Refused(_s("%(row)s was changed again since.") % {"row": act.name(row)})
            act.undo(row, before, by=request.user, at=request.now)
        except Refused as no:
            not_undone.append(no.sentence)
        else:
            undone += 1
    if undone:
        messages.success(request, _s("Undone for %(undone)s.") % {"undone": act.count(undone)})
    for sentence in not_undone or ([] if undone else [_s("There is nothing to undo any more.")]):
        messages.warning(request, sentence)
    request.session.pop(KEPT, None)
    return redirect(way_back(request, request.seat.here(act.listed_on)))


def _lines(request: SeatedRequest, act: Several[Any], rows: Iterable[Any], ticked: set[int]) -> list[RowShown]:
    lines = []
    for row in rows:
        page, words = act.beside(row) or ("", "")
        beside = (request.seat.here(page, row.pk), words) if page else ("", "")
        why_not = act.why_not(row, request.today)
        lines.append(RowShown(row.pk, act.name(row), act.now(row), act.seen(row), why_not, beside, row.pk in ticked))
    return lines


def _page(
    request: SeatedRequest,
    act: Several[Any],
    lines: list[RowShown],
    form: forms.Form,
    *,
    more: bool = False,
    refused: bool = False,
) -> HttpResponse:
    """The look before the act; `more` says that others were meant, too many for one page."""
    able = [line for line in lines if not line.why_not]
    context = {
        "act": act,
        "lines": able,
        "counted": act.count(len(able)),
        "left_out": [line for line in lines if line.why_not],
        "form": form,
        "prints": [(request.seat.here(page), words) for page, words in act.prints if request.seat.may(page)],
        "next": asked_back(request),
        "back": way_back(request, request.seat.here(act.listed_on)),
        "most": MOST if more else 0,
    }
    status = 409 if refused else status_of(request)
    return render(request, "several/look.html", context, status=status)
