"""The second step: switched on by staff, asked at sign-in, and not to be gone round."""

from __future__ import annotations

import sys
import time
from datetime import timedelta
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal import auth as totp
from django.core import mail
from django.core.management import CommandError, call_command
from django.utils import timezone

from fleet.ground.access import Role
from fleet.people.models import Post, User
from tests import make
from tests.people.entrance import (
    ACCOUNT,
    CODE,
    CONFIRM,
    PASSWORD,
    SECOND_STEP,
    SIGN_IN,
    by_password,
    code_in_the_letter,
    part,
    signed_in,
    teacher,
    words,
)

pytestmark = pytest.mark.django_db

ACTIVATE = "/account/second-factor/app/activate/"


def app_shows(secret: str) -> str:
    """The six digits an authenticator app shows now (RFC 6238, computed by the account library, which takes those of
    half a minute before and after, too)."""
    _, now, _ = totp.yield_hotp_counters_from_time()
    return str(totp.format_hotp_value(totp.hotp_value(secret, now)))


def switch_on(client: Any, password: str = PASSWORD) -> str:
    """Switches the second step on as a person would; returns the secret their app holds."""
    asked = client.get(ACTIVATE)
    if asked.status_code == 302:
        client.post(asked.url, {"password": password})
    page = client.get(ACTIVATE).content.decode()
    secret = part(r'class="secret">([A-Z2-7]+)<', page)
    assert "data:image/svg+xml;base64," in page
    done = client.post(ACTIVATE, {"code": app_shows(secret)})
    assert done.url == "/account/second-factor/recovery/"
    return secret


def test_staff_switch_the_second_step_on_and_are_asked_for_it(client):
    person = teacher()
    by_password(client, person.email)
    secret = switch_on(client)
    client.post("/account/sign-out/")

    first = by_password(client, person.email)
    half_way = client.get(f"/s/{person.posts.get().school.slug}/")
    client.post(SECOND_STEP, {"code": "000000" if app_shows(secret) != "000000" else "111111"})
    still_out = not signed_in(client)
    codes = unused_codes(person)
    answer = client.post(SECOND_STEP, {"code": codes[0]})

    assert first.url == SECOND_STEP
    assert half_way.status_code == 302
    assert half_way.url.startswith(SIGN_IN)
    assert still_out
    assert answer.url == "/"
    assert signed_in(client)


@pytest.mark.django_db(transaction=True)
def test_switching_the_second_step_on_is_told_by_letter(client):
    person = teacher()
    by_password(client, person.email)

    switch_on(client)

    assert [letter.to for letter in mail.outbox] == [[person.email]]
    assert "switched on" in mail.outbox[0].body


def unused_codes(person: User) -> list[str]:
    kept = Authenticator.objects.get(user=person, type=Authenticator.Type.RECOVERY_CODES)
    return list(kept.wrap().get_unused_codes())


def test_the_app_s_digits_open_the_second_step(client):
    person = teacher()
    secret = totp.generate_totp_secret()
    totp.TOTP.activate(person, secret)

    by_password(client, person.email)
    client.post(SECOND_STEP, {"code": app_shows(secret)})

    assert signed_in(client)


def test_what_passkeys_need_is_read_for_whoever_has_a_second_step_alone(client, monkeypatch):
    monkeypatch.setitem(sys.modules, "allauth.mfa.stages", None)
    without, having = teacher(), teacher(email="has@example.org")
    totp.TOTP.activate(having, totp.generate_totp_secret())

    by_password(client, without.email)
    assert signed_in(client)

    client.post("/account/sign-out/")
    with pytest.raises(ImportError, match="stages"):
        by_password(client, having.email)


def test_a_code_by_letter_does_not_go_round_the_second_step(client):
    person = teacher()
    totp.TOTP.activate(person, totp.generate_totp_secret())

    client.post(CODE, {"email": person.email})
    answer = client.post(CONFIRM, {"code": code_in_the_letter()})

    assert answer.url == SECOND_STEP
    assert not signed_in(client)


def test_switching_the_second_step_off_asks_who_it_is(client):
    person = teacher()
    totp.TOTP.activate(person, totp.generate_totp_secret())
    client.force_login(person)
    session = client.session
    session["signed_in"] = time.time() - 3600
    session.save()

    answer = client.post("/account/second-factor/app/deactivate/")

    assert answer.url.startswith("/account/reauthenticate/")
    assert Authenticator.objects.count() == 1


def test_guardians_are_not_troubled_with_a_second_step(client):
    guardian = make.guardian(make.school())
    client.force_login(guardian.user)
    assert "Second step" not in words(client.get(ACCOUNT))

    client.force_login(teacher())
    assert "Second step" in words(client.get(ACCOUNT))


HEADS = [Role.HEAD, Role.SERVICE]


def in_post_for(role: Role, days: float, school: Any = None) -> tuple[User, str]:
    """Somebody in this post for so many days, and the address of the school's Today."""
    school = school or make.school()
    person = make.staff(role, school)
    Post.objects.filter(user=person).update(since=timezone.now() - timedelta(days=days))
    return person, f"/s/{school.slug}/"


