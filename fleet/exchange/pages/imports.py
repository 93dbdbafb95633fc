"""Bringing a list in: choose a file, match its columns, look at what would happen, write it, undo it."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from itertools import starmap
from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import get_language, override
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.exchange.actions.imports import (
    begin_writing,
    choose_header,
    correct_cells,
    discard,
    look_over_next,
    match_columns,
    settle_names,
    take_in,
    undo,
    write_next,
)
from fleet.exchange.actions.lists.base import STOOD_THERE
from fleet.exchange.actions.lists.every import kind_of
from fleet.exchange.forms import CellsForm, CloseNamesForm, ColumnsForm, FileForm, HeaderForm
from fleet.exchange.models import Import, ListKey
from fleet.exchange.pages.as_files import Out, as_file
from fleet.exchange.pages.preview import page_of_rows, preview_of, rows_of_lines
from fleet.exchange.reading.cells import plain
from fleet.exchange.reading.told import note_told
from fleet.ground.answering import answer, one_of, posted, posted_files, sure
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest

State = Import.State
# Without script a request goes on for so long before it answers; with it, each request does one batch.
SECONDS = 8.0


def imports(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    kind = request.GET.get("kind")
    initial = {"kind": kind if kind in ListKey.values else ListKey.HORNS}
    form = FileForm(posted(request), posted_files(request), initial=initial)
    earlier = Import.objects.at(school).exclude(state=State.READING).select_related("by")[:10]
    return answer(
        request,
        form,
        lambda: take_in(school=school, **form.said, by=request.user, at=request.now),
        page="exchange/imports.html",
        shown=lambda: {"earlier": earlier},
        then=lambda taken: request.seat.here("exchange:columns", taken.pk),
        refused_on="file",
        in_steps=True,
    )


def columns(request: SeatedRequest, pk: int) -> HttpResponse:
    imported = _found(request, pk)
    act = one_of(request, {"yes": _columns, "": _header}, button="match") or _columns
    return act(request, imported)


def _header(request: SeatedRequest, imported: Import) -> HttpResponse:
    """Another row is the one with the headings."""
    form = HeaderForm(posted(request))
    return answer(
        request,
        form,
        lambda: choose_header(imported=imported, line=form.line),
        page="exchange/columns.html",
        shown=lambda: {**_hint(imported), "form": ColumnsForm(imported=imported)},
        then=lambda _: request.seat.here("exchange:columns", imported.pk),
    )


def _columns(request: SeatedRequest, imported: Import) -> HttpResponse:
    form = ColumnsForm(posted(request), imported=imported)
    return answer(
        request,
        form,
        lambda: match_columns(imported=imported, columns=form.matched, day_first=form.cleaned_data["day_first"]),
        page="exchange/columns.html",
        shown=lambda: _hint(imported),
        then=lambda _: request.seat.here("exchange:import", imported.pk),
    )


def _hint(imported: Import) -> dict[str, Any]:
    return {"imported": imported, "hint": kind_of(imported.kind).hint}


def one_import(request: SeatedRequest, pk: int) -> HttpResponse:
    """The import as it stands; posting takes it a step further."""
    imported = _found(request, pk)
    acts: dict[str, Callable[[SeatedRequest, Import], HttpResponse]] = {
        "discard": _discard,
        "names": _names,
        **{button: partial(_step, step) for button, step in STEPS.items()},
    }
    act = one_of(request, acts, button="act") or _page
    return act(request, imported)


def _page(request: SeatedRequest, imported: Import, refused: Refused | None = None) -> HttpResponse:
    if imported.state == State.COLUMNS and refused is None:
        return redirect("exchange:columns", request.seat.school.slug, imported.pk)
    shown: dict[str, Any] = {"imported": imported, "refused": refused, **preview_of(imported)}
    shown["names"] = CloseNamesForm(imported=imported)
    page = "exchange/_import.html" if request.htmx else "exchange/import.html"  # type: ignore[attr-defined]
    # The script puts nothing on the page that does not come as 200.
    return render(request, page, shown, status=409 if refused and not request.htmx else 200)  # type: ignore[attr-defined]


def _discard(request: SeatedRequest, imported: Import) -> HttpResponse:
    return answer(
        request,
        sure(request),
        lambda: discard(imported=imported),
        page="exchange/import.html",
        shown=lambda: {"imported": _found(request, imported.pk), **preview_of(imported)},
        said=_s("%(list)s is put away. Nothing of it is on record.") % {"list": imported},
        then=lambda _: request.seat.here("exchange:imports"),
    )


def _names(request: SeatedRequest, imported: Import) -> HttpResponse:
    form = CloseNamesForm(posted(request), imported=imported)
    return answer(
        request,
        form,
        lambda: settle_names(imported=imported, answers=form.answers),
        page="exchange/import.html",
        shown=lambda: {"imported": imported, "names": form, **preview_of(imported)},
        then=lambda _: request.seat.here("exchange:import", imported.pk),
    )


def rows(request: SeatedRequest, pk: int) -> HttpResponse:
    """All rows of one kind, in pages, before anything is written. Those that need somebody can be typed anew."""
    imported, sent = _found(request, pk), posted(request)
    if imported.state != State.CHECKED:
        return redirect("exchange:import", request.seat.school.slug, imported.pk)
    shown = page_of_rows(imported, request.GET.get("are", ""), request.GET.get("page"))
    found = shown["page"].object_list if sent is None else rows_of_lines(imported, CellsForm.lines_in(sent))
    form = CellsForm(sent, imported=imported, rows=found, why=shown["why"]) if shown["why"] else None

    def typed_anew() -> int:
        typed = correct_cells(imported=imported, cells=form.typed if form else {})
        _check(request, imported)
        return typed

    return answer(
        request,
        form,
        typed_anew,
        page="exchange/rows.html",
        shown=lambda: {"imported": imported, **shown},
        said=lambda typed: (
            _s_many(
                "%(count)d cell is typed anew, and the list is read again.",
                "%(count)d cells are typed anew, and the list is read again.",
                typed,
            )
            % {"count": typed}
        ),
        then=lambda _: request.seat.here("exchange:import", imported.pk),
        in_steps=True,
    )


def _step(step: Callable[[SeatedRequest, Import], None], request: SeatedRequest, imported: Import) -> HttpResponse:
    """A step writes batch by batch, each in a transaction of its own: what was written before a refusal stays."""
    refused = None
    try:
        step(request, imported)
    except Refused as no:
        refused = no
    if refused is None and not request.htmx:  # type: ignore[attr-defined]
        return redirect("exchange:import", request.seat.school.slug, imported.pk)
    return _page(request, _found(request, imported.pk), refused)


def _go_on(request: SeatedRequest, step: Callable[[], bool]) -> None:
    """One step where the page asks for the next by itself; else as many as fit into a few seconds."""
    end = time.monotonic() + SECONDS
    while step():
        if request.htmx or time.monotonic() > end:  # type: ignore[attr-defined]
            return


def _check(request: SeatedRequest, imported: Import) -> None:
    _go_on(request, lambda: look_over_next(imported=imported, at=request.now))


def _write(request: SeatedRequest, imported: Import) -> None:
    begin_writing(imported=imported)
    _write_on(request, imported)


def _write_on(request: SeatedRequest, imported: Import) -> None:
    _go_on(request, lambda: write_next(imported=imported, by=request.user, at=request.now))


def _undo(request: SeatedRequest, imported: Import) -> None:
    undo(imported=imported, by=request.user, at=request.now)


STEPS: dict[str, Callable[[SeatedRequest, Import], None]] = {
    "check": _check,
    "write": _write,
    "write-on": _write_on,
    "undo": _undo,
}


def refused_rows(request: SeatedRequest, pk: int) -> HttpResponseBase:
    """The refused rows as they came, with the reasons behind, to correct and send again."""
    imported = _found(request, pk)
    columns = [Out(heading, partial(_cell, place)) for place, heading in enumerate(imported.headings)]
    batches = imported.batches.filter(refused__gt=0).iterator(chunk_size=4)
    rows = (row for batch in batches for row in batch.rows_that_are("refused"))
    kind, file = request.GET.get("as", "xlsx"), f"refused-{imported.kind}"
    return as_file(kind, file, "refused", [*columns, Out(_s("What is wrong"), partial(_wrong, get_language()))], rows)


def _cell(place: int, row: dict[str, Any]) -> str:
    """A cell as it came. A formula is only named, or sending it again uncorrected would take it for words."""
    text = str(row["cells"][place]) if place < len(row["cells"]) else ""
    return f"{STOOD_THERE}{text[1:]}".strip() if text.startswith("=") else plain(text)


def _wrong(language: str, row: dict[str, Any]) -> str:
    """The reasons in the language of the page: by the time they are written nothing is spoken any more."""
    with override(language):
        reasons = " ".join(f"{column}: {sentence}" for column, _, sentence in starmap(note_told, row["wrong"]))
        return _s("Row %(row)s. %(reasons)s") % {"row": row["line"], "reasons": reasons}


def _found(request: SeatedRequest, pk: int) -> Import:
    there = Import.objects.at(request.seat.school).exclude(state=State.READING)
    return get_object_or_404(there.select_related("school", "by"), pk=pk)
