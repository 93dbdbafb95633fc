"""Pages that ask once more who it is, before something that an open session alone must not do."""

from __future__ import annotations

import time
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from allauth.account.adapter import get_adapter
from allauth.account.internal.flows.login import record_authentication
from allauth.account.internal.flows.reauthentication import stash_and_reauthenticate
from allauth.account.views import BaseReauthenticateView
from allauth.core import ratelimit
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from fleet.ground.access import OWN_ACCOUNT
from fleet.people.actions.entering import gave_a_wrong_code
from fleet.people.forms.signing_in import CodeAgain
from fleet.people.models import User

STATE = "proof_code"


def ask_for_proof(request: HttpRequest, name: str) -> HttpResponse:
    """To the page that asks who it is, and from there on with what was asked for; a form that was sent is kept.

    But for forms of one's own account: they hold passwords, which do not belong in a session.
    """
    kept = None
    if request.method == "POST" and name not in OWN_ACCOUNT:
        kept = [(field, value) for field, values in request.POST.lists() for value in values]
    state = {"to": request.get_full_path(), "kept": kept}
    answer: HttpResponse = stash_and_reauthenticate(request, state, f"{__name__}.go_on")
    return answer


def go_on(request: HttpRequest, state: dict[str, Any]) -> HttpResponse:
    """One button that does what was asked for: a list that is taken along leaves its page where it was."""
    to, kept = urlsplit(state["to"]), state["kept"]
    pairs = parse_qsl(to.query, keep_blank_values=True) if kept is None else kept
    pairs = [(name, value) for name, value in pairs if name != "csrfmiddlewaretoken"]
    context = {"to": state["to"] if kept is not None else to.path, "sends": kept is not None, "pairs": pairs}
    return render(request, "account/go_on.html", context)


class ByCode(BaseReauthenticateView):
    """For those who have neither password nor second step: a code to their address, as for signing in."""

    form_class = CodeAgain
    template_name = "account/reauthenticate_by_code.html"

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if "send" in request.POST:
            return self._send(self.request.user)
        answer: HttpResponse = super().post(request, *args, **kwargs)
        return answer

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "code": self._sent().get("code", "")}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return {**super().get_context_data(**kwargs), "sent": bool(self._sent())}

    def form_valid(self, form: CodeAgain) -> HttpResponse:
        self.request.session.pop(STATE, None)
        record_authentication(self.request, self.request.user, method="code", reauthenticated=True)
        answer: HttpResponse = super().form_valid(form)
        return answer

    def form_invalid(self, form: CodeAgain) -> HttpResponse:
        sent = self._sent()
        if sent:
            left = sent["left"] - 1
            self.request.session[STATE] = {**sent, "left": left} if left else {}
            gave_a_wrong_code(type(self), self.request, self.request.user)
        answer: HttpResponse = super().form_invalid(form)
        return answer

    def _sent(self) -> dict[str, Any]:
        """The code that is out, while it is good."""
        sent: dict[str, Any] = self.request.session.get(STATE) or {}
        return sent if sent and time.time() - sent["at"] < settings.ACCOUNT_LOGIN_BY_CODE_TIMEOUT else {}

    def _send(self, user: User) -> HttpResponse:
        too_many: HttpResponse | None = ratelimit.consume_or_429(self.request, action="proof_code", user=user)
        if too_many:
            return too_many
        code = get_adapter().generate_login_code()
        left = settings.ACCOUNT_LOGIN_BY_CODE_MAX_ATTEMPTS
        self.request.session[STATE] = {"code": code, "at": int(time.time()), "left": left}
        get_adapter().send_mail("account/email/proof_code", user.email, {"code": code})
        return redirect(self.request.get_full_path())
