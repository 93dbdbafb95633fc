"""Issuing a class: pair pupils with horns, say what goes along, print all sheets, tick who signed, issue.

Every step is an address with everything chosen before. Each loan is made in a transaction of its own, so one that is
refused keeps no other back; its reason stands beside it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.loans import actions
from fleet.loans.batch import MOST_IN_A_BATCH, Batch, Entry, batch_from, pairs_in_query
from fleet.loans.candidates import classes
from fleet.loans.forms import SignedForm
from fleet.loans.lending import day
from fleet.loans.models import Loan
from fleet.loans.pairing import Pairing, pair_by_number
from fleet.refused import Refused

STEPS = ("Pupils and horns", "What goes along", "Print, sign and issue")


def batch(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, timezone.localdate(request.now)
    if "pair" not in request.GET:
        return _choose(request)
    here = f"{request.path}?{request.GET.urlencode()}"
    read = batch_from(request.GET, school, today, request.seat, address=here)
    if read.is_whole and request.method == "POST":
        return _issue(request, read)
    if read.is_whole and request.GET.get("step") != "change":
        signed = SignedForm(today=today)
        return _page(request, "sign", read, signed=signed, all=request.GET.get("tick") == "all")
    status = 422 if request.method == "POST" else 200
    return _page(request, "particulars", read, status=status)


def _choose(request: SeatedRequest) -> HttpResponse:
    """The pupils of a class, each with a line to type or scan the number of a horn into."""
    school = request.seat.school
    known = classes(school)
    group = request.GET.get("class")
    pairing: Pairing | None = None
    if group is not None and group in dict(known):
        pairing = pair_by_number(school, group, request.GET)
        # A scanner ends each number with Enter, which looks up the numbers so far; only the button goes on.
        if "go" in request.GET and pairing.pairs and not pairing.wrong:
            return redirect(f"{request.path}?{pairs_in_query(pairing.pairs)}")
    status = 422 if request.method == "POST" else 200
    groups = [{"name": name, "label": name or "in no class", "pupils": n} for name, n in known]
    shown = {"groups": groups, "pairing": pairing, "group": group, "steps": _steps(0), "most": MOST_IN_A_BATCH}
    return render(request, "loans/batch_pair.html", shown, status=status)


def _issue(request: SeatedRequest, read: Batch) -> HttpResponse:
    ticked = set(request.POST.getlist("signed"))
    signed = SignedForm({"signed": bool(ticked), "signed_on": request.POST.get("signed_on", "")}, today=read.today)
    for entry in read.entries:
        entry.ticked = entry.key in ticked
    if not signed.is_valid():
        return _page(request, "sign", read, signed=signed, status=422)
    done = [
        entry
        for entry in read.entries
        if entry.ticked and _issued(entry, read, signed.cleaned_data["signed_on"], request)
    ]
    if done:
        until = day(read.form.cleaned_data["due_on"])
        horns = "1 horn is" if len(done) == 1 else f"{len(done)} horns are"
        messages.success(request, f"{horns} out until {until}: {_names(done)}.")
    read.entries = [entry for entry in read.entries if entry not in done]
    if any(entry.refused for entry in read.entries):
        return _page(request, "sign", read, signed=signed, status=409)
    if read.entries:
        return redirect(f"{request.path}?{read.query()}")
    return redirect("loans:loans", read.school.slug)


def _issued(entry: Entry, read: Batch, signed_on: date, request: SeatedRequest) -> Loan | None:
    """The loan, or None with the reason on the entry."""
    if entry.guardian is None or entry.check is None or entry.stop:
        entry.refused = entry.stop or "Choose first who signs."
        return None
    try:
        return actions.issue(
            horn=entry.horn,
            pupil=entry.pupil,
            guardian=entry.guardian,
            agreement_version=read.agreement.version if read.version_seen is None else read.version_seen,
            check_seen=entry.check.pk if entry.seen is None else entry.seen,
            due_on=read.form.cleaned_data["due_on"],
            signed_on=signed_on,
            accessories=read.form.along(),
            by=request.user,
            at=request.now,
        )
    except Refused as no:
        entry.refused = no.sentence
        return None


def _page(request: SeatedRequest, name: str, read: Batch, *, status: int = 200, **more: Any) -> HttpResponse:
    place = 1 if name == "particulars" else 2
    whole = read.query()
    shown = {
        "batch": read,
        "steps": _steps(place, change=read.query(back=True)),
        "whole": whole,
        "fresh": read.query(fresh=True),
        "change": read.query(back=True),
        "print": f"{reverse('reports:batch-sheets', args=[read.school.slug])}?{whole}",
        "lines": [_with_address(entry, read) for entry in read.entries],
        **more,
    }
    return render(request, f"loans/batch_{name}.html", shown, status=status)


def _with_address(entry: Entry, read: Batch) -> dict[str, Any]:
    """An entry, and the address of the batch without it."""
    others = [other for other in read.entries if other is not entry]
    return {"entry": entry, "less": read.query(others, back=not read.is_whole) if others else ""}


def _steps(place: int, change: str = "") -> list[dict[str, str]]:
    addresses = ("", f"?{change}" if change else "", "")
    return [
        {
            "label": label,
            "state": "here" if at == place else "done" if at < place else "",
            "address": addresses[at] if at < place else "",
        }
        for at, label in enumerate(STEPS)
    ]


def _names(entries: Iterable[Entry]) -> str:
    names = [entry.pupil.name for entry in entries]
    return ", ".join(names) if len(names) <= 5 else f"{', '.join(names[:4])} and {len(names) - 4} more"
