"""The second step: switched on by staff, asked at sign-in, and not to be gone round."""

from __future__ import annotations

import time
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal import auth as totp
from django.core import mail

from fleet.people.models import User
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
    """The six digits an authenticator app shows now (RFC 6238, computed by the account library)."""
    counter = next(iter(totp.yield_hotp_counters_from_time()))
    return str(totp.format_hotp_value(totp.hotp_value(secret, counter)))


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
