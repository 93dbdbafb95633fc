"""What happens to people's records, each in one transaction."""

from __future__ import annotations

from django.db import transaction

from fleet.people.models import Guardian, Post, Pupil, School, User
from fleet.refused import Refused


def account_for(*, email: str, name: str) -> User:
    """The account with this e-mail address, made without a password when there is none yet."""
    known = User.objects.filter(email__iexact=email).first()
    return known or User.objects.create_user(email=email, name=name)


@transaction.atomic
def begin_school(*, name: str, slug: str, head_name: str, head_email: str, role: Post.Role = Post.Role.HEAD) -> School:
    """A new school with its first department head or service head, who signs in by e-mailed code."""
    school = School.objects.create(name=name, slug=slug)
    Post.objects.create(school=school, user=account_for(email=head_email, name=head_name), role=role)
    return school


@transaction.atomic
def save_guardian(*, guardian: Guardian, pupil: Pupil | None = None) -> Guardian:
    """Writes a guardian's record and ties it to the account of its e-mail address, and to a pupil if given.

    A guardian already on record at the school under the same address is tied rather than doubled.
    """
    guardian.email = guardian.email.lower()
    if guardian.pk is None and guardian.email:
        known = Guardian.objects.filter(school=guardian.school, email__iexact=guardian.email).first()
        guardian = known or guardian
    guardian.user = account_for(email=guardian.email, name=guardian.name) if guardian.email else None
    guardian.save()
    if pupil is not None:
        pupil.guardians.add(guardian)
    return guardian


@transaction.atomic
def let_go(*, guardian: Guardian, pupil_ids: set[int]) -> None:
    """The guardian no longer answers for these pupils; their loans keep who signed."""
    guardian.pupils.remove(*guardian.pupils.filter(pk__in=pupil_ids))


@transaction.atomic
def appoint(*, school: School, name: str, email: str, role: str, by_role: str) -> Post:
    """A post at the school for the account with this e-mail address. Refused when they have one already."""
    _may_give(role, by_role)
    account = account_for(email=email, name=name)
    if Post.objects.filter(school=school, user=account).exists():
        raise Refused(f"{account} already has a post at {school}. Change that one.")
    return Post.objects.create(school=school, user=account, role=role)


@transaction.atomic
def change_post(*, post: Post, role: str, by_role: str) -> None:
    """Another role for this post, or none (an empty role ends it). A school always keeps one head."""
    posts = list(Post.objects.select_for_update().filter(school_id=post.school_id).order_by("pk"))
    _may_give(post.role, by_role)
    if role:
        _may_give(role, by_role)
    heads = [held for held in posts if held.role in {Post.Role.HEAD, Post.Role.SERVICE}]
    if role not in {Post.Role.HEAD, Post.Role.SERVICE} and [held.pk for held in heads] == [post.pk]:
        raise Refused("A school keeps at least one head. Appoint another first.")
    if role:
        post.role = role
        post.save(update_fields=["role"])
    else:
        post.delete()


def _may_give(role: str, by_role: str) -> None:
    if role == Post.Role.SERVICE and by_role != Post.Role.SERVICE:
        raise Refused("Only a service head appoints or changes a service head.")
