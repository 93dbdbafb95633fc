"""Bringing a list in: choose a file, match its columns, look at what would happen, write it, undo it."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render

from fleet.exchange.actions import imports as imports_actions
from fleet.exchange.actions.lists.base import STOOD_THERE
from fleet.exchange.actions.lists.every import kind_of
from fleet.exchange.forms import ColumnsForm, FileForm
from fleet.exchange.models import Import, ListKey
from fleet.exchange.pages.as_files import Out, as_file
from fleet.exchange.pages.preview import preview_of
from fleet.exchange.reading.cells import plain
from fleet.ground.addresses import whole
from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest

State = Import.State
# Without script a request goes on for so long before it answers; with it, each request does one batch.
SECONDS = 8.0


def imports(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    kind = request.GET.get("kind")
    initial = {"kind": kind if kind in ListKey.values else ListKey.HORNS}
    sent = request.method == "POST"
    form = FileForm(request.POST if sent else None, request.FILES if sent else None, initial=initial)
    if sent and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            taken = imports_actions.take_in(
                school=school,
                kind=form.cleaned_data["kind"],
                file=file,
                name=file.name,
                by=request.user,
                at=request.now,
            )
        except Refused as no:
            form.add_error("file", no.sentence)
        else:
            return redirect("exchange:columns", school.slug, taken.pk)
    earlier = Import.objects.at(school).exclude(state=State.READING).select_related("by")[:10]
    shown = {"form": form, "earlier": earlier}
    return render(request, "exchange/imports.html", shown, status=status_of(request))


def columns(request: SeatedRequest, pk: int) -> HttpResponse:
    imported = _found(request, pk)
    form = ColumnsForm(request.POST if "match" in request.POST else None, imported=imported)
    refused = None
    try:
        if request.method == "POST" and "header" in request.POST:
            imports_actions.choose_header(imported=imported, line=whole(request.POST["header"]) or 0)
            return redirect("exchange:columns", request.seat.school.slug, pk)
        if request.method == "POST" and form.is_valid():
            imports_actions.match_columns(
                imported=imported, columns=form.matched, day_first=form.cleaned_data["day_first"]
            )
            return redirect("exchange:import", request.seat.school.slug, pk)
    except Refused as no:
        refused = no
    shown = {"imported": imported, "form": form, "refused": refused, "hint": kind_of(imported.kind).hint}
    status = 409 if refused else 422 if form.errors else 200
    return render(request, "exchange/columns.html", shown, status=status)


def one_import(request: SeatedRequest, pk: int) -> HttpResponse:
    """The import as it stands; posting takes it a step further."""
    imported = _found(request, pk)
    act = request.POST.get("act", "") if request.method == "POST" else ""
    refused = None
    try:
        if act == "discard":
            imports_actions.discard(imported=imported)
            messages.success(request, f"{imported} is put away. Nothing of it is on record.")
            return redirect("exchange:imports", request.seat.school.slug)
        if act in _ACTS:
            _ACTS[act](request, imported)
            if not request.htmx:  # type: ignore[attr-defined]
                return redirect("exchange:import", request.seat.school.slug, pk)
    except Refused as no:
        refused = no
    imported = _found(request, pk)
    if imported.state == State.COLUMNS and refused is None:
        return redirect("exchange:columns", request.seat.school.slug, pk)
    shown: dict[str, Any] = {"imported": imported, "refused": refused, **preview_of(imported)}
    page = "exchange/_import.html" if request.htmx else "exchange/import.html"  # type: ignore[attr-defined]
    return render(request, page, shown, status=409 if refused and not request.htmx else 200)  # type: ignore[attr-defined]


def _go_on(request: SeatedRequest, step: Callable[[], bool]) -> None:
    """One step where the page asks for the next by itself; else as many as fit into a few seconds."""
    end = time.monotonic() + SECONDS
    while step():
        if request.htmx or time.monotonic() > end:  # type: ignore[attr-defined]
            return


def _check(request: SeatedRequest, imported: Import) -> None:
    _go_on(request, lambda: imports_actions.look_over_next(imported=imported, at=request.now))


def _write(request: SeatedRequest, imported: Import) -> None:
    imports_actions.begin_writing(imported=imported)
    _write_on(request, imported)


def _write_on(request: SeatedRequest, imported: Import) -> None:
    _go_on(request, lambda: imports_actions.write_next(imported=imported, by=request.user, at=request.now))


def _undo(request: SeatedRequest, imported: Import) -> None:
    imports_actions.undo(imported=imported)
    messages.success(request, "The import is undone. Everything is as it was before.")


_ACTS: dict[str, Callable[[SeatedRequest, Import], None]] = {
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
    return as_file(kind, file, "refused", [*columns, Out("What is wrong", _wrong)], rows)


def _cell(place: int, row: dict[str, Any]) -> str:
    """A cell as it came. A formula is only named, or sending it again uncorrected would take it for words."""
    text = str(row["cells"][place]) if place < len(row["cells"]) else ""
    return f"{STOOD_THERE}{text[1:]}".strip() if text.startswith("=") else plain(text)


def _wrong(row: dict[str, Any]) -> str:
    reasons = " ".join(f"{column}: {sentence}" for column, _, sentence in row["wrong"])
    return f"Row {row['line']}. {reasons}"


def _found(request: SeatedRequest, pk: int) -> Import:
    there = Import.objects.at(request.seat.school).exclude(state=State.READING)
    return get_object_or_404(there.select_related("school", "by"), pk=pk)
