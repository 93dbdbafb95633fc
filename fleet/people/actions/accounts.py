"""Accounts and schools begun."""

from __future__ import annotations

from datetime import datetime

from allauth.mfa.models import Authenticator
from django.db import transaction

from fleet.ground.refusal import Refused
from fleet.people.models import Post, School, User


def account_for(*, email: str, name: str) -> User:
    """The account with this e-mail address, made without a password when there is none yet."""
    known = User.objects.filter(email__iexact=email).first()
    return known or User.objects.create_user(email=email, name=name)


def name_is_new(name: str) -> None:
    """Raises Refused where a school of that name is here, in whatever letters."""
    there = School.objects.filter(name__iexact=name.strip()).order_by("pk").first()
    if there is not None:
        raise Refused(
            f"There is a school called {there} at /s/{there.slug}/ already. If this is another, say --another."
        )


@transaction.atomic
def begin_school(
    *, name: str, slug: str, head_name: str, head_email: str, role: Post.Role = Post.Role.HEAD, another: bool = False
) -> School:
    """A new school with its first department head or service head, who signs in by e-mailed code.

    Raises Refused where a school of that name is here and it is not said that this is `another`.
    """
    if not another:
        name_is_new(name)
    school = School.objects.create(name=name, slug=slug)
    Post.objects.create(school=school, user=account_for(email=head_email, name=head_name), role=role)
    return school


def end_sessions(*, user: User, by: User, at: datetime) -> None:
    """Every session of this person is over, that of the browser at hand with them."""
    user.sessions_ended = at
    user.save(update_fields=["sessions_ended"])


@transaction.atomic
def second_step_off(*, user: User, at: datetime) -> bool:
    """Takes away what guards an account beside password and mailbox, its sessions with it; whether there was any."""
    found, _ = Authenticator.objects.filter(user=user).delete()
    if found:
        end_sessions(user=user, by=user, at=at)
    return bool(found)
