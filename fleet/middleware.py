"""What holds for every request: the doors, sessions that end when idle, and the browser's policies."""

from __future__ import annotations

import logging
import re
import time
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.contrib.sessions.backends.base import SessionBase, UpdateError
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.cache import patch_vary_headers
from django.utils.translation import gettext as _s
from django_htmx.http import HttpResponseClientRedirect

from fleet.ground.access import DOORS, OPEN, OWN_ACCOUNT, PROVEN, Reach
from fleet.ground.languages.own import in_words
from fleet.people.pages.proving import ask_for_proof
from fleet.people.queries.issuers import still_to_vouch
from fleet.people.queries.languages import speech_for, speech_of_staff
from fleet.people.queries.proof import lately_proven, proofs, signed_in_at
from fleet.people.queries.seats import Seat, seat_of
from fleet.policies import POLICIES
from fleet.record.queries.page import ON_PAGE
from fleet.trouble import BROKE, trouble_of

Answer = Callable[[HttpRequest], HttpResponse]
LOG = logging.getLogger("fleet")


def stated_policies(get_response: Answer) -> Answer:
    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        for name, policy in POLICIES.items():
            response.headers.setdefault(name, policy)
        # Whether the person is signed in would have to be asked of the database, which may be what is broken.
        if hasattr(request, "user") and {*request.COOKIES, *response.cookies} & {settings.SESSION_COOKIE_NAME}:
            response.headers.setdefault("Cache-Control", "private, no-store")
        return response

    return middleware


class Compressed(GZipMiddleware):
    """Pages, and what scripts ask for, go over a slow telephone at a fifth of their size.

    Files are compressed already, or wanted as they are.

    Each page is some random bytes longer, and the proof of its forms is another each time, so that its size tells
    nobody on the way what stands in it: Django’s own defence against that attack (BREACH).
    """

    def process_response(self, request: HttpRequest, response: Any) -> Any:
        is_page = response.headers.get("Content-Type", "").startswith(("text/html", "application/json"))
        return super().process_response(request, response) if is_page else response


def sessions_end(get_response: Answer) -> Answer:
    """Ends a session `SESSION_HOURS` after it began, and moves its end for being idle on while it is used.

    A session in which somebody proved anew who it is goes on under another key: whoever knew the old one is out.
    The end is moved at most once a minute, so that reading costs no write. Saving is enough: the server counts the idle
    time from the last save. An expiry set here would also give the cookie a life of its own, and it would outlive the
    closed browser of a shared machine.
    """

    def middleware(request: HttpRequest) -> HttpResponse:
        session = request.session
        if "_auth_user_id" in session and time.time() - signed_in_at(request) >= settings.SESSION_HOURS * 3600:
            session.flush()
        known, before = "_auth_user_id" in session, proofs(session)
        response = get_response(request)
        if known and "_auth_user_id" in session and proofs(session) > before:
            session.cycle_key()
        if response.status_code < 500 and session.accessed and "_auth_user_id" in session and not session.modified:
            now = int(timezone.now().timestamp())
            if now - session.get("last_used", 0) >= 60:
                session["last_used"] = now
                _stamped(session)
        return response

    return middleware


def _stamped(session: SessionBase) -> None:
    """Saves the session. Where nothing can be saved, its end stays where it was, and reading goes on."""
    try:
        session.save()
    except UpdateError as trouble:
        if trouble_of(trouble) is BROKE:
            return  # it was ended meanwhile, which is answered further out
    session.modified = False


# Where a family may come. The pages of a school are in the language of who works there, as the doors find it.
# Lists that go out are English.
STAY_ENGLISH = {
    f"exchange:{name}-out" for name in ("charges", "horns", "jobs", "loans", "orders", "parts", "past-loans", "pupils")
}
SPOKEN = re.compile(r"/(account|family|not-me|language)/|/$")


