"""Which person sits where: a school and a role, found for each request, and what templates know of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from allauth.mfa.models import Authenticator
from django.conf import settings
from django.db.models import PROTECT, ManyToOneRel, Q
from django.http import HttpRequest

from fleet.ground.access import DOORS, HEADS, Door, Reach, Role
from fleet.ground.addresses import address
from fleet.ground.paging import moment
from fleet.ground.refusal import WayOut
from fleet.people.models import School, User
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
# Written by hand: each request asks it, and having it put together from words takes four times as long as asking.
_SEAT = """SELECT school.*, post.role, post.since,
  EXISTS(SELECT 1 FROM people_post other WHERE other.user_id = post.user_id AND other.id <> post.id) AS several,
  EXISTS(SELECT 1 FROM people_guardian family WHERE family.user_id = post.user_id) AS family,
  EXISTS(SELECT 1 FROM mfa_authenticator step WHERE step.user_id = post.user_id AND step.type IN (%s, %s)) AS guarded
FROM people_post post JOIN people_school school ON school.id = post.school_id
WHERE post.user_id = %s AND school.slug = %s
"""


def seat_of(user: User, slug: str) -> Seat | None:
    """The person's seat at a school, or None for a stranger. One query."""
    found: Any = next(iter(School.objects.raw(_SEAT, [*SECOND_STEPS, user.pk, slug])), None)
    if found is None:
        return None
    role, waits = Role(found.role), None
    if role in HEADS and not found.guarded:
        waits = moment(found.since) + timedelta(days=found.second_step_days)
    several, family = bool(found.several), bool(found.family)
    return Seat(user=user, school=found, role=role, several=several, family=family, second_step_from=waits)


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
