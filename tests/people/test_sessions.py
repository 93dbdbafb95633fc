"""Sessions on shared machines: when they end, and what a request after that is told."""

from __future__ import annotations

import time
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.core.management import CommandError, call_command
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from fleet.middleware import sessions_end
from fleet.record.models import Act, Deed
from tests import make
from tests.people.entrance import (
    ACCOUNT,
    CODE,
    PASSWORD,
    SIGN_IN,
    by_password,
    signed_in,
    teacher,
)

pytestmark = pytest.mark.django_db


def test_the_cookie_ends_with_the_browser_and_the_server_counts_the_idle_time(client):
    answer = by_password(client, teacher().email)
    cookie = answer.cookies[settings.SESSION_COOKIE_NAME]

    left = Session.objects.get(pk=client.session.session_key).expire_date - timezone.now()

    assert cookie["max-age"] == ""
    assert cookie["httponly"]
    assert timedelta(minutes=settings.IDLE_MINUTES - 1) < left <= timedelta(minutes=settings.IDLE_MINUTES)


def test_the_cookie_of_a_session_begun_by_a_stranger_ends_with_the_browser_too(client):
    cookie = client.post(CODE, {"email": teacher().email}).cookies[settings.SESSION_COOKIE_NAME]

    assert (cookie["max-age"], cookie["expires"]) == ("", "")


def test_an_idle_session_is_over(client):
    by_password(client, teacher().email)
    Session.objects.update(expire_date=timezone.now() - timedelta(seconds=1))

    answer = client.get(ACCOUNT)

    assert answer.url == "/account/sign-in/?next=/account/second-factor/"


def test_using_a_session_moves_its_end_on_without_giving_the_cookie_a_life_of_its_own(client):
    by_password(client, teacher().email)
    client.get(ACCOUNT)
    session = client.session
    session["last_used"] = 0
    session.save()
    Session.objects.update(expire_date=timezone.now() + timedelta(minutes=1))

    answer = client.get(ACCOUNT)

    left = Session.objects.get().expire_date - timezone.now()
    assert left > timedelta(minutes=settings.IDLE_MINUTES - 1)
    assert settings.SESSION_COOKIE_NAME not in answer.cookies


def test_reading_costs_a_write_once_a_minute_only(client):
    by_password(client, teacher().email)
    client.get(ACCOUNT)
    written = Session.objects.get().expire_date

    answer = client.get(ACCOUNT)

    assert Session.objects.get().expire_date == written
    assert settings.SESSION_COOKIE_NAME not in answer.cookies


@pytest.mark.parametrize(("status", "stamped"), [(499, True), (500, False)])
def test_an_answer_that_is_an_error_of_the_site_does_not_move_the_end_of_a_session(as_, rf, status, stamped):
    session = as_(teacher()).session
    session["last_used"] = 0
    session.save()
    request = rf.get("/")
    request.session = SessionStore(session.session_key)

    sessions_end(lambda one: HttpResponse(status=status if one.session["_auth_user_id"] else 0))(request)

    assert (request.session["last_used"] > 0) is stamped


def test_a_part_fetched_by_script_sends_the_whole_page_to_sign_in(client):
    school = make.school()

    answer = client.get(
        f"/s/{school.slug}/",
        headers={"hx-request": "true", "hx-current-url": f"http://testserver/s/{school.slug}/?q=a"},
    )

    assert answer.status_code == 200
    assert answer.headers["HX-Redirect"] == f"/account/sign-in/?next=/s/{school.slug}/%3Fq%3Da"


def begun(client: Any, hours: float) -> Any:
    """The client with a session that began so many hours ago and was used a moment ago."""
    session = client.session
    session.update({"signed_in": time.time() - hours * 3600, "last_used": int(time.time())})
    session.save()
    return client


def test_a_session_ends_after_a_long_day_however_busy_it_is(as_):
    client = begun(as_(teacher()), settings.SESSION_HOURS - 0.01)
    still = client.get(ACCOUNT).status_code

    over = begun(client, settings.SESSION_HOURS + 0.01).get(ACCOUNT)

    assert still == 200
    assert over.url == f"{SIGN_IN}?next={ACCOUNT}"
    assert not signed_in(client)
    assert not Session.objects.exists()


