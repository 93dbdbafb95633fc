"""The log of letters, one letter, and the words a school gives them."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.letters.actions.bounces import came_back
from fleet.letters.actions.reminding import send_again
from fleet.letters.actions.rules import keep_rules
from fleet.letters.forms import LetterRulesForm
from fleet.letters.models import Letter
from fleet.letters.models.wording import PLACES
from fleet.letters.queries.rules import rules_of
from fleet.people.actions.openings import note_opening
from fleet.people.queries.seats import SeatedRequest

RELATED = ("loan__horn", "loan__pupil", "signature__horn", "signature__pupil", "guardian")


def letters(request: SeatedRequest) -> HttpResponse:
    rows = Letter.objects.at(request.seat.school).select_related(*RELATED)
    only = request.GET.get("state", "")
    if only == "undelivered":
        rows = rows.undelivered()
    elif only in Letter.State.values:
        rows = rows.filter(state=only)
    page = Paginator(rows, 50).get_page(request.GET.get("page"))
    states = [("undelivered", "did not arrive"), *Letter.State.choices]
    return render(request, "loans/letters.html", {"page": page, "states": states, "state": only})


def letter(request: SeatedRequest, pk: int) -> HttpResponse:
    """One letter as it went out. Posting puts one that did not arrive back into the queue."""
    shown = get_object_or_404(Letter.objects.at(request.seat.school).select_related(*RELATED), pk=pk)
    note_opening(request, guardian=shown.guardian)
    may_go_again = shown.state in Letter.FAILED
    if request.method == "POST" and request.POST.get("do") == "came-back":
        back = came_back(letter=shown, why=f"{request.user} recorded that it came back.")
        messages.success(request, "It stands on Today until the family is reached." if back else "That is known.")
        return redirect("loans:letter", request.seat.school.slug, pk)
    if request.method == "POST":
        put = send_again(letter=shown)
        messages.success(request, "It goes out with the next letters." if put else "It is on its way already.")
        return redirect("loans:letter", request.seat.school.slug, pk)
    return render(request, "loans/letter.html", {"letter": shown, "may_go_again": may_go_again})


def letter_words(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    form = LetterRulesForm(request.POST or None, instance=rules_of(school))
    if request.method == "POST" and form.is_valid():
        keep_rules(school=school, said=form.cleaned_data)
        messages.success(request, "The next letters go out like this.")
        return redirect("loans:letter-words", school.slug)
    status = 422 if request.method == "POST" else 200
    return render(request, "loans/letter_words.html", {"form": form, "places": PLACES}, status=status)
