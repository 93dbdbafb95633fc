"""A new school year: chosen class by class, looked over, done."""

from __future__ import annotations

from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, one_of, posted, status_of
from fleet.lending.actions.new_year import begin_year
from fleet.lending.forms.new_year import AT_ONCE, LookedOverForm, NewYearForm
from fleet.lending.queries.new_year import NewYear, classes_now, classes_with_pupils, look_over
from fleet.people.queries.school_days import SchoolDays, school_days
from fleet.people.queries.seats import SeatedRequest


def new_year(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, request.today
    days = school_days(school)
    classes = classes_with_pupils(school) if request.method == "POST" else classes_now(school, counted=AT_ONCE)
    form = NewYearForm(posted(request), school=school, classes=classes, days=days, today=today)
    act = one_of(request, {"begin": _begin, "look": _look})
    if act is None or not form.is_valid():
        # Back to the choice with what was chosen is no mistake, nor are its other classes.
        if form.turned_to is not None:
            # What must be put right is said when the choice is to be looked over.
            for name in set(form.errors) - {NON_FIELD_ERRORS}:
                del form.errors[name]
        choosing = request.POST.get("do") == "change" or form.turned_to is not None
        status = 200 if choosing else status_of(request)
        return render(request, "loans/new_year.html", {"form": form}, status=status)
    return act(request, form, days)


def _look(request: SeatedRequest, form: NewYearForm, days: SchoolDays) -> HttpResponse:
    plan = look_over(form.classes, form.wish(), days, left_out=(), today=form.today)
    return render(request, "loans/new_year_look.html", {"form": form, "plan": plan})


def _begin(request: SeatedRequest, form: NewYearForm, days: SchoolDays) -> HttpResponse:
    looked = LookedOverForm(posted(request))
    return answer(
        request,
        looked,
        lambda: begin_year(
            school=request.seat.school, wish=form.wish(), by=request.user, at=request.now, **looked.cleaned_data
        ),
        page="loans/new_year_look.html",
        shown=lambda: {
            "form": form,
            "plan": look_over(form.classes, form.wish(), days, left_out=(), today=form.today),
            "left_out": looked.cleaned_data["left_out"],
        },
        said=_said,
        then=lambda _: request.seat.here("people:settings-year"),
    )


def _said(done: NewYear) -> str:
    words = [_s("The new school year has begun.")]
    if done.renewed:
        words.append(_s("Loans renewed: %(loans)s.") % {"loans": len(done.renewed)})
    if done.recalled:
        words.append(_s("Called back: %(loans)s. The next letters say so.") % {"loans": len(done.recalled)})
    return " ".join(words)
