"""Sessions on shared machines: when they end, and what a request after that is told."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.utils import timezone

from tests import make
from tests.people.entrance import (
    ACCOUNT,
    by_password,
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
    assert answer.cookies[settings.SESSION_COOKIE_NAME]["max-age"] == ""


def test_reading_costs_a_write_once_a_minute_only(client):
    by_password(client, teacher().email)
    client.get(ACCOUNT)
    written = Session.objects.get().expire_date

    answer = client.get(ACCOUNT)

    assert Session.objects.get().expire_date == written
    assert settings.SESSION_COOKIE_NAME not in answer.cookies


def test_a_part_fetched_by_script_sends_the_whole_page_to_sign_in(client):
    school = make.school()

    answer = client.get(
        f"/s/{school.slug}/",
        headers={"hx-request": "true", "hx-current-url": f"http://testserver/s/{school.slug}/?q=a"},
    )

    assert answer.status_code == 200
    assert answer.headers["HX-Redirect"] == f"/account/sign-in/?next=/s/{school.slug}/%3Fq%3Da"
