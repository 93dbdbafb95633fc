"""The site below a path of its host, under several names of it, and whom it names to those who found a way in."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from http.client import HTTPConnection
from typing import Any

import pytest
from django.urls import reverse, set_script_prefix

from fleet.ground.access import Role
from fleet.letters.models import Letter
from fleet.letters.queries.composing import composed
from fleet.mail.actions.errands import beside
from fleet.trouble import BROKE, drawn
from tests import make
from tests.browser_client import Browser
from tests.doors import FAMILY_PAGES, SCHOOL_PAGES, World
from tests.test_operating import gunicorn, on_unix
from tests.test_settings import manage

pytestmark = pytest.mark.either_engine

# What leads to a page or a part of it, in whichever attribute.
LEADS = re.compile(r'\s(?:href|src|action|formaction|hx-[a-z]+|data-[a-z-]+)="(/[^"]*)"')


@pytest.fixture
def below(settings):
    settings.FORCE_SCRIPT_NAME = settings.SITE_PATH = "/horns"
    # As the server does it for each request, and Django for each command.
    set_script_prefix("/horns/")
    yield "/horns/"
    set_script_prefix("/")


@pytest.mark.django_db
@pytest.mark.either_engine
def test_every_way_on_begins_with_the_path_on_all_pages(below):
    world = World()
    outside: dict[str, set[str]] = {}
    for person, names in ((world.people[Role.HEAD], SCHOOL_PAGES), (world.guardian.user, FAMILY_PAGES)):
        addresses = {name: world.address(name) for name in names if not name.startswith("reports:")}
        client = Browser()
        client.come_as(person)
        for name, address in addresses.items():
            answer: Any = client.get(address.removeprefix("/horns"))
            if not answer.streaming and answer.headers["Content-Type"].startswith(("text/html", "application/json")):
                ways = {*LEADS.findall(answer.content.decode()), *filter(None, [answer.headers.get("Location")])}
                # Static files stand under an address that is settled when the process begins: below, by a real server.
                outside[name] = {way for way in ways if not way.startswith((below, "/static/"))}
    assert {name: ways for name, ways in outside.items() if ways} == {}
    assert len(outside) > 100


@pytest.mark.django_db
def test_a_letter_leads_below_the_path(below, settings):
    settings.SITE_ORIGIN = "https://example.org"
    letter = Letter.objects.get(pk=World().letter.pk)

    assert letter.loan
    assert (
        f"https://example.org{below}family/" in composed(letter.loan, letter.occasion, datetime.now(tz=UTC).date())[1]
    )


@pytest.mark.django_db
def test_the_letter_with_a_code_leads_below_the_path(below, mailoutbox):
    guardian = make.guardian(make.school())

    Browser().post("/account/code/", {"email": guardian.email})

    [letter] = mailoutbox
    assert letter.body.rstrip().endswith(f"://testserver{below}")


def test_what_is_done_beside_a_page_knows_the_path(below):
    found: list[str] = []

    thread = beside("a look at an address", lambda: found.append(reverse("desk:home")))

    assert thread is not None
    thread.join()
    assert found == [below]


@on_unix
def test_a_server_below_a_path_serves_its_files_and_keeps_its_cookies_there(tmp_path):
    given = {"HORN_SITE": "https://example.org/horns", "HORN_HOSTS": "horns.example.net"}
    assert manage("prepare", data=tmp_path, **given).returncode == 0
    with gunicorn(tmp_path, **given) as (_, port):

        def asked(path: str, host: str = "example.org", method: str = "GET") -> Any:
            one = HTTPConnection("127.0.0.1", port, timeout=60)
            one.request(method, path, headers={"Host": host, "X-Forwarded-Proto": "https"})
            answer = one.getresponse()
            words = answer.read().decode()
            one.close()
            return answer, words

        answer, words = asked("/account/sign-in/")
        cookies = answer.headers.get_all("Set-Cookie") or []
        ways = LEADS.findall(words)
        style = next(way for way in ways if way.endswith(".css"))
        file, _ = asked(style.removeprefix("/horns"))
        first, _ = asked("/")
        unproven, _ = asked("/account/code/", method="POST")
        elsewhere = {host: asked("/account/sign-in/", host)[0].status for host in ("horns.example.net", "example.net")}

    assert answer.status == 200
    assert [way for way in ways if not way.startswith("/horns/")] == []
    assert cookies
    assert [one for one in cookies if not (one.startswith("__Secure-") and "Path=/horns/" in one)] == []
    assert file.status == 200
    assert first.getheader("Location", "").startswith("/horns/account/sign-in/")
    assert unproven.status == 403
    assert elsewhere == {"horns.example.net": 200, "example.net": 400}


def test_a_page_for_trouble_leads_below_the_path(below):
    words = drawn(BROKE)
    assert {way.rpartition("/")[0] for way in LEADS.findall(words)} == {"/horns", "/horns/static/fleet"}


@pytest.mark.django_db
def test_who_found_a_way_in_is_told_whom_to_write_to_for_a_month(client, settings):
    # RFC 9116, sections 2.5.3 and 2.5.5: Contact and Expires must be there, the second once, as RFC 3339 writes it.
    assert client.get("/.well-known/security.txt").status_code == 404
    settings.SECURITY_CONTACT, settings.SITE_ORIGIN = "mailto:it@example.org", "https://horns.example.org"
    answer = client.get("/.well-known/security.txt")

    said = dict(line.split(": ", 1) for line in answer.content.decode().splitlines())
    assert answer.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert said["Contact"] == "mailto:it@example.org"
    assert said["Canonical"] == "https://horns.example.org/.well-known/security.txt"
    assert 28 < (datetime.fromisoformat(said["Expires"]) - datetime.now(tz=UTC)).days + 1 <= 30