@pytest.mark.parametrize("role", HEADS)
def test_after_a_fortnight_in_the_post_the_school_s_pages_wait_for_a_head_s_second_step(as_, role):
    before, in_time = in_post_for(role, 13.9)
    person, today = in_post_for(role, 14.1)
    client = as_(person)

    assert as_(before).get(in_time).status_code == 200
    assert client.get(today).url == client.post(f"{today}settings/school/", {"name": "X"}).url == ACCOUNT
    assert "Switch it on, then you can go on." in client.get(ACCOUNT).content.decode()
    assert person.posts.get().school.name != "X"


def test_a_head_with_a_second_step_goes_on_and_one_with_recovery_codes_alone_does_not(as_):
    person, today = in_post_for(Role.HEAD, 100)
    client = as_(person)
    Authenticator.objects.create(user=person, type=Authenticator.Type.RECOVERY_CODES, data={})
    with_codes = client.get(today).status_code

    totp.TOTP.activate(person, totp.generate_totp_secret())

    assert (with_codes, client.get(today).status_code) == (302, 200)


def test_the_second_step_can_be_switched_on_while_the_school_s_pages_wait_for_it(client):
    person, today = in_post_for(Role.HEAD, 100)
    client.force_login(person)
    client.get(today)

    switch_on(client)

    assert client.get(today).status_code == 200


@pytest.mark.parametrize("role", [Role.TEACHER, Role.TECHNICIAN])
def test_others_are_not_made_to_have_one(as_, role):
    person, today = in_post_for(role, 1000)

    assert as_(person).get(today).status_code == 200


def test_a_school_says_how_soon_and_at_once_is_at_once(as_):
    slow, at_once = make.school(second_step_days=30), make.school(second_step_days=0)
    waits, _ = in_post_for(Role.HEAD, 29, slow)
    new, _ = in_post_for(Role.HEAD, 0, at_once)

    assert as_(waits).get(f"/s/{slow.slug}/").status_code == 200
    assert as_(new).get(f"/s/{at_once.slug}/").status_code == 302


def test_who_becomes_a_head_has_the_time_from_that_day_on(as_):
    school = make.school()
    teacher_, today = in_post_for(Role.TEACHER, 1000, school)
    post = teacher_.posts.get()
    head = as_(make.staff(Role.HEAD, school))

    head.post(f"{today}settings/staff/{post.pk}/", {"role": "head"})
    promoted = as_(teacher_).get(today).status_code
    since = teacher_.posts.get().since
    head.post(f"{today}settings/staff/{post.pk}/", {"role": "head"})

    assert promoted == 200
    assert timezone.now() - since < timedelta(hours=1)
    assert teacher_.posts.get().since == since


def test_a_part_fetched_by_script_sends_the_whole_page_to_the_second_step(as_):
    person, today = in_post_for(Role.HEAD, 100)

    answer = as_(person).get(today, headers={"hx-request": "true"})

    assert (answer.status_code, answer.headers["HX-Redirect"]) == (200, ACCOUNT)


def test_today_says_in_the_last_fortnight_from_when_on_it_is_wanted(as_):
    school = make.school(second_step_days=30)
    told, _ = in_post_for(Role.HEAD, 16.1, school)
    not_yet, _ = in_post_for(Role.HEAD, 15.9, school)
    day = timezone.localtime(told.posts.get().since + timedelta(days=30))

    assert f"From {day.day} {day:%B %Y} these pages wait" in words(as_(told).get(f"/s/{school.slug}/"))
    assert "these pages wait" not in words(as_(not_yet).get(f"/s/{school.slug}/"))


def test_whose_phone_is_lost_is_let_in_again_by_whoever_runs_the_site(as_):
    person = teacher()
    totp.TOTP.activate(person, totp.generate_totp_secret())
    client = as_(person)

    call_command("second_step", off=person.email.upper(), verbosity=0)

    assert not Authenticator.objects.exists()
    assert client.get(ACCOUNT).status_code == 302
    with pytest.raises(CommandError, match="has no second step"):
        call_command("second_step", off=person.email)
    with pytest.raises(CommandError, match="no account with the address"):
        call_command("second_step", off="nobody@example.org")


def test_digits_and_recovery_codes_open_it_once(client):
    person = teacher()
    secret = totp.generate_totp_secret()
    totp.TOTP.activate(person, secret)
    codes = RecoveryCodes.activate(person).get_unused_codes()
    said = [app_shows(secret), app_shows(secret), codes[0], codes[0]]
    opened = []
    for one in said:
        by_password(client, person.email)
        client.post(SECOND_STEP, {"code": one})
        opened.append(signed_in(client))
        client.post("/account/sign-out/")

    assert opened == [True, False, True, False]


def test_a_new_password_by_letter_does_not_go_round_the_second_step(client):
    person = teacher()
    totp.TOTP.activate(person, totp.generate_totp_secret())
    client.post("/account/password/reset/", {"email": person.email})
    form = client.get(part(r"http://testserver(\S+)", mail.outbox[-1].body)).url
    client.post(form, {"password1": "another felt washer", "password2": "another felt washer"})
    right_after = signed_in(client)

    answer = by_password(client, person.email, "another felt washer")

    assert (right_after, answer.url, signed_in(client)) == (False, SECOND_STEP, False)
