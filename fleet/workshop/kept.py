"""What a page that keeps its form in the browser (kept-check.js) is answered once the form is saved."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect


def lead_on(request: HttpRequest, to: str) -> HttpResponse:
    """On to the page `to`. The script reads nothing else as "saved": 201, with the address in JSON."""
    if request.headers.get("X-Sent-By") == "kept-check":
        return JsonResponse({"to": to}, status=201)
    return redirect(to)
