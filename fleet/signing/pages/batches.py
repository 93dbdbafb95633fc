"""Issuing a class: pair pupils with horns, say what goes along, print all sheets, tick who signed, issue.

Every step is an address with everything chosen before. Each loan is made in a transaction of its own, so one that is
refused keeps no other back; its reason stands beside it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, from_outbox, lead_on, one_of, posted, status_of, sure
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.people.queries.classes import classes, page_of_classes
from fleet.people.queries.seats import SeatedRequest
from fleet.signing.actions.handing_out import hand_out
from fleet.signing.actions.putting_before import put_before, take_back
from fleet.signing.actions.sheets import send_home
from fleet.signing.forms.batches import BatchLoan, LoanBatch, batch_from, pairs_in_query
from fleet.signing.forms.particulars import SignedForm, TicksForm
from fleet.signing.models import MOST_IN_A_BATCH
from fleet.signing.pages.issuing import steps_at
from fleet.signing.queries.fitting import Misfit, misfits
from fleet.signing.queries.pairing import Pairing, pair_by_number

STEPS = (_s_lazy("Pupils and horns"), _s_lazy("What goes along"), _s_lazy("Print, sign and issue"))


def batch(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, request.today
    if "pair" not in request.GET:
        return _choose(request)
    here = f"{request.path}?{request.GET.urlencode()}"
    read = batch_from(request.GET, school, today, request.seat, address=here)
    act = one_of(request, {"ask": _ask, "print": _print, "take-back": _take_back, "tick": _tick, "": _issue})
    if read.is_whole and act is not None:
        return act(request, read)
    if read.is_whole and request.GET.get("step") != "change":
        _tick_signed(read)
        return _page(request, "sign", read, signed=SignedForm(today=today))
    return _page(request, "particulars", read, status=status_of(request))


def _choose(request: SeatedRequest) -> HttpResponse:
    """The pupils of a class, each with a line to type or scan the number of a horn into."""
    school = request.seat.school
    if request.method == "POST" and from_outbox(request):
        # The numbers so far stand in the address; the page looks them up there.
        return lead_on(request, request.get_full_path())
    group = request.GET.get("class")
    pairing: Pairing | None = None
    if group is not None and classes(school, [group]):
        pairing = pair_by_number(school, group, request.GET)
        # A scanner ends each number with Enter, which looks up the numbers so far; only the button goes on.
        if "go" in request.GET and pairing.pairs and not pairing.wrong:
            return redirect(f"{request.path}?{pairs_in_query(pairing.pairs)}")
    shown: dict[str, Any] = {
        "pairing": pairing,
        "group": group,
        "steps": steps_at(0, STEPS, ("", "", "")),
        "most": MOST_IN_A_BATCH,
    }
    if pairing is None:
        page = page_of_classes(school, request.GET.get("page"), in_none=True)
        shown["groups"] = [{"name": name, "label": name or _s("in no class"), "pupils": n} for name, n in page.rows]
        shown["page"] = page
    return render(request, "loans/batch_pair.html", shown, status=status_of(request))


def _tick_signed(read: LoanBatch) -> None:
    """Whoever signed on their page needs no more looking at."""
    for entry in read.entries:
        entry.ticked = entry.signed_online and not entry.stop


def _tick(request: SeatedRequest, read: LoanBatch) -> HttpResponse:
    """All ticked, or none when all were; the day that was typed stays."""
    ticked, signed_on = TicksForm(posted(request)).said()
    every = not ticked.issuperset(entry.key for entry in read.ready)
    for entry in read.ready:
        entry.ticked = every
    signed = SignedForm(initial={"signed_on": signed_on}, today=read.today)
    return _page(request, "sign", read, signed=signed)


def _ask(request: SeatedRequest, read: LoanBatch) -> HttpResponse:
    """Puts every loan before its guardian, each in a transaction of its own."""
    asked = []
    for entry in read.to_ask:
        try:
            put_before(**read.terms(entry), by=request.user, at=request.now)
        except Refused as no:
            entry.refused = no.sentence
        else:
            asked.append(entry)
    if asked:
        find = (
            _s("1 family finds it on its page")
            if len(asked) == 1
            else _s("%(asked)s families find it on their pages") % {"asked": len(asked)}
        )
        messages.success(request, _s("%(find)s; the next letters say so. It waits on Today.") % {"find": find})
    if any(entry.refused for entry in read.entries):
        return _page(request, "sign", read, signed=SignedForm(today=read.today), status=409)
    return redirect(f"{request.path}?{read.query()}")


def _print(request: SeatedRequest, read: LoanBatch) -> HttpResponse:
    """Records that the sheets go home, and leads to them."""
    loans = [read.terms(entry) for entry in read.on_paper]
    return answer(
        request,
        sure(request),
        lambda: send_home(loans=loans, by=request.user, at=request.now),
        page="loans/batch_sign.html",
        shown=lambda: _shown("sign", read, signed=SignedForm(today=read.today)),
        then=lambda _: _sheets(read, read.on_paper),
    )


def _take_back(request: SeatedRequest, read: LoanBatch) -> HttpResponse:
    for entry in read.waiting:
        if entry.online is not None:
            try:
                take_back(signature=entry.online, signed_seen=False, by=request.user, at=request.now)
            except Refused as no:
                messages.warning(request, no.sentence)
    messages.success(request, _s("What was not signed yet is taken back from the families’ pages."))
    return redirect(f"{request.path}?{read.query()}")


def _issue(request: SeatedRequest, read: LoanBatch) -> HttpResponse:
    ticked, signed_on = TicksForm(posted(request)).said()
    for entry in read.entries:
        entry.ticked = entry.key in ticked
    on_paper = any(entry.ticked and not entry.signed_online for entry in read.entries)
    # Nobody ticked is a mistake of its own; the day is only about paper.
    if ticked and not on_paper:
        signed_on = read.today.isoformat()
    signed = SignedForm({"signed": bool(ticked), "signed_on": signed_on}, today=read.today)
    if not signed.is_valid():
        return _page(request, "sign", read, signed=signed, status=422)
    done = [
        entry
        for entry in read.entries
        if entry.ticked and _issued(entry, read, signed.cleaned_data["signed_on"], request)
    ]
    if done:
        until = day(read.form.cleaned_data["due_on"])
        horns = _s("1 horn is") if len(done) == 1 else _s("%(done)s horns are") % {"done": len(done)}
        messages.success(
            request,
            _s("%(horns)s out until %(until)s: %(done)s.") % {"horns": horns, "until": until, "done": _names(done)},
        )
    read.entries = [entry for entry in read.entries if entry not in done]
    if any(entry.refused for entry in read.entries):
        return _page(request, "sign", read, signed=signed, status=409)
    if read.entries:
        return redirect(f"{request.path}?{read.query()}")
    return redirect("loans:loans", read.school.slug)


def _issued(entry: BatchLoan, read: LoanBatch, signed_on: date, request: SeatedRequest) -> Loan | None:
    """The loan, or None with the reason on the entry."""
    if entry.guardian is None or entry.check is None or entry.stop:
        entry.refused = entry.stop or _s("Choose first who signs.")
        return None
    try:
        return hand_out(
            **read.terms(entry),
            signed_on=None if entry.signed_online else signed_on,
            online=entry.online if entry.signed_online else None,
            by=request.user,
            at=request.now,
        )
    except Refused as no:
        entry.refused = no.sentence
        return None


def _page(request: SeatedRequest, name: str, read: LoanBatch, *, status: int = 200, **more: Any) -> HttpResponse:
    return render(request, f"loans/batch_{name}.html", _shown(name, read, **more), status=status)


def _shown(name: str, read: LoanBatch, **more: Any) -> dict[str, Any]:
    place = 1 if name == "particulars" else 2
    whole, change = read.query(), read.query(back=True)
    taken = [entry.horn.pk for entry in read.entries]
    pairs = [(entry.pupil, entry.horn) for entry in read.entries if not entry.stop]
    against = misfits(read.school, pairs, today=read.today, taken=taken)
    return {
        "batch": read,
        "steps": steps_at(place, STEPS, ("", f"?{change}", "")),
        "whole": whole,
        "fresh": read.query(fresh=True),
        "change": change,
        "look": _sheets(read, read.on_paper),
        "all": bool(read.ready) and all(entry.ticked for entry in read.ready),
        "look_at_all": _sheets(read),
        "lines": [_line(entry, read, against.get((entry.pupil.pk, entry.horn.pk))) for entry in read.entries],
        "sheets_out": " ".join(str(one.pk) for one in read.sheets_out),
        **more,
    }


def _sheets(read: LoanBatch, entries: Iterable[BatchLoan] | None = None) -> str:
    """The address of the sheets themselves, which records nothing."""
    return f"{reverse('reports:batch-sheets', args=[read.school.slug])}?{read.query(entries)}"


def _line(entry: BatchLoan, read: LoanBatch, misfit: Misfit | None) -> dict[str, Any]:
    """An entry, what speaks against its horn, and the addresses of the batch without it and with the better horn."""
    others = [other for other in read.entries if other is not entry]
    less = read.query(others, back=not read.is_whole) if others else ""
    line = {"entry": entry, "less": less, "misfit": misfit, "better": ""}
    if misfit is not None and misfit.better is not None:
        instead = replace(entry, horn=misfit.better, check=None, seen=None)
        line["better"] = read.query([instead if one is entry else one for one in read.entries], back=True)
    return line


def _names(entries: Iterable[BatchLoan]) -> str:
    names = [entry.pupil.name for entry in entries]
    return (
        ", ".join(names)
        if len(names) <= 5
        else _s("%(names)s and %(many)s more") % {"names": ", ".join(names[:4]), "many": len(names) - 4}
    )
