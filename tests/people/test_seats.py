"""A seat tells of one person at one school, whatever others have."""

from __future__ import annotations

from datetime import timedelta

import pytest
from allauth.mfa.models import Authenticator
from django.utils import timezone

from fleet.ground.access import Role
from fleet.ground.refusal import WayOut
from fleet.people.models import Post, School, User
from fleet.people.queries.seats import Seat, seat_of
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.both_engines]


def told(seat: Seat | None) -> tuple[Role, bool, bool, bool]:
    assert seat is not None
    return seat.role, seat.several, seat.family, seat.second_step_from is not None


def two_heads() -> tuple[User, User]:
    """At one school; the other one has a post and a child elsewhere."""
    school, elsewhere = make.school(slug="here"), make.school(slug="elsewhere")
    one, other = (make.staff(Role.HEAD, school) for _ in range(2))
    Post.objects.create(user=other, school=elsewhere, role=Role.TEACHER.value)
    family = make.guardian(elsewhere, with_account=False)
    family.user = other
    family.save()
    return one, other


@pytest.mark.parametrize(("kind", "guards"), [("totp", True), ("webauthn", True), ("recovery_codes", False)])
def test_a_seat_tells_what_its_own_person_has_and_nobody_else(kind, guards):
    one, other = two_heads()
    Authenticator.objects.create(user=other, type=kind, data={})

    assert told(seat_of(one, "here")) == (Role.HEAD, False, False, True)
    assert told(seat_of(other, "here")) == (Role.HEAD, True, True, not guards)
    assert told(seat_of(other, "elsewhere")) == (Role.TEACHER, True, True, False)
    assert seat_of(one, "elsewhere") is None


def test_the_second_step_is_waited_for_from_so_many_days_after_the_post_began():
    one, _ = two_heads()
    Post.objects.filter(user=one).update(since=make.NOW)

    with timezone.override(timezone.get_fixed_timezone(120)):
        seat = seat_of(one, "here")
    assert seat is not None
    assert seat.second_step_from == make.NOW + timedelta(days=seat.school.second_step_days)


@pytest.mark.parametrize(("role", "led"), [(Role.HEAD, True), (Role.TEACHER, False), (Role.TECHNICIAN, False)])
def test_a_way_out_is_shown_to_those_alone_who_may_do_there_what_is_to_be_done(role, led):
    # A teacher may read a charge; that it was paid or remitted says a head.
    seat = Seat(user=User(), school=School(slug="hill-road"), role=role)

    assert bool(seat.way(WayOut("loans:charge", "Settle it", (1,)))) is led
