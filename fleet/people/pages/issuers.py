"""Coming in with an account that a school or county keeps elsewhere (OpenID Connect Core 1.0, the flow by a code).

An issuer proves an address and nothing else: the account of that address was made here, with its posts. Nothing of
what it tells is kept, and whoever has a second step here is asked for it all the same, since nobody can see from here
what the issuer asked for, and who runs it could otherwise be any head.
"""

from __future__ import annotations

import logging
from functools import cache
from typing import Any

from allauth.core import ratelimit
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from fleet.environment import Issuer
from fleet.ground.addresses import asked_back, way_back
from fleet.people.actions.entering import let_in, not_vouched_for
from fleet.people.queries.issuers import asking_schools, issuer_of, staff_of, vouched

LOG = logging.getLogger("fleet.people")
# Where to go on, beside what is kept of the way there.
FOR = "came_for"
PATIENCE = 5


def by_issuer(request: HttpRequest, key: str) -> HttpResponse:
    """One button: shown to whoever came in another way to a school that asks for this one."""
    issuer = _issuer(key)
    return _page(request, issuer, school=", ".join(one.name for one in asking_schools(issuer, request.user)))


def by_issuer_go(request: HttpRequest, key: str) -> HttpResponse:
    """To the issuer. By GET: nothing is written but what this browser needs to come back, and a form that leads to
    another site would want the content policy opened for every site the issuer may lead on to."""
    issuer = _issuer(key)
    too_many: HttpResponse | None = ratelimit.consume_or_429(request, action="by_issuer", limit_get=True)
    if too_many:
        return too_many
    request.session[FOR] = way_back(request, "")
    try:
        away: HttpResponse = _client(issuer).authorize_redirect(request, _back(request, issuer))
    except Exception as trouble:
        return _away(request, issuer, trouble)
    return away


def by_issuer_back(request: HttpRequest, key: str) -> HttpResponse:
    """What the issuer sends a browser back with."""
    issuer = _issuer(key)
    to = request.session.pop(FOR, "")
    if request.GET.get("error") == "access_denied":
        said = _("You did not go through with it at %(issuer)s. Nothing has changed.") % {"issuer": issuer.name}
        return _page(request, issuer, said, to)
    try:
        claims = _claims(request, issuer)
    except Exception as trouble:
        return _away(request, issuer, trouble, to)
    email = vouched(issuer, claims)
    person = staff_of(email) if email else None
    if person is None:
        return _not_let_in(request, issuer, email)
    return let_in(request, person, issuer, to=to)


def _claims(request: HttpRequest, issuer: Issuer) -> dict[str, Any]:
    """What the ID token says, once its signature, issuer, audience, time and nonce are proven; where it names no
    address, with what the issuer tells of the same person (section 5.3.2)."""
    client = _client(issuer)
    ours = {"iss": {"essential": True, "value": issuer.address}, "aud": {"essential": True, "value": issuer.client}}
    token = client.authorize_access_token(request, claims_options=ours)
    claims = dict(token["userinfo"])
    if "email" not in claims:
        more = client.userinfo(token=token)
        if more["sub"] != claims["sub"]:
            raise ValueError("userinfo is about somebody else")
        claims = {**more, **claims}
    return claims


@cache
def _client(issuer: Issuer) -> Any:
    """What speaks the protocol: it keeps what the issuer says of itself. Only a site with an issuer pays for it."""
    from authlib.integrations.django_client import OAuth

    return OAuth().register(
        issuer.key,
        client_id=issuer.client,
        client_secret=issuer.secret,
        server_metadata_url=f"{issuer.address}/.well-known/openid-configuration",
        client_kwargs={"scope": "openid email", "code_challenge_method": "S256", "default_timeout": PATIENCE},
    )


def _issuer(key: str) -> Issuer:
    issuer = issuer_of(key)
    if issuer is None:
        raise Http404("No such issuer.")
    return issuer


def _back(request: HttpRequest, issuer: Issuer) -> str:
    """Where the issuer sends a browser back to: the host that holds its session."""
    return request.build_absolute_uri(reverse("account_by_issuer_back", args=[issuer.key]))


def _away(request: HttpRequest, issuer: Issuer, trouble: Exception, to: str = "") -> HttpResponse:
    """Whatever went wrong on the way, an answer that cannot be read included: no fault of the person's."""
    LOG.warning("Nobody came in by issuer %s: %s", issuer.key, getattr(trouble, "error", type(trouble).__name__))
    not_vouched_for(request, issuer.name, "not proven")
    said = _(
        "This did not work: %(issuer)s cannot be reached, its answer could not be read, or too much time has gone by. "
        "Try again, or come in another way."
    )
    return _page(request, issuer, said % {"issuer": issuer.name}, to, status=502)


def _not_let_in(request: HttpRequest, issuer: Issuer, email: str) -> HttpResponse:
    if email:
        not_vouched_for(request, issuer.name, "an address without a post")
        said = _(
            "%(issuer)s says that your address is %(email)s. Nobody who works at a school here has that address: ask "
            "the school to enter it."
        )
    else:
        not_vouched_for(request, issuer.name, "no address it may vouch for")
        said = _("%(issuer)s proves no e-mail address of yours that counts here. Ask those who run it.")
    return _page(request, issuer, said % {"issuer": issuer.name, "email": email}, status=403)


def _page(
    request: HttpRequest, issuer: Issuer, said: str = "", to: str = "", *, school: str = "", status: int = 200
) -> HttpResponse:
    context = {"issuer": issuer, "school": school, "said": said, "to": to or asked_back(request)}
    return render(request, "account/by_issuer.html", context, status=status)
