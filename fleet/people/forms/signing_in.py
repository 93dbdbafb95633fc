"""The forms of the sign-in pages in our own words. What they check is the account library's."""

from __future__ import annotations

from typing import Any

from allauth.account import forms as account
from allauth.account.adapter import get_adapter
from allauth.account.internal.userkit import filter_users_by_email
from allauth.core import context, ratelimit
from allauth.mfa.base import forms as mfa
from allauth.mfa.totp.forms import ActivateTOTPForm
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from fleet.ground.sentences import say_plainly
from fleet.people.actions.entering import gave_a_wrong_old_password
from fleet.people.queries.known_devices import device_known_to

LABELS = {
    "login": _("E-mail address"),
    "email": _("E-mail address"),
    "password": _("Password"),
    "oldpassword": _("Password now"),
    "password1": _("New password"),
    "password2": _("New password once more"),
    "code": _("Code"),
}


def tell_unknown(email: str) -> None:
    """A letter to an address without an account, so that the page need not say that it is unknown.

    The library's own letter offers signing up, which does not exist here: it fails on the missing page.
    """
    get_adapter().send_mail("account/email/unknown_account", email, {})


class Plain:
    """Labels instead of placeholders, which vanish on typing; a code's field calls up digits on a phone."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        say_plainly(self.fields.values())  # type: ignore[attr-defined]
        for name, field in self.fields.items():  # type: ignore[attr-defined]
            field.label = LABELS.get(name, field.label)
            field.widget.attrs.pop("placeholder", None)
            if name in {"password", "oldpassword"}:
                field.help_text = ""
            if name == "password1":
                field.help_text = _(
                    "At least 12 characters: three or four words that have nothing to do with each other, your name "
                    "or the school."
                )
            if name == "code":
                field.max_length = 40
                field.widget.attrs.update(inputmode="numeric", autocomplete="one-time-code", spellcheck="false")
                field.widget.attrs["class"] = "code"


class SignIn(Plain, account.LoginForm):
    pass


class AskForCode(Plain, account.RequestLoginCodeForm):
    def clean_email(self) -> str:
        """Like the library's, but a stranger who asks for letters keeps no browser out that the person is known to."""
        email: str = self.cleaned_data["email"]
        device = device_known_to(context.request, email)
        if not ratelimit.consume(context.request, action="request_login_code", key=f"{email.lower()} {device}"):
            raise get_adapter().validation_error("too_many_login_attempts")
        users = filter_users_by_email(email, is_active=True, prefer_verified=True, for_login=True)
        self._user = users[0] if users else None
        if self._user is None:
            tell_unknown(email)
        return email


class ConfirmCode(Plain, account.ConfirmLoginCodeForm):
    pass


class AskForReset(Plain, account.ResetPasswordForm):
    def save(self, request: HttpRequest, **kwargs: Any) -> str:
        email: str = super().save(request, **kwargs)
        if not self.users:
            tell_unknown(email)
        return email


class ResetPassword(Plain, account.ResetPasswordKeyForm):
    pass


class ChangePassword(Plain, account.ChangePasswordForm):
    def clean_oldpassword(self) -> str:
        try:
            typed: str = super().clean_oldpassword()
        except ValidationError:
            gave_a_wrong_old_password(context.request)
            raise
        return typed


class SetPassword(Plain, account.SetPasswordForm):
    pass


class PasswordAgain(Plain, account.ReauthenticateForm):
    pass


class CodeAgain(Plain, account.ConfirmLoginCodeForm):
    pass


class SecondCode(Plain, mfa.AuthenticateForm):
    pass


class SecondCodeAgain(Plain, mfa.ReauthenticateForm):
    pass


class ActivateSecondStep(Plain, ActivateTOTPForm):
    pass