def spoken(get_response: Answer) -> Answer:
    """Answers families in their language."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if SPOKEN.match(request.path_info) is None:
            return get_response(request)
        speech = request.speech = speech_for(request)  # type: ignore[attr-defined]
        with translation.override(speech.language.code), in_words(speech.words), timezone.override(speech.zone):
            response = get_response(request)
        patch_vary_headers(response, ["Accept-Language", "Cookie"])
        return response

    return middleware


class Doors:
    """Opens a page only to those whom `fleet.ground.access` lets through."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        before = ON_PAGE.set("")
        try:
            # Whatever the page has it told by, the next one is not.
            with timezone.override(timezone.get_current_timezone()), translation.override(translation.get_language()):
                response = self.get_response(request)
            if response.status_code in {403, 404} and ON_PAGE.get():
                self._noted(request, response.status_code)
            if (speech := getattr(request, "speech", None)) is not None:
                response.headers.setdefault("Content-Language", speech.language.code)
            return response
        finally:
            ON_PAGE.reset(before)

    def process_view(
        self, request: HttpRequest, view: Any, args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        # Time is read once, here at the edge, and passed down as an argument.
        request.now = timezone.now()  # type: ignore[attr-defined]
        name = request.resolver_match.view_name if request.resolver_match else ""
        ON_PAGE.set(name)
        if name in OPEN:
            return None
        door = DOORS.get(name)
        if door is None and name not in OWN_ACCOUNT:
            raise Http404("This page is closed.")
        if not request.user.is_authenticated:
            return self._sign_in_first(request)
        if door is None or door.reach is not Reach.SCHOOL:
            # The family's pages fetch only what the account answers for, and answer 404 to the rest.
            self._method_allowed(request, bool(door is None or door.write))
            return self._proven(request, name)
        seat = seat_of(request.user, kwargs.pop("school"))
        if seat is None:
            raise Http404("No such school for this account.")
        # Before the refusal, so that its page says as whom one was refused and still leads on to one's own pages.
        request.seat = seat  # type: ignore[attr-defined]
        # Its days begin and end by its own clock.
        timezone.activate(seat.school.zone)
        request.today = timezone.localdate(request.now)  # type: ignore[attr-defined]
        speech = speech_of_staff(seat.user, seat.school)
        if len(speech.offered) > 1 and name not in STAY_ENGLISH:
            request.speech = speech  # type: ignore[attr-defined]
            translation.activate(speech.language.code)
        if not seat.may(name, write=request.method not in {"GET", "HEAD"}):
            raise PermissionDenied
        if issuer := still_to_vouch(request, seat.school, seat.user):
            return self._sign_in_first(request, reverse("account_by_issuer", args=[issuer.key]))
        if seat.second_step_from and request.now >= seat.second_step_from:  # type: ignore[attr-defined]
            return self._second_step_first(request, seat)
        return self._proven(request, name)

    @staticmethod
    def _noted(request: HttpRequest, status: int) -> None:
        """Writes down who was refused what, by number and by name of the page: nothing that somebody typed."""
        LOG.warning("Account %s: %s %s was answered %s", request.user.pk, request.method, ON_PAGE.get(), status)

    @staticmethod
    def _proven(request: HttpRequest, name: str) -> HttpResponse | None:
        return ask_for_proof(request, name) if name in PROVEN and not lately_proven(request) else None

    @staticmethod
    def _sign_in_first(request: HttpRequest, by: str | None = None) -> HttpResponse:
        """To the sign-in page, or `by` another, and back again; a part fetched by script sends the whole page there."""
        if request.headers.get("HX-Request") == "true":
            try:
                page = request.htmx.current_url_abs_path or "/"  # type: ignore[attr-defined]
            except ValueError:
                page = "/"
            return HttpResponseClientRedirect(redirect_to_login(page, by).url)
        return redirect_to_login(request.get_full_path(), by)

    @staticmethod
    def _second_step_first(request: HttpRequest, seat: Seat) -> HttpResponse:
        """To the page where it is switched on; a part fetched by script sends the whole page there."""
        said = _s("Heads of %(school)s have a second step. Switch it on, then you can go on.")
        messages.warning(request, said % {"school": seat.school})
        to = reverse("mfa_index")
        return HttpResponseClientRedirect(to) if request.headers.get("HX-Request") == "true" else redirect(to)

    @staticmethod
    def _method_allowed(request: HttpRequest, writes: bool) -> None:
        if request.method not in {"GET", "HEAD"} and not writes:
            raise PermissionDenied


def unproven_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The answer to a form without the proof that it came from our own page, in plain words."""
    return render(request, "403_csrf.html", status=403)
