"""Accounts and schools begun."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from allauth.mfa.models import Authenticator
from django.db import transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.people.models import Guardian, Post, School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import worded


def account_for(*, email: str, name: str) -> User:
    """The account with this e-mail address, made without a password when there is none yet."""
    known = User.objects.of_address(email)
    return known or User.objects.create_user(email=email, name=name)


def name_is_new(name: str) -> None:
    """Raises Refused where a school of that name is here, in whatever letters."""
    there = School.objects.filter(name__iexact=name.strip()).order_by("pk").first()
    if there is not None:
        raise Refused(
            _s("There is a school called %(there)s at /s/%(slug)s/ already. If this is another, say --another.")
            % {"there": there, "slug": there.slug}
        )


@transaction.atomic
def begin_school(
    *,
    name: str,
    slug: str,
    head_name: str,
    head_email: str,
    role: Post.Role = Post.Role.HEAD,
    another: bool = False,
    at: datetime,
) -> School:
    """A new school with its first department head or service head, who signs in by e-mailed code.

    Raises Refused where a school of that name is here and it is not said that this is `another`.
    """
    if not another:
        name_is_new(name)
    school = School.objects.create(name=name, slug=slug)
    post = Post.objects.create(school=school, user=account_for(email=head_email, name=head_name), role=role)
    told = [["post", worded(post, "role")]]
    record(deed=Deed.SCHOOL_BEGUN, school=school, by=None, at=at, account=post.user, told=told)
    return school


def remove_account(person: User) -> bool:
    """Whether it went: the account of somebody with neither a post nor a child, whom no row names for what they did."""
    if Post.objects.filter(user=person).exists() or Guardian.objects.filter(user=person).exists():
        return False
    try:
        with transaction.atomic():
            person.delete()
    except ProtectedError:
        return False
    return True


def record_entry(
    *, deed: Deed, account: User | None, by: User | None, at: datetime, told: Sequence[Sequence[str]] = ()
) -> None:
    """Writes how somebody came in, or did not, on the record of each of their schools; on the site's where there is
    none."""
    posts, answers = Post.objects.filter(user=account), Guardian.objects.filter(user=account)
    keys = {*posts.values_list("school", flat=True), *answers.values_list("school", flat=True)} if account else set()
    for school in School.objects.filter(pk__in=keys).order_by("pk") or [None]:
        record(deed=deed, school=school, by=by, at=at, account=account, told=told)


def end_sessions(*, user: User, by: User | None, at: datetime) -> None:
    """Every session of this person is over, that of the browser at hand with them. `by` is None at the command line."""
    user.sessions_ended = at
    user.save(update_fields=["sessions_ended"])
    record_entry(deed=Deed.SIGNED_OUT_EVERYWHERE, account=user, by=by, at=at)


@transaction.atomic
def second_step_off(*, user: User, at: datetime) -> bool:
    """Takes away what guards an account beside password and mailbox, its sessions with it; whether there was any."""
    found, _ = Authenticator.objects.filter(user=user).delete()
    if found:
        record_entry(deed=Deed.SECOND_STEP_OFF, account=user, by=None, at=at)
        end_sessions(user=user, by=None, at=at)
    return bool(found)
