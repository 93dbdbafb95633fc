"""Who came in, who was not let in, and what became of the keys: the account library's signals, on the record."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from allauth.account import signals as account
from allauth.account.internal.flows.login import (
    get_authentication_records,
    perform_login,
    record_authentication,
)
from allauth.account.models import Login
from allauth.mfa import signals as mfa
from allauth.mfa.models import Authenticator
from django.contrib.auth import logout
from django.contrib.auth import signals as auth
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from fleet.environment import Issuer
from fleet.people.actions.accounts import record_entry
from fleet.people.models import User
from fleet.people.queries.issuers import METHOD
from fleet.record.models import Deed

WORDS = {"mfa": "second step", "webauthn": "passkey"}


def watch() -> None:
    """Has every signal of the account library that is about a person coming in recorded."""
    for signal, heard in (
        (auth.user_logged_in, came_in),
        (auth.user_logged_out, went_out),
        (auth.user_login_failed, gave_a_wrong_password),
        (account.login_code_rejected, gave_a_wrong_code),
        (mfa.authentication_failed, failed_the_second_step),
        (account.password_set, has_a_first_password),
        (account.password_changed, changed_the_password),
        (account.password_reset, reset_the_password),
        (mfa.authenticator_added, has_another_key),
        (mfa.authenticator_removed, has_a_key_less),
        (mfa.authenticator_reset, has_another_key),
    ):
        signal.connect(heard, dispatch_uid=f"record {heard.__name__}")


def let_in(request: HttpRequest, person: User, issuer: Issuer, *, to: str) -> HttpResponse:
    """The person for whom this issuer vouched, on to `to`: by way of the second step, where there is one."""
    if request.user.is_authenticated and request.user.pk != person.pk:
        logout(request)
    record_authentication(request, person, method=METHOD, issuer=issuer.address, issuer_name=issuer.name)
    entered: HttpResponse = perform_login(request, Login(user=person, redirect_url=to or None))
    return entered


def came_in(sender: Any, request: HttpRequest, user: User, **_: Any) -> None:
    records = get_authentication_records(request, user)
    how = [
        one.get("issuer_name") or WORDS.get(one.get("type")) or WORDS.get(one["method"], one["method"])
        for one in records
    ]
    _record(Deed.SIGNED_IN, request, user, user, ", then ".join(how))


def went_out(sender: Any, request: HttpRequest, user: User | None, **_: Any) -> None:
    if user is not None:
        _record(Deed.SIGNED_OUT, request, user, user)


def gave_a_wrong_password(
    sender: Any, credentials: dict[str, Any], request: HttpRequest | None = None, **_: Any
) -> None:
    """What was typed is not kept: it may be a password, or the address of somebody else."""
    typed = credentials.get("email") or credentials.get("username") or ""
    known = User.objects.of_address(typed) if typed else None
    _not_proven(request, known, "password" if known else "an address without an account")


def gave_a_wrong_code(sender: Any, request: HttpRequest, user: User, **_: Any) -> None:
    _not_proven(request, user, "code")


def not_vouched_for(request: HttpRequest, issuer: str, why: str) -> None:
    """Of whom the issuer spoke is not kept: it may be somebody who has nothing to do with the site."""
    _not_proven(request, None, f"{issuer}: {why}")


def failed_the_second_step(sender: Any, request: HttpRequest, user: User, **_: Any) -> None:
    _not_proven(request, user, "second step")


def has_a_first_password(sender: Any, request: HttpRequest, user: User, **_: Any) -> None:
    _record(Deed.PASSWORD_CHANGED, request, user, user, "set")


def changed_the_password(sender: Any, request: HttpRequest, user: User, **_: Any) -> None:
    _record(Deed.PASSWORD_CHANGED, request, user, user, "changed")


def reset_the_password(sender: Any, request: HttpRequest, user: User, **_: Any) -> None:
    _record(Deed.PASSWORD_CHANGED, request, user, user, "reset by a letter")


def has_another_key(sender: Any, request: HttpRequest, user: User, authenticator: Authenticator, **_: Any) -> None:
    codes = authenticator.type == Authenticator.Type.RECOVERY_CODES
    _record(Deed.RECOVERY_CODES_MADE if codes else Deed.SECOND_STEP_ON, request, user, user, _which(authenticator))


def has_a_key_less(sender: Any, request: HttpRequest, user: User, authenticator: Authenticator, **_: Any) -> None:
    if authenticator.type != Authenticator.Type.RECOVERY_CODES:
        _record(Deed.SECOND_STEP_OFF, request, user, user, _which(authenticator))


def _which(key: Authenticator) -> str:
    passkey = key.type == Authenticator.Type.WEBAUTHN
    return f"passkey, {key.data['name']}" if passkey else "app" if key.type == Authenticator.Type.TOTP else ""


def gave_a_wrong_old_password(request: HttpRequest) -> None:
    _not_proven(request, None, "password")


def showed_a_wrong_passkey(request: HttpRequest, user: User | None) -> None:
    """Whose it was nobody can say where a passkey alone is to let somebody in."""
    _not_proven(request, user, "passkey")


def _not_proven(request: HttpRequest | None, person: User | None, how: str) -> None:
    """Whoever has signed in already was asked once more who it is."""
    inside = getattr(request, "user", None)
    if isinstance(inside, User):
        _record(Deed.NOT_PROVEN, request, inside, inside, how)
    else:
        _record(Deed.NOT_LET_IN, request, person, None, how)


def _record(deed: Deed, request: HttpRequest | None, person: User | None, by: User | None, how: str = "") -> None:
    at: datetime = getattr(request, "now", None) or timezone.now()
    record_entry(deed=deed, account=person, by=by, at=at, told=[["how", how]] if how else ())
