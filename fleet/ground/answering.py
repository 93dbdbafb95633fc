"""What a page answers to a form: the status when it was not taken, the way on when it was."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect

from fleet.ground.refusal import Refused


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
