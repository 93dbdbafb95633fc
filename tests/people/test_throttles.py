"""Who guesses is slowed down, and keeps nobody out who has signed in at their browser before."""

from __future__ import annotations

import logging
import re
import time
from http.cookies import SimpleCookie
from typing import Any

import pytest
from django.core import mail
from django.core.cache import cache
from django.core.management import call_command
from django.test import Client, RequestFactory

from fleet import settings as of_the_site
from fleet.people.models import User
from fleet.people.pages.signing_in import warn_of_the_proxy
from fleet.people.queries.known_devices import COOKIE, device_known_to
from tests.people.entrance import CODE, SIGN_IN, by_password, signed_in, teacher

pytestmark = pytest.mark.django_db


def at(address: str, cookies: Any = None) -> Client:
    """A browser at this address of the network, with these cookies of another one."""
    client = Client(REMOTE_ADDR=address)
    if cookies:
        client.cookies[COOKIE] = cookies[COOKIE].value
    return client


def known_to(person: User, address: str = "192.0.2.1") -> Client:
    """A browser in which this person signed in once and has signed out."""
    client = at(address)
    by_password(client, person.email)
    assert signed_in(client)
    client.post("/account/sign-out/")
    return client


def guesses(person: User, times: int, address: str = "192.0.2.99") -> None:
    for _ in range(times):
        by_password(at(address), person.email, "wrong")


def test_a_stranger_who_guesses_keeps_a_head_out_neither_of_a_known_browser_nor_of_another_place():
    person = teacher()
    known = known_to(person)
    guesses(person, 6)

    by_password(known, person.email)
    by_password(elsewhere := at("192.0.2.2"), person.email)
    by_password(beside := at("192.0.2.99"), person.email)

    assert [signed_in(one) for one in (known, elsewhere, beside)] == [True, True, False]


def test_guesses_from_many_places_end_after_thirty_in_an_hour_and_a_known_browser_passes():
    person = teacher()
    known = known_to(person)
    for n in range(29):
        by_password(at(f"198.51.100.{n}"), person.email, "wrong")
    by_password(thirtieth := at("203.0.113.1"), person.email)
    by_password(at("203.0.113.2"), person.email, "wrong")

    by_password(late := at("203.0.113.3"), person.email)
    by_password(known, person.email)

    assert [signed_in(one) for one in (thirtieth, late, known)] == [True, False, True]


def test_a_known_browser_is_slowed_down_by_its_own_guesses():
    person = teacher()
    known = known_to(person)
    for _ in range(5):
        by_password(known, person.email, "wrong")

    by_password(known, person.email)

    assert not signed_in(known)


def test_a_browser_known_to_one_person_is_a_stranger_to_another():
    mine, other = teacher(), teacher()
    known = known_to(mine)
    for n in range(30):
        by_password(at(f"198.51.100.{n}"), other.email, "wrong")

    by_password(known, other.email)

    assert not signed_in(known)


def test_a_cookie_that_somebody_made_up_or_changed_is_worth_nothing():
    person = teacher()
    cookies = known_to(person).cookies
    changed: SimpleCookie = SimpleCookie()
    changed[COOKIE] = cookies[COOKIE].value[:-1] + ("a" if cookies[COOKIE].value[-1] != "a" else "b")
    guesses(person, 5)

    by_password(real := at("192.0.2.99", cookies), person.email)
    by_password(forged := at("192.0.2.99", changed), person.email)

    assert (signed_in(real), signed_in(forged)) == (True, False)


def test_a_machine_of_the_school_is_known_to_everybody_who_signed_in_there():
    first, second = teacher(), teacher()
    shared = known_to(first)
    by_password(shared, second.email)
    shared.post("/account/sign-out/")
    for person in (first, second):
        guesses(person, 5, address="192.0.2.1")

    for person in (first, second):
        by_password(shared, person.email)
        assert signed_in(shared)
        shared.post("/account/sign-out/")


