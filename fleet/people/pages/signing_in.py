"""How people come in: by invitation only, never by signing themselves up."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa.adapter import DefaultMFAAdapter
from django.http import HttpRequest
from django.urls import reverse


class Doorkeeper(DefaultAccountAdapter):
    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "email_password_mismatch": "The address and the password do not go together.",
        "enter_current_password": "This is not the password you have now.",
        "incorrect_code": "This is not the code. Look at the newest letter again.",
        "incorrect_password": "This is not your password.",
        "rate_limited": "Too many tries. Please wait five minutes.",
        "too_many_login_attempts": "Too many tries. Please wait five minutes.",
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        return reverse("mfa_index")

    def get_reauthentication_methods(self, user: Any) -> list[dict[str, Any]]:
        words = {"reauthenticate": "Use the password", "mfa_reauthenticate": "Use the authenticator app"}
        return [
            {**method, "description": words.get(method["id"], method["description"])}
            for method in super().get_reauthentication_methods(user)
        ]


class SecondStep(DefaultMFAAdapter):
    error_messages = {
        **DefaultMFAAdapter.error_messages,
        "incorrect_code": "This is not the code. It changes every half minute; is the phone's clock right?",
    }
