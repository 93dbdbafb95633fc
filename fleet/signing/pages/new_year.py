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
from fleet.signing.actions.new_year import ask_until_new_end
from fleet.signing.queries.waiting import until_old_end


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
    shown = {"form": form, "plan": plan, "asked": until_old_end(plan, form.today).count()}
    return render(request, "loans/new_year_look.html", shown)


def _begin(request: SeatedRequest, form: NewYearForm, days: SchoolDays) -> HttpResponse:
    looked = LookedOverForm(posted(request))

    def act() -> tuple[NewYear, int]:
        said = {"school": request.seat.school, "wish": form.wish(), **looked.cleaned_data}
        done = begin_year(**said, by=request.user, at=request.now)
        return done, ask_until_new_end(done=done, by=request.user, at=request.now)

    return answer(
        request,
        looked,
        act,
        page="loans/new_year_look.html",
        shown=lambda: {
            "form": form,
            "plan": look_over(form.classes, form.wish(), days, left_out=(), today=form.today),
            "left_out": looked.cleaned_data["left_out"],
        },
        said=_said,
        then=lambda _: request.seat.here("people:settings-year"),
    )


def _said(became: tuple[NewYear, int]) -> str:
    done, asked = became
    words = [_s("The new school year has begun.")]
    if done.renewed:
        words.append(_s("Loans renewed: %(loans)s.") % {"loans": len(done.renewed)})
    if done.recalled:
        words.append(_s("Called back: %(loans)s. The next letters say so.") % {"loans": len(done.recalled)})
    if asked:
        words.append(_s("Asked for anew until the new end: %(agreements)s.") % {"agreements": asked})
    return " ".join(words)