def test_the_cookie_is_for_the_server_only_and_names_nobody(settings):
    person = teacher()
    settings.SESSION_COOKIE_SECURE = True

    cookie = by_password(Client(), person.email).cookies[COOKIE]

    assert (cookie["httponly"], cookie["secure"], cookie["samesite"]) == (True, True, "Lax")
    assert person.email.split("@")[0] not in cookie.value


def test_many_tries_from_one_place_do_not_close_it_for_a_browser_that_is_known_there():
    person = teacher()
    known = known_to(person)
    stranger = at("192.0.2.1")
    for n in range(31):
        stranger.post(SIGN_IN, {"login": f"person{n}"})

    assert stranger.post(SIGN_IN, {"login": "person"}).status_code == 429
    by_password(known, person.email)
    assert signed_in(known)


def test_a_stranger_who_asks_for_letters_keeps_no_known_browser_from_its_code():
    person = teacher()
    known = known_to(person)
    for _ in range(4):
        at("192.0.2.99").post(CODE, {"email": person.email})
    letters = len(mail.outbox)

    known.post(CODE, {"email": person.email})

    assert (letters, len(mail.outbox)) == (3, 4)


def test_a_new_password_by_letter_ends_the_waiting():
    person = teacher()
    guesses(person, 5)
    client = at("192.0.2.99")
    client.post("/account/password/reset/", {"email": person.email})
    found = re.search(r"http://testserver(\S+)", mail.outbox[-1].body)
    assert found
    client.post(client.get(found[1]).url, {"password1": "another felt washer", "password2": "another felt washer"})

    by_password(client, person.email, "another felt washer")

    assert signed_in(client)


@pytest.fixture
def warned(caplog: pytest.LogCaptureFixture) -> Any:
    warn_of_the_proxy.cache_clear()
    with caplog.at_level(logging.WARNING):
        yield caplog
    warn_of_the_proxy.cache_clear()


def test_a_proxy_that_hides_who_comes_is_said_once_with_the_header_it_must_pass(settings, warned):
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    person = teacher()

    for _ in range(2):
        by_password(client := Client(), person.email)

    assert signed_in(client)
    assert [record.getMessage().count("X-Forwarded-For") > 0 for record in warned.records] == [True]


def test_a_proxy_that_passes_the_header_is_not_complained_of_and_counts_by_it(settings, warned):
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    person = teacher()
    for _ in range(5):
        by_password(Client(headers={"x-forwarded-for": "192.0.2.99"}), person.email, "wrong")

    by_password(same := Client(headers={"x-forwarded-for": "192.0.2.99"}), person.email)
    by_password(other := Client(headers={"x-forwarded-for": "192.0.2.2"}), person.email)

    assert (signed_in(same), signed_in(other)) == (False, True)
    assert [record.getMessage() for record in warned.records if "X-Forwarded-For" in record.getMessage()] == []


def test_without_a_proxy_nothing_is_said_of_one(warned):
    by_password(client := Client(), teacher().email)

    assert signed_in(client)
    assert warned.records == []


def test_a_proxy_on_the_same_machine_may_hide_the_address_altogether(settings, warned):
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    client = Client(REMOTE_ADDR="")

    by_password(client, teacher().email)

    assert signed_in(client)


def test_counters_of_an_account_under_attack_are_not_dropped_for_those_of_a_few_hundred_strangers(settings):
    settings.CACHES = of_the_site.CACHES
    call_command("createcachetable", verbosity=0)
    cache.set("0", "an account under attack", 300)
    for n in range(400):
        cache.set(f"stranger{n}", "x", 300)

    assert cache.get("0") == "an account under attack"


def test_a_browser_is_known_for_half_a_year_after_it_was_last_used(monkeypatch):
    person = teacher()
    cookie = by_password(Client(), person.email).cookies[COOKIE]
    assert cookie["max-age"] == 180 * 24 * 3600

    request = RequestFactory().get("/")
    request.COOKIES[COOKIE] = cookie.value
    signed = time.time()
    for days, known in ((179.9, True), (180.1, False)):
        monkeypatch.setattr(time, "time", lambda days=days: signed + days * 24 * 3600)
        assert bool(device_known_to(request, person.email)) is known
