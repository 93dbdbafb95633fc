"""How people come in: by invitation only, never by signing themselves up."""

import logging
from datetime import timedelta
from functools import cache
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.stages import LoginStage
from allauth.core import context
from allauth.core.internal import ratelimit
from allauth.core.internal.httpkit import get_client_ip
from allauth.core.internal.ratelimit import RateLimitUsage, SingleRateLimitUsage
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.utils import is_mfa_enabled
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.module_loading import import_string
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.people.models import User
from fleet.people.queries.known_devices import device_known_to, device_of, remember
from fleet.people.queries.proof import lately_proven

SECOND_STEP = "allauth.mfa.stages.AuthenticateStage"
LOG = logging.getLogger("fleet.people")


@cache
def warn_of_the_proxy() -> None:
    """Says it once, the first time it matters."""
    LOG.warning(
        "The proxy passes no X-Forwarded-For, so too many tries of one person keep out everybody behind it. Let it "
        "pass that header (nginx: proxy_set_header X-Forwarded-For $proxy_add_x_forwarded_for), or, where there is no "
        "proxy, say HORN_BEHIND_PROXY=no."
    )


class Doorkeeper(DefaultAccountAdapter):
    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "email_password_mismatch": _("The address and the password do not go together."),
        "enter_current_password": _("This is not the password you have now."),
        "incorrect_code": _("This is not the code. Look at the newest letter again."),
        "incorrect_password": _("This is not your password."),
        "rate_limited": _("Too many tries. Please wait five minutes."),
        "too_many_login_attempts": _("Too many tries. Please wait five minutes."),
    }

    def get_client_ip(self, request: HttpRequest) -> str:
        """What the throttles count by: the browser where somebody has signed in before, else the address."""
        if device := device_of(request):
            return device
        if settings.ALLAUTH_TRUSTED_PROXY_COUNT and not request.headers.get("x-forwarded-for"):
            warn_of_the_proxy()
        return get_client_ip(request) or "unknown"

    def render_mail(self, template_prefix: str, email: str, context: Any, headers: Any = None) -> Any:
        letter = super().render_mail(template_prefix, email, context, headers)
        if template_prefix.endswith("_code"):
            letter.good_for = timedelta(seconds=settings.ACCOUNT_LOGIN_BY_CODE_TIMEOUT)
        return letter

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        email = credentials.get("email", "").lower()
        counted = [("login_failed", f"{email} {self.get_client_ip(request)}")]
        if not device_known_to(request, email):
            counted.append(("login_failed_anywhere", email))
        used: list[SingleRateLimitUsage] = []
        for action, key in counted:
            usage = ratelimit.consume(request, app="allauth.account", action=action, key=key)
            if not usage:
                known = User.objects.of_address(email)
                LOG.warning("Too many wrong passwords for account %s: this one was not looked at", known and known.pk)
                raise self.validation_error("too_many_login_attempts")
            used += usage.usage
        # The library takes it back when the password was right.
        self._login_failed_rl_usage = RateLimitUsage(used)

    def _delete_login_attempts_cached_email(self, request: HttpRequest, **credentials: Any) -> None:
        email = credentials.get("email", "").lower()
        ratelimit.clear(
            request, app="allauth.account", action="login_failed", key=f"{email} {self.get_client_ip(request)}"
        )
        ratelimit.clear(request, app="allauth.account", action="login_failed_anywhere", key=email)

    def post_login(self, request: HttpRequest, user: Any, **told: Any) -> HttpResponse:
        answer: HttpResponse = super().post_login(request, user, **told)
        remember(request, answer, user.email)
        return answer

    def get_login_stages(self) -> list[str]:
        ours = f"{__name__}.{SecondStepIfAny.__name__}"
        return [ours if stage == SECOND_STEP else stage for stage in super().get_login_stages()]

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        return reverse("mfa_index")

    def get_reauthentication_methods(self, user: Any) -> list[dict[str, Any]]:
        """Of password and second step what the person has; a code by e-mail unless a second step is on.

        An open session and an open mailbox together must not be enough to switch it off.
        """
        words = {
            "reauthenticate": gettext("Use the password"),
            "mfa_reauthenticate": gettext("Use the app or a recovery code"),
            "mfa_reauthenticate:webauthn": gettext("Use a passkey"),
        }
        methods = [
            {**method, "description": words.get(method["id"], method["description"])}
            for method in super().get_reauthentication_methods(user)
        ]
        if user.is_authenticated and all(method["id"] == "reauthenticate" for method in methods):
            by_code = reverse("account_reauthenticate_by_code")
            methods.append({"id": "code", "description": gettext("Use a code by e-mail"), "url": by_code})
        return methods

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        return not lately_proven(context.request)


class SecondStepIfAny(LoginStage):
    """The library's own, for whoever has a second step: it reads what passkeys need, 11 MB that others go without."""

    key = urlname = "mfa_authenticate"

    def handle(self) -> Any:
        if self.login.user is not None and not is_mfa_enabled(self.login.user):
            return super().handle()
        return import_string(SECOND_STEP)(self.controller, self.request, self.login).handle()


class SecondStep(DefaultMFAAdapter):
    error_messages = {
        **DefaultMFAAdapter.error_messages,
        "incorrect_code": _("This is not the code. It changes every half minute; is the phone’s clock right?"),
        "incorrect_passkey": _("This passkey does not open the account. Try again, or come in another way."),
    }

    def generate_authenticator_name(self, user: Any, type: Any) -> str:
        return gettext("my passkey")

    def get_public_key_credential_rp_entity(self) -> dict[str, str]:
        return {**super().get_public_key_credential_rp_entity(), "name": "Horn Cupboard"}