def test_a_session_that_does_not_say_when_it_began_is_over(as_):
    client = as_(teacher())
    session = client.session
    del session["signed_in"]
    session.save()

    assert client.get(ACCOUNT).status_code == 302


def test_proving_who_it_is_does_not_move_the_end_of_a_session_on(as_):
    client = begun(as_(teacher()), settings.SESSION_HOURS - 0.01)
    client.post("/account/reauthenticate/", {"password": PASSWORD})

    began = client.session["signed_in"]

    assert time.time() - began > (settings.SESSION_HOURS - 0.1) * 3600


def test_signing_out_everywhere_ends_every_session_of_this_person_and_of_nobody_else(as_):
    person, colleague = teacher(), teacher()
    here, there, another = as_(person), as_(person), as_(colleague)

    answer = here.post("/account/sign-out/everywhere/")

    assert answer.url == SIGN_IN
    assert "everywhere else" in here.get(SIGN_IN).content.decode()
    assert [client.get(ACCOUNT).status_code for client in (here, there, another)] == [302, 302, 200]
    ended = Act.objects.filter(deed=Deed.SIGNED_OUT_EVERYWHERE)
    assert [one.school for one in ended] == [person.posts.get().school]


def test_one_signs_in_anew_after_signing_out_everywhere_and_can_do_it_again(as_):
    person = teacher()
    as_(person).post("/account/sign-out/everywhere/")
    client = Client()

    by_password(client, person.email)
    stays = client.get(ACCOUNT).status_code
    person.refresh_from_db()
    as_(person).post("/account/sign-out/everywhere/")

    assert (stays, client.get(ACCOUNT).status_code) == (200, 302)


def test_the_button_stands_on_ones_account_and_its_address_does_nothing_when_opened(as_):
    client = as_(teacher())

    assert client.get("/account/sign-out/everywhere/").url == ACCOUNT
    assert 'action="/account/sign-out/everywhere/"' in client.get(ACCOUNT).content.decode()


def key_of(client: Any) -> str:
    return str(client.cookies[settings.SESSION_COOKIE_NAME].value)


def test_a_session_goes_on_under_another_key_after_signing_in_and_after_every_proof(client):
    client.get("/account/code/")
    client.post("/account/sign-in/", {"login": "nobody@example.org", "password": "x"})
    person = teacher()
    by_password(client, person.email)
    first = key_of(client)

    wrong = client.post("/account/reauthenticate/", {"password": "wrong as can be"})
    kept = key_of(client)
    client.post("/account/reauthenticate/", {"password": PASSWORD})

    assert (wrong.status_code, kept) == (200, first)
    assert key_of(client) != first
    assert signed_in(client)
    assert not Session.objects.filter(pk=first).exists()
    assert len(first) == 32


def test_an_ordinary_form_keeps_the_key(client):
    by_password(client, teacher().email)
    first = key_of(client)

    client.post("/account/password/change/", {"oldpassword": "wrong as can be"})

    assert key_of(client) == first


def test_a_key_of_a_session_that_was_ended_opens_nothing(client):
    by_password(client, teacher().email)
    old = key_of(client)
    client.post("/account/sign-out/")

    client.cookies[settings.SESSION_COOKIE_NAME] = old

    assert client.get(ACCOUNT).status_code == 302


def test_an_account_that_is_closed_is_out_in_every_open_session(as_):
    person = teacher()
    client = as_(person)
    before = client.get(ACCOUNT).status_code

    person.is_active = False
    person.save()

    assert (before, client.get(ACCOUNT).status_code) == (200, 302)


def test_whoever_runs_the_site_signs_one_person_out_or_everybody(as_):
    one, other = teacher(), teacher()
    clients = [as_(one), as_(other)]

    call_command("sign_out", of=one.email.upper(), verbosity=0)
    after_one = [client.get(ACCOUNT).status_code for client in clients]
    call_command("sign_out", everybody=True, verbosity=0)

    assert after_one == [302, 200]
    assert [client.get(ACCOUNT).status_code for client in clients] == [302, 302]
    with pytest.raises(CommandError, match="no account with the address"):
        call_command("sign_out", of="nobody@example.org")


def test_both_ends_of_a_session_are_those_that_the_guide_names():
    from fleet import settings as ours

    assert (ours.SESSION_COOKIE_AGE, ours.SESSION_HOURS, ours.PROOF_MINUTES) == (30 * 60, 12, 10)
