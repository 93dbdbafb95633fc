"""From form to answer: what a page says to a form that was sent, and where a form that was taken leads."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from django.contrib import messages
from django.db import transaction
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect, render

from fleet.ground.refusal import Refused

Act = TypeVar("Act")
Done = TypeVar("Done")


def posted(request: HttpRequest) -> QueryDict | None:
    """What was sent, for a form to be bound to; None when the page was only opened. An empty form sent is sent."""
    return request.POST if request.method == "POST" else None


def one_of(request: HttpRequest, acts: Mapping[str, Act], *, button: str = "do") -> Act | None:
    """What the button that was pressed stands for; what stands under "" for any other one. None on a page that was
    only opened."""
    return acts.get(request.POST.get(button, ""), acts.get("")) if request.method == "POST" else None


def answer(
    request: HttpRequest,
    form: BaseForm,
    act: Callable[[], Done],
    *,
    page: str,
    shown: Callable[[], Mapping[str, Any]],
    then: Callable[[Done], str],
    said: Callable[[Done], str] | str = "",
    refused_on: str | None = None,
) -> HttpResponse:
    """The answer to a page with one form.

    Only opened: the page. Not valid: the page with what is wrong beside the fields, 422. Valid: `act()` in one
    transaction; when it is refused, all of it is undone and the page comes back with the sentence (beside the field
    `refused_on` where one is named) and its way out, 409. Taken: `said` as a message, and on to `then(done)`.

    `shown` gives what the page needs besides `form` and `refused`; it is called only when the page is drawn.
    """
    refused: Refused | None = None
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                done = act()
        except Refused as no:
            refused = no
            if refused_on is not None:
                form.add_error(refused_on, no.sentence)
        else:
            words = said if isinstance(said, str) else said(done)
            if words:
                messages.success(request, words)
            return lead_on(request, then(done))
    context = {**shown(), "form": form, "refused": None if refused_on else refused}
    return render(request, page, context, status=status_of(request, refused))


def status_of(request: HttpRequest, refused: Refused | None = None) -> int:
    """The HTTP status of a page with a form: 200 when it was only opened, 409 when the action was refused, else 422.

    A form that was taken redirects, so what comes here by POST was not (RFC 9110, 15.5.10 and 15.5.21).
    """
    if request.method in {"GET", "HEAD"}:
        return 200
    return 409 if refused else 422


def lead_on(request: HttpRequest, to: str) -> HttpResponse:
    """On to the page `to`. The script reads nothing else as "saved": 201, with the address in JSON."""
    if request.headers.get("X-Sent-By") == "kept-check":
        return JsonResponse({"to": to}, status=201)
    return redirect(to)
