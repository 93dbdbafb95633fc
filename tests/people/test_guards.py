"""Who may do what when nobody has a seat, and who is new to a pupil."""

from __future__ import annotations

import inspect

import pytest
from django.core.management import CommandError, call_command
from django.test import RequestFactory
from django.urls import URLResolver, get_resolver

from fleet.ground.access import Role
from fleet.people.pages.openings import WORDS
from fleet.people.queries.addresses import is_new_to
from fleet.people.queries.seats import May, Seat
from fleet.record.models import Deed
from fleet.record.models.deeds import Kind
from fleet.record.queries.telling import said
from tests import make

pytestmark = pytest.mark.django_db


def test_a_page_that_is_none_of_a_schools_is_closed_to_every_seat():
    school = make.school()
    seat = Seat(user=make.staff(Role.HEAD, school), school=school, role=Role.HEAD)

    assert seat.may("register:horns")
    for closed in ("no:such-page", "desk:family", "account_login"):
        assert not seat.may(closed), closed


def test_without_a_seat_nothing_may_be_done():
    assert not May(None)["register__horns"]


def test_a_guardian_is_new_to_a_pupil_who_has_somebody_else_and_not_to_their_own():
    school = make.school()
    first, second = make.guardian(school), make.guardian(school)
    pupil = make.pupil(school, first)

    assert not is_new_to(pupil, first)
    assert is_new_to(pupil, second)
    # They answer for another child together.
    make.pupil(school, first, second)
    assert not is_new_to(pupil, second)


@pytest.mark.parametrize(("value", "told"), [(None, ""), (True, "yes"), (False, "no"), (0, "0"), (make.TODAY, None)])
def test_what_an_act_tells_of_a_value(value, told):
    if told is None:
        assert "2026" in said(value)
    else:
        assert said(value) == told


def test_every_deed_is_of_a_kind():
    assert {deed.kind for deed in Deed} <= set(Kind)
    assert Deed.PASSWORD_CHANGED.kind == Kind("entry")


def test_nobody_signs_up_by_themselves(rf: RequestFactory):
    from allauth.account.adapter import get_adapter

    assert get_adapter().is_open_for_signup(rf.get("/")) is False


def test_a_seat_by_itself_offers_no_way_to_another_school_nor_to_a_family():
    seat = Seat(user=make.staff(Role.HEAD, school := make.school()), school=school, role=Role.HEAD)

    assert (seat.several, seat.family, seat.second_step_from) == (False, False, None)


def test_signing_out_says_whom():
    with pytest.raises(CommandError, match="one of the arguments --of --everybody is required"):
        call_command("sign_out")


def test_whatever_notes_that_somebody_looked_has_words_for_what_they_saw():
    def pages(among, spaces=()):
        for one in among.url_patterns:
            if isinstance(one, URLResolver):
                yield from pages(one, (*spaces, one.namespace) if one.namespace else spaces)
            else:
                yield ":".join((*spaces, one.name or "")), inspect.unwrap(one.callback)

    noted = {name for name, page in pages(get_resolver()) if "note_opening" in page.__code__.co_names}

    assert noted == WORDS.keys()
