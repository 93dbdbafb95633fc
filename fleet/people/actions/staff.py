"""Posts at a school given, changed and ended. A school always keeps one head."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.access import HEADS
from fleet.ground.refusal import Refused
from fleet.people.actions.accounts import account_for
from fleet.people.models import Post, School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import worded


@transaction.atomic
def appoint(*, school: School, name: str, email: str, role: str, by_role: str, by: User | None, at: datetime) -> Post:
    """A post at the school for the account with this e-mail address. Refused when they have one already."""
    _may_give(role, by_role)
    account = account_for(email=email, name=name)
    if Post.objects.filter(school=school, user=account).exists():
        raise Refused(
            _s("%(account)s already has a post at %(school)s. Change that one.")
            % {"account": account, "school": school}
        )
    post = Post.objects.create(school=school, user=account, role=role, since=at)
    told = [["post", worded(post, "role")], ["e-mail", account.email]]
    record(deed=Deed.POST_GIVEN, school=school, by=by, at=at, account=account, told=told)
    return post


@transaction.atomic
def change_post(*, post: Post, role: str, by_role: str, by: User, at: datetime) -> None:
    """Another role for this post, or none (an empty role ends it). A school always keeps one head."""
    posts = list(Post.objects.select_for_update().filter(school_id=post.school_id).order_by("pk"))
    _may_give(post.role, by_role)
    if role:
        _may_give(role, by_role)
    heads = [held for held in posts if held.role in HEADS]
    if role not in HEADS and [held.pk for held in heads] == [post.pk]:
        raise Refused(_s("A school keeps at least one head. Appoint another first."))
    was = worded(post, "role")
    if role:
        if role != post.role:
            post.since = at
        post.role = role
        post.save(update_fields=["role", "since"])
    else:
        post.delete()
    now = worded(post, "role") if role else ""
    if now != was:
        deed = Deed.POST_CHANGED if role else Deed.POST_ENDED
        record(deed=deed, school=post.school, by=by, at=at, account=post.user, told=[["post", was, now]])


def _may_give(role: str, by_role: str) -> None:
    if role == Post.Role.SERVICE and by_role != Post.Role.SERVICE:
        raise Refused(_s("Only a service head appoints or changes a service head."))
