"""The forms of passkeys. What they check is the account library's; what a browser cannot have sent is refused here."""

from __future__ import annotations

from typing import Any

from allauth.core import context
from allauth.mfa.adapter import get_adapter
from allauth.mfa.webauthn import forms as webauthn
from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from fleet.people.actions.entering import showed_a_wrong_passkey


class AsABrowserSends:
    """The library reads what was sent as it stands, and stumbles in many ways over what no browser sends."""

    def _read(self, read: Any) -> Any:
        try:
            return read()
        except ValidationError:
            raise
        except Exception as nonsense:
            raise get_adapter().validation_error("incorrect_passkey") from nonsense

    def clean_credential(self) -> Any:
        try:
            return self._read(super().clean_credential)  # type: ignore[misc]
        except ValidationError as wrong:
            if wrong.code != "too_many_login_attempts":
                showed_a_wrong_passkey(context.request, self.user)  # type: ignore[attr-defined]
            raise


class AddPasskey(AsABrowserSends, webauthn.AddWebAuthnForm):
    # Ours always sign in alone; the library's script asks the tick, so it stands there unseen.
    passwordless = forms.BooleanField(initial=True, widget=forms.CheckboxInput(attrs={"hidden": True}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].label = gettext("What you call it")
        self.fields["name"].help_text = gettext("To tell it from others, like “my phone”.")
        self.fields["name"].max_length = 60

    def clean_credential(self) -> Any:
        return self.cleaned_data["credential"]

    def clean(self) -> Any:
        return self._read(super().clean)


class SignInByPasskey(AsABrowserSends, webauthn.LoginWebAuthnForm):
    pass


class PasskeyAsSecondStep(AsABrowserSends, webauthn.AuthenticateWebAuthnForm):
    pass


class PasskeyAgain(AsABrowserSends, webauthn.ReauthenticateWebAuthnForm):
    pass
