"""Which person sits where: a school and a role, found for each request, and what templates know of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from allauth.mfa.models import Authenticator
from django.conf import settings
from django.db.models import PROTECT, Exists, ManyToOneRel, OuterRef, Q
from django.http import HttpRequest

from fleet.ground.access import DOORS, HEADS, Door, Reach, Role
from fleet.ground.addresses import address
from fleet.ground.paging import ByKey
from fleet.ground.refusal import WayOut
from fleet.people.models import Guardian, Post, School, User
from fleet.people.queries.proof import session_ends


@dataclass(frozen=True, slots=True)
class Seat:
    """The person at one school: set on the request by the doors, so that pages need not look again."""

    user: User
    school: School
    role: Role
    # Whether the masthead should offer the way to another school, or to the person's own family page.
    several: bool = False
    family: bool = False
    # From when on the school's pages wait for a head's second step; None for whoever has one or needs none.
    second_step_from: datetime | None = None

    def may(self, view_name: str, *, write: bool = False) -> bool:
        """Whether this person may read (or change) through the page of that name; unknown pages are closed."""
        door = DOORS.get(view_name)
        return door is not None and _opens(door, self.role, write=write)

    def way(self, to: WayOut | None) -> str:
        """The address of a way out; "" where there is none, or this person may not do there what is to be done."""
        if to is None or not self.may(to.page, write=bool(DOORS[to.page].write)):
            return ""
        return to.address(self.school.slug)

    def here(self, view_name: str, *args: int | str) -> str:
        """The address of that page at this school."""
        return address(view_name, self.school.slug, *args)


class SeatedRequest(HttpRequest):
    """A request that came through a school's door."""

    seat: Seat
    user: User
    now: datetime
    today: date


def _opens(door: Door, role: Role | None, *, write: bool) -> bool:
    return door.reach is Reach.SCHOOL and role in (door.write if write else door.read)


@dataclass(frozen=True, slots=True)
class May:
    """`may.register__horn_new` in templates: whether to show the way to a page to somebody in that role."""

    role: Role | None

    def __getitem__(self, name: str) -> bool:
        door = DOORS.get(name.replace("__", ":").replace("_", "-"))
        return door is not None and _opens(door, self.role, write=bool(door.write))


# What guards an account beside password and mailbox.
SECOND_STEPS = [Authenticator.Type.TOTP.value, Authenticator.Type.WEBAUTHN.value]
_BESIDE = Post.objects.filter(user=OuterRef("user"))
_FAMILY = Guardian.objects.filter(user=OuterRef("user"))
_STEPS = Authenticator.objects.filter(user=OuterRef("user"), type__in=SECOND_STEPS)
# Each request asks it.
_POSTS = ByKey(
    Post.objects.annotate(
        several=Exists(_BESIDE.exclude(pk=OuterRef("pk"))), family=Exists(_FAMILY), guarded=Exists(_STEPS)
    ),
    *("role", "since"),
    *(f"school__{field.attname}" for field in School._meta.concrete_fields),
    by=("user", "school__slug"),
)


def seat_of(user: User, slug: str) -> Seat | None:
    """The person's seat at a school, or None for a stranger. One query."""
    post: Any = next(iter(_POSTS([user.pk], [slug])), None)
    if post is None:
        return None
    role, waits = Role(post.role), None
    if role in HEADS and not post.guarded:
        waits = post.since + timedelta(days=post.school.second_step_days)
    return Seat(
        user=user, school=post.school, role=role, several=post.several, family=post.family, second_step_from=waits
    )


def others_who_may(seat: Seat, view_name: str) -> list[User]:
    """Everybody else at the school who may do what that page does: the second person of what takes two. One query."""
    roles = [str(role) for role in DOORS[view_name].write]
    others = User.objects.filter(posts__school=seat.school, posts__role__in=roles, is_active=True)
    return list(others.exclude(pk=seat.user.pk).order_by("name", "pk"))


def schools_of(user: User) -> list[School]:
    """The schools where this person has a post or answers for somebody."""
    return list(School.objects.filter(Q(posts__user=user) | Q(guardians__user=user)).distinct())


def nobodys(before: datetime) -> list[User]:
    """Accounts made before then by which nobody comes in any more, and which no row names for what they did: of an
    address that a guardian has no longer. A query for each place that can name one."""
    free = User.objects.filter(posts=None, guardianships=None, created__lt=before).order_by("pk")
    named: set[int] = set()
    relations: list[Any] = [one for one in User._meta.get_fields(include_hidden=True) if isinstance(one, ManyToOneRel)]
    for relation in relations if free else []:
        if relation.on_delete is PROTECT:
            field = relation.field.attname
            rows = relation.related_model._base_manager.filter(**{f"{field}__in": free})
            named.update(rows.values_list(field, flat=True))
    return [one for one in free if one.pk not in named]


def in_templates(request: HttpRequest) -> dict[str, Any]:
    """`seat`, `school`, `may`, `speech`, `issuers` and `session_ends` for every page."""
    seat = getattr(request, "seat", None)
    return {
        "seat": seat,
        "school": seat.school if seat else None,
        "may": May(seat.role if seat else None),
        "speech": getattr(request, "speech", None),
        "issuers": settings.ISSUERS,
        "session_ends": lambda: session_ends(request),
    }
