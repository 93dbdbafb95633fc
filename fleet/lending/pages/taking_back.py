"""Taking horns back one after another: their labels are scanned, or their numbers typed, then all are taken at once.

A horn with something wrong leaves the list through its own return page.
"""

from __future__ import annotations

from collections.abc import Mapping

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.answering import lead_on, one_of, posted
from fleet.ground.refusal import Refused
from fleet.lending.actions.in_a_row import take_unchanged
from fleet.lending.forms.taking_back import LookedForm
from fleet.lending.models import Loan
from fleet.lending.queries.wishes import who_waits
from fleet.people.forms.classes import OneClassForm
from fleet.people.models import School
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.register.pages.one_by_one import MOST, OneByOne

# Of the horns that somebody waits for so many are named once they are back; the list names each.
NAMED = 3


def _not_out(horn: Horn) -> str:
    return (
        ""
        if horn.holder_name
        else _s("%(horn)s is not out: %(whereabouts)s.") % {"horn": horn, "whereabouts": horn.whereabouts.words}
    )


def _from(horn: Horn) -> str:
    return _s("%(horn)s, from %(pupil)s.") % {"horn": horn, "pupil": horn.holder_name}


ROW = OneByOne("taking_back", no=_not_out, yes=_from)


def back(request: SeatedRequest) -> HttpResponse:
    act = one_of(request, {"take": _take, "class": _add_class, "stop": _stop, "": _add_or_leave}) or _open
    return act(request)


def _open(request: SeatedRequest) -> HttpResponse:
    ROW.begin(request, request.seat.school)
    return _page(request, LookedForm())


def _add_or_leave(request: SeatedRequest) -> HttpResponse:
    ROW.add_or_leave(request, request.seat.school)
    return lead_on(request, request.seat.here("loans:back"))


def _add_class(request: SeatedRequest) -> HttpResponse:
    school, form = request.seat.school, _of_class(request)
    if not form.is_valid():
        return _page(request, LookedForm(), of_class=form)
    group = form.cleaned_data["group"]
    out = Loan.objects.at(school).open().filter(pupil__group=group).order_by("pupil__sorted_by", "pk")
    keys = ROW.listed(request, school)
    more = [pk for pk in out.values_list("horn_id", flat=True) if pk not in keys]
    ROW.keep(request, school, [*keys, *more])
    if more:
        messages.success(
            request,
            _s_many("%(many)s horn of %(group)s.", "%(many)s horns of %(group)s.", len(more))
            % {"many": len(more), "group": group},
        )
    else:
        messages.info(request, _s("Nobody else of %(group)s has a horn.") % {"group": group})
    return redirect("loans:back", school.slug)


def _of_class(request: SeatedRequest) -> OneClassForm:
    """A class of those that have horns."""
    asked = one_of(request, {"class": posted(request)})
    return OneClassForm(asked, names=Horn.objects.at(request.seat.school).classes_out())


def _stop(request: SeatedRequest) -> HttpResponse:
    ROW.stop(request)
    return redirect("loans:loans", request.seat.school.slug)


def _take(request: SeatedRequest) -> HttpResponse:
    """Every listed horn that was not refused is back; the others stay on the list with their reason."""
    school, form = request.seat.school, LookedForm(posted(request))
    if not form.is_valid():
        return _page(request, form)
    taken: list[Horn] = []
    refusals = {}
    for loan in _loans(school, ROW.listed(request, school)):
        try:
            take_unchanged(loan=loan, cleaned=form.cleaned_data["cleaned"], by=request.user, at=request.now)
        except Refused as no:
            refusals[loan.horn_id] = no.sentence
        else:
            taken.append(loan.horn)
    ROW.keep(request, school, refusals)
    if taken:
        words = [_s_many("%(many)s horn taken back.", "%(many)s horns taken back.", len(taken)) % {"many": len(taken)}]
        waits = who_waits(taken, school, request.today)
        words += [f"{horn}: {waits[horn.pk]}" for horn in taken if horn.pk in waits][:NAMED]
        messages.success(request, " ".join([*words, *([_s("Today names the rest.")] if len(waits) > NAMED else [])]))
    if refusals:
        return _page(request, form, refusals)
    return _stop(request)


def _loans(school: School, keys: list[int]) -> list[Loan]:
    """Open loans of these horns, in the order of the keys."""
    out = (
        Loan.objects.at(school)
        .open()
        .filter(horn__in=keys)
        .select_related("horn", "pupil", "check_at_issue", "noted__by")
    )
    return sorted(out.prefetch_related("accessories"), key=lambda loan: keys.index(loan.horn_id))


def _page(
    request: SeatedRequest,
    form: LookedForm,
    refusals: Mapping[int, str] | None = None,
    of_class: OneClassForm | None = None,
) -> HttpResponse:
    school, refusals, of_class = request.seat.school, refusals or {}, of_class or _of_class(request)
    wrong = next(iter(form.errors.get("looked", ())), "")
    loans = _loans(school, ROW.listed(request, school))
    waits = who_waits([loan.horn for loan in loans], school, request.today)
    context = {
        "rows": [(loan, refusals.get(loan.horn_id, ""), waits.get(loan.horn_id, "")) for loan in loans],
        "of_class": of_class,
        "most": MOST,
        "wrong": wrong,
        "looked": form["looked"].value(),
        "cleaned": form["cleaned"].value(),
    }
    return render(
        request, "loans/back.html", context, status=422 if wrong or of_class.errors else 409 if refusals else 200
    )
