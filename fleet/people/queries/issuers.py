"""Who keeps accounts elsewhere with which staff may come in, whom they vouch for, and which school asks for it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from allauth.account.internal.flows.login import get_authentication_records
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest

from fleet.environment import Issuer
from fleet.people.models import School, User

METHOD = "issuer"


def issuer_of(key: str) -> Issuer | None:
    return next((one for one in settings.ISSUERS if one.key == key), None)


def vouched(issuer: Issuer, claims: Mapping[str, Any]) -> str:
    """The address that these claims of an ID token prove, else "": proven there (OpenID Connect Core 1.0, section 5.1)
    and one of those the issuer may speak for here. Some send the yes-or-no as a word."""
    email = str(claims.get("email") or "")
    return email if claims.get("email_verified") in (True, "true") and issuer.speaks_for(email) else ""


def staff_of(email: str) -> User | None:
    """The account a post was given to at this address. An issuer lets nobody else in: families have their code."""
    person = User.objects.of_address(email)
    return person if person is not None and person.is_active and person.posts.exists() else None


def required_at(school: School, person: User) -> Issuer | None:
    """With whose account alone this person comes in there: of a school that asks for it, and of an address for which
    that issuer speaks. Whoever works there with another, as a visiting technician, has no such account."""
    asked = next((one for one in settings.ISSUERS if one.address == school.sign_in_by), None)
    return asked if asked is not None and asked.speaks_for(person.email) else None


def asking_schools(issuer: Issuer, person: User | AnonymousUser) -> list[School]:
    """The schools of this person that ask for an account of this issuer."""
    if not isinstance(person, User):
        return []
    posts = person.posts.select_related("school").order_by("school__name", "pk")
    return [post.school for post in posts if required_at(post.school, person) == issuer]


def vouched_by(request: HttpRequest) -> set[str]:
    """The addresses of the issuers with whose accounts this session was begun."""
    records = get_authentication_records(request, request.user)
    return {one["issuer"] for one in records if one["method"] == METHOD}


def still_to_vouch(request: HttpRequest, school: School, person: User) -> Issuer | None:
    """With whose account this person has yet to come in before the school's pages open."""
    asked = required_at(school, person)
    return asked if asked is not None and asked.address not in vouched_by(request) else None
