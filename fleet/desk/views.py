"""Where people arrive: home, a label's address, Today, and a horn's own page."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.access import TEACHING, Role, SeatedRequest
from fleet.counting import at_it
from fleet.desk.horn_page import particulars, pictured, plain_sentence, stands_with, story
from fleet.desk.next_step import next_step
from fleet.desk.today import Day, first_steps, is_new_school, piles
from fleet.loans import scanning
from fleet.loans.models import Loan
from fleet.people.models import Post, Pupil
from fleet.register.kinds import reversible
from fleet.register.models import Horn
from fleet.register.stationery import label_sheet_of

# Of the loan sheets; the others are one search away.
NEWEST = 20


def home(request: HttpRequest) -> HttpResponse:
    """Where somebody who has signed in belongs: their school, a choice of schools, or the family's page."""
    mine = Post.objects.select_related("school").filter(user__pk=int(request.user.pk or 0))
    posts = list(mine.order_by("school__name", "pk"))
    if len(posts) == 1:
        return redirect("desk:today", school=posts[0].school.slug)
    if not posts:
        return redirect("desk:family")
    return render(request, "desk/home.html", {"posts": posts})


def label(request: HttpRequest, code: str) -> HttpResponse:
    """The address on a horn's label: for staff what they most likely came to do, for its family their page.

    It tells a stranger nothing, not even whether there is such a label.
    """
    horn = get_object_or_404(Horn.objects.select_related("school"), label_code=code.upper())
    post = Post.objects.select_related("user").filter(school=horn.school, user__pk=int(request.user.pk or 0)).first()
    if post is not None:
        if post.role in TEACHING and scanning.is_scanning(request, horn.school):
            scanning.scanned(request, horn.school, horn)
            return redirect("loans:back", horn.school.slug)
        if (shelf := at_it.shelf_for(request, post.user, horn)) is not None:
            # Somebody in the middle of a count scans labels to say that they see the horn: one tap more says so.
            return redirect(shelf)
        if post.role in TEACHING and horn.where == Horn.Where.CUPBOARD and horn.is_identified:
            return redirect(f"{reverse('loans:issue', args=(horn.school.slug,))}?horn={horn.pk}")
        return redirect("desk:horn", horn.school.slug, horn.pk)
    loan = Loan.objects.open().answered_for_by(request.user).filter(horn=horn).first()  # type: ignore[arg-type]
    if loan is None:
        raise Http404("No such label.")
    return redirect("desk:family-horn", loan.pk)


def today(request: SeatedRequest) -> HttpResponse:
    day = Day(seat=request.seat, now=request.now)
    found = piles(day)
    new = not found and is_new_school(request.seat)
    return render(
        request,
        "desk/today.html",
        {"today": day.today, "piles": found, "first_steps": first_steps(day) if new else []},
    )


def horn(request: SeatedRequest, pk: int) -> HttpResponse:
    horn = get_object_or_404(Horn.objects.at(request.seat.school).select_related("place", "school"), pk=pk)
    standing = stands_with(horn)
    today = timezone.localdate(request.now)
    return render(
        request,
        "desk/horn.html",
        {
            "horn": horn,
            "standing": standing,
            "today": today,
            "sentence": plain_sentence(horn),
            "can_restring": reversible(horn.build) and request.seat.may("register:stand", write=True),
            "step": next_step(standing, request.seat, today),
            "particulars": particulars(horn, with_value=request.seat.role in {Role.HEAD, Role.SERVICE}),
            "story": story(horn),
            **pictured(horn),
        },
    )


def prints(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    newest = Loan.objects.at(school).open().select_related("horn", "pupil").order_by("-issued_on", "-pk")
    groups = Pupil.objects.at(school).filter(left_on=None).exclude(group="").values_list("group", flat=True)
    context = {
        "loans": newest[:NEWEST],
        "older": max(0, newest.count() - NEWEST),
        "groups": groups.distinct().order_by("group"),
        "places": school.places.all(),
        "sheet": label_sheet_of(school),
    }
    return render(request, "desk/prints.html", context)
