"""A family's papers: what it signed, was sent and has to pay, in the language it was in, with the due dates for a
calendar."""

from __future__ import annotations

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.http import content_disposition_header

from fleet.desk.queries.family import own_loans, own_records
from fleet.desk.queries.papers import own_letters, own_words, papers_of
from fleet.ground.addresses import origin_of
from fleet.ground.languages.known import KNOWN
from fleet.letters.queries.calendar import due_dates_of
from fleet.people.models import Pupil, User


def papers(request: HttpRequest) -> HttpResponse:
    loans, signatures, letters = papers_of(request)
    reports, asked = own_words(request)
    shown = {
        "papers": loans,
        "signatures": signatures,
        "letters": letters,
        "reports": reports,
        "asks": asked,
        "records": [(one, KNOWN[one.speaks].name) for one in own_records(request)],
        "pupils": Pupil.objects.answered_for_by(cast(User, request.user)).in_order().select_related("school"),
    }
    return render(request, "desk/family_papers.html", shown)


def letter(request: HttpRequest, pk: int) -> HttpResponse:
    return render(request, "desk/family_letter.html", {"letter": get_object_or_404(own_letters(request), pk=pk)})


def due(request: HttpRequest) -> HttpResponse:
    """The due dates as a calendar file, and nothing else."""
    content = due_dates_of(own_loans(request), request.now, origin_of(request))  # type: ignore[attr-defined]
    answer = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    answer.headers["Content-Disposition"] = content_disposition_header(True, "horns.ics") or "attachment"
    return answer
