"""Where people arrive: home, a label's address, and a loan sheet's."""

from __future__ import annotations

from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.counting.pages.at_shelf import shelf_for
from fleet.desk.pages.several.by_number import ROW as BY_NUMBER
from fleet.ground.access import STAFF, TEACHING, Role
from fleet.lending.models import Loan
from fleet.lending.pages.taking_back import ROW as TAKING_BACK
from fleet.people.models import Post
from fleet.register.models import Horn
from fleet.signing.models import SheetOut
from fleet.workshop.queries.in_turn import waits_here


def home(request: HttpRequest) -> HttpResponse:
    """Where somebody who has signed in belongs: their school, a choice of schools, or the family's page."""
    mine = Post.objects.select_related("school").filter(user__pk=int(request.user.pk or 0))
    posts = list(mine.order_by("school__name", "pk"))
    if len(posts) == 1:
        return redirect("desk:today", school=posts[0].school.slug)
    if not posts:
        return redirect("desk:family")
    return render(
        request, "desk/home.html", {"posts": posts, "benches": sum(one.role == Role.TECHNICIAN for one in posts) > 1}
    )


def label(request: HttpRequest, code: str) -> HttpResponse:
    """The address on a horn's label: for staff what they most likely came to do, for its family their page.

    It tells a stranger nothing, not even whether there is such a label.
    """
    horn = get_object_or_404(Horn.objects.select_related("school"), label_code=code.upper())
    post = Post.objects.select_related("user").filter(school=horn.school, user__pk=int(request.user.pk or 0)).first()
    if post is not None:
        rows = (TAKING_BACK, "loans:back", TEACHING), (BY_NUMBER, "desk:several", STAFF)
        on = [one for one in rows if post.role in one[2] and one[0].is_on(request, horn.school)]
        if on:
            row, page, _ = max(on, key=lambda one: one[0].begun(request))
            row.scanned(request, horn.school, horn)
            return redirect(page, horn.school.slug)
        if (shelf := shelf_for(request, post.user, horn)) is not None:
            # Somebody in the middle of a count scans labels to say that they see the horn: one tap more says so.
            return redirect(shelf)
        if post.role in TEACHING and horn.where == Horn.Where.IN_PLACE and horn.is_identified:
            return redirect(f"{reverse('loans:issue', args=(horn.school.slug,))}?horn={horn.pk}")
        if post.role == Role.TECHNICIAN and (way := waits_here(horn)) is not None:
            return redirect(way.address(horn.school.slug))
        return redirect("desk:horn", horn.school.slug, horn.pk)
    loan = Loan.objects.open().answered_for_by(request.user).filter(horn=horn).first()  # type: ignore[arg-type]
    if loan is None:
        raise Http404("No such label.")
    return redirect("desk:family-horn", loan.pk)


def sheet(request: HttpRequest, code: str) -> HttpResponse:
    """The address on a loan sheet or a sheet to sign: its loan; before there is one, the sheet that is out.

    It tells a stranger nothing, not even whether there is such a sheet.
    """
    code, me = code.upper(), int(request.user.pk or 0)
    loans = Loan.objects.filter(Q(sheet_code=code) | Q(sheet_out__sheet_code=code))
    found: Loan | SheetOut | None = loans.select_related("horn__school").first()
    if found is None:
        found = get_object_or_404(SheetOut.objects.select_related("horn__school"), sheet_code=code)
    horn, is_loan = found.horn, isinstance(found, Loan)
    post = Post.objects.filter(school=horn.school, user__pk=me).first()
    if post is not None and is_loan:
        return redirect("loans:loan", horn.school.slug, found.pk)
    if post is not None and post.role in TEACHING:
        return redirect("loans:sheet-out", horn.school.slug, found.pk)
    if post is not None:
        return redirect("desk:horn", horn.school.slug, horn.pk)
    if not found.pupil.guardians.filter(user__pk=me).exists():
        raise Http404("No such sheet.")
    return redirect("desk:family-horn", found.pk) if is_loan else redirect("desk:family")
