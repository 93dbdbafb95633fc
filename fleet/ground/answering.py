"""From form to answer: what a page says to a form that was sent, and where a form that was taken leads."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import nullcontext
from typing import Any, TypeVar

from django.contrib import messages
from django.db import transaction
from django.forms import BaseForm, Form
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.datastructures import MultiValueDict

from fleet.ground.refusal import Refused

Act = TypeVar("Act")
Done = TypeVar("Done")
Said = Callable[[Done], str] | str


def posted(request: HttpRequest) -> QueryDict | None:
    """What was sent, for a form to be bound to; None when the page was only opened. An empty form sent is sent."""
    return request.POST if request.method == "POST" else None


def posted_files(request: HttpRequest) -> MultiValueDict[str, Any] | None:
    """The files that were sent, beside `posted`."""
    return request.FILES if request.method == "POST" else None


def one_of(request: HttpRequest, acts: Mapping[str, Act], *, button: str = "do") -> Act | None:
    """What the button that was pressed stands for; what stands under "" for any other one. None on a page that was
    only opened."""
    return acts.get(request.POST.get(button, ""), acts.get("")) if request.method == "POST" else None


def sure(request: HttpRequest) -> Form:
    """The form of a page with one button and nothing to fill in: sent, it is valid."""
    return Form(posted(request))


def answer(
    request: HttpRequest,
    form: BaseForm | None,
    act: Callable[[], Done],
    *,
    page: str,
    shown: Callable[[], Mapping[str, Any]] = dict,
    then: Callable[[Done], str],
    said: Said[Done] = "",
    refused_on: str | None = None,
    when_refused: Callable[[], None] | None = None,
    in_steps: bool = False,
) -> HttpResponse:
    """The answer to a page with one form, or with none for those who may only read it.

    Only opened: the page. Not valid: the page with what is wrong beside the fields, 422. Valid: `act()` in one
    transaction; when it is refused, all of it is undone and the page comes back with the sentence (beside the field
    `refused_on` or that of the refusal, where one is named) and its way out, 409. Taken: `said` as a message, and on to
    `then(done)`.

    `shown` gives what the page needs besides `form` and `refused`, or another `form` where that button has none of
    its own to show; it is called only when the page is drawn. `in_steps` is for an act in transactions of its own.
    `when_refused` is called before that, for a form that goes on from what stands by now.
    """
    refused: Refused | None = None
    if form is not None and request.method == "POST" and form.is_valid():
        try:
            with nullcontext() if in_steps else transaction.atomic():
                done = act()
        except Refused as no:
            refused = no
            refused_on = refused_on or (no.field if no.field in form.fields else None)
            if refused_on is not None:
                form.add_error(refused_on, no.sentence)
            if when_refused is not None:
                when_refused()
        else:
            return _done(request, said, done, then(done))
    if form is not None and request.method == "POST" and _keeps_page(request):
        return JsonResponse({"sentence": _sentence(form, refused)}, status=status_of(request, refused))
    context = {"form": form, "refused": None if refused_on else refused, **shown()}
    return render(request, page, context, status=status_of(request, refused))


def answer_elsewhere(
    request: HttpRequest, form: BaseForm, act: Callable[[], Done], *, to: str, said: Said[Done] = ""
) -> HttpResponse:
    """The answer to a button whose page is another: on to the address `to`, where it is said what was done, or why not.

    `act()` runs in one transaction when the form is valid; only opened, the address leads on and does nothing.
    """
    if request.method == "POST" and not form.is_valid():
        for sentences in form.errors.values():
            messages.error(request, str(sentences[0]))
    elif request.method == "POST":
        try:
            with transaction.atomic():
                done = act()
        except Refused as no:
            messages.error(request, no.sentence)
        else:
            _say(request, said, done)
    return redirect(to)


def status_of(request: HttpRequest, refused: Refused | None = None) -> int:
    """The HTTP status of a page with a form: 200 when it was only opened, 409 when the action was refused, else 422.

    A form that was taken redirects, so what comes here by POST was not (RFC 9110, 15.5.10 and 15.5.21).
    """
    if request.method in {"GET", "HEAD"}:
        return 200
    return 409 if refused else 422


def from_outbox(request: HttpRequest) -> bool:
    """Whether the browser's outbox (outbox.js) sent this: it takes nothing but 201 with JSON for "the site has it"."""
    return "X-Sent-By" in request.headers


def lead_on(request: HttpRequest, to: str) -> HttpResponse:
    """On to the page `to`. The outbox is told by 201, with the address in JSON."""
    if from_outbox(request):
        return JsonResponse({"to": to}, status=201)
    return redirect(to)


def _keeps_page(request: HttpRequest) -> bool:
    """Whether a page that stands without a connection sent this, or the browser with no page open: it tells by itself
    what became of an act, and a page of the site would not be seen."""
    return request.headers.get("X-Sent-By") == "kept"


def _done(request: HttpRequest, said: Said[Done], done: Done, to: str) -> HttpResponse:
    if _keeps_page(request):
        return JsonResponse({"to": to, "said": said if isinstance(said, str) else said(done)}, status=201)
    _say(request, said, done)
    return lead_on(request, to)


def _sentence(form: BaseForm, refused: Refused | None) -> str:
    """Why it was not taken: what the action says, else what is wrong with the first field that has something wrong."""
    return refused.sentence if refused else str(next(iter(form.errors.values()))[0])


def _say(request: HttpRequest, said: Said[Done], done: Done) -> None:
    words = said if isinstance(said, str) else said(done)
    if words:
        messages.success(request, words)
