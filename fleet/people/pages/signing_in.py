"""How people come in: by invitation only, never by signing themselves up."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.core import context
from allauth.mfa.adapter import DefaultMFAAdapter
from django.http import HttpRequest
from django.urls import reverse

from fleet.people.queries.proof import lately_proven


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
        """Of password and second step what the person has; a code by e-mail unless a second step is on.

        An open session and an open mailbox together must not be enough to switch it off.
        """
        words = {"reauthenticate": "Use the password", "mfa_reauthenticate": "Use the authenticator app"}
        methods = [
            {**method, "description": words.get(method["id"], method["description"])}
            for method in super().get_reauthentication_methods(user)
        ]
        if user.is_authenticated and all(method["id"] == "reauthenticate" for method in methods):
            by_code = reverse("account_reauthenticate_by_code")
            methods.append({"id": "code", "description": "Use a code by e-mail", "url": by_code})
        return methods

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        return not lately_proven(context.request)


class SecondStep(DefaultMFAAdapter):
    error_messages = {
        **DefaultMFAAdapter.error_messages,
        "incorrect_code": "This is not the code. It changes every half minute; is the phone's clock right?",
    }
