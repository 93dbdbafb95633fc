"""Coming in with an account kept elsewhere, tried against a real issuer on this machine."""

from __future__ import annotations

import json
import re
import threading
import warnings
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
import requests
from allauth.mfa.totp.internal import auth as totp
from django.test import Client
from joserfc.jwk import RSAKey
from werkzeug.serving import make_server

from fleet.environment import Issuer
from fleet.ground.access import Role
from fleet.people.models import User
from fleet.record.models import Act, Deed
from tests import make
from tests.people.entrance import PASSWORD, SECOND_STEP, SIGN_IN, by_password, signed_in

with warnings.catch_warnings():
    # First read, it puts a filter of its own before those of the settings; what it warns of is the issuer's to mend.
    from authlib.deprecate import AuthlibDeprecationWarning

    warnings.simplefilter("ignore", AuthlibDeprecationWarning)
    import oidc_provider_mock as provider
    from oidc_provider_mock import _app

pytestmark = pytest.mark.django_db

GO, BACK = "/account/with/county/go/", "/account/with/county/back/"
EMAIL = "ines@school.example"


@pytest.fixture(scope="module")
def served() -> Iterator[str]:
    server = make_server("localhost", 0, provider.app(), threaded=True)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    yield f"http://localhost:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture
def county(served: str, settings: Any) -> Issuer:
    one = Issuer("county", "County accounts", served, "this site", "a secret", ("school.example",))
    settings.ISSUERS = [one]
    return one


def known_there(issuer: Issuer, **claims: Any) -> str:
    """Somebody whom the issuer knows, by the word it knows them by."""
    told = {"email": EMAIL, "email_verified": True, **claims}
    requests.put(f"{issuer.address}/users/somebody", json=told, timeout=5).raise_for_status()
    return "somebody"


def gone_there(client: Any, person: str, **extra: str) -> str:
    """Where the issuer sends the browser back to once that person has said yes there."""
    asked = client.get(GO, extra)
    assert asked.status_code == 302, asked.content
    answer = requests.post(asked.url, data={"sub": person}, allow_redirects=False, timeout=5)
    back = urlsplit(answer.headers["Location"])
    assert (back.netloc, back.path) == ("testserver", BACK)
    return f"{back.path}?{back.query}"


def by_issuer(client: Any, issuer: Issuer, to: str = "", **claims: Any) -> Any:
    return client.get(gone_there(client, known_there(issuer, **claims), **({"next": to} if to else {})))


def acts(deed: Deed) -> list[Any]:
    return [json.loads(told) for told in Act.objects.filter(deed=deed).order_by("pk").values_list("told", flat=True)]


def said(answer: Any) -> str:
    return " ".join(re.sub("<[^>]+>", " ", answer.content.decode().split("<main")[1]).split())


@pytest.mark.parametrize(
    ("to", "led"), [("", "/"), ("/account/second-factor/", "/account/second-factor/"), ("https://x.example/", "/")]
)
def test_staff_come_in_with_an_account_kept_elsewhere_and_are_where_they_wanted_to_be(client, county, to, led):
    person = make.staff(Role.TEACHER, make.school(), email=EMAIL)

    assert "Sign in with County accounts" in client.get(SIGN_IN).content.decode()
    answer = by_issuer(client, county, to, email=EMAIL.upper(), email_verified="true")

    assert (answer.status_code, answer.url) == (302, led)
    assert client.session["_auth_user_id"] == str(person.pk)
    assert acts(Deed.SIGNED_IN) == [[["person", str(person)], ["how", "County accounts"]]]


def guardian() -> None:
    make.guardian(make.school(), email=EMAIL)


def staff(**fields: Any) -> User:
    return make.staff(Role.HEAD, make.school(), **{"email": EMAIL, **fields})


@pytest.mark.parametrize(
    ("who", "claims", "sentence"),
    [
        (lambda: None, {}, f"County accounts says that your address is {EMAIL}."),
        (guardian, {}, "Nobody who works at a school here has that address"),
        (lambda: staff(is_active=False), {}, "Nobody who works at a school here has that address"),
        (staff, {"email_verified": False}, "proves no e-mail address of yours that counts here"),
        (staff, {"email_verified": "false"}, "proves no e-mail address of yours that counts here"),
        (staff, {"email_verified": None}, "proves no e-mail address of yours that counts here"),
        (
            lambda: staff(email="ines@other.example"),
            {"email": "ines@other.example"},
            "proves no e-mail address of yours that counts here",
        ),
        (lambda: staff(email="ines@a.school.example"), {"email": "ines@a.school.example"}, "proves no e-mail address"),
    ],
)
def test_whom_the_issuer_may_not_vouch_for_does_not_come_in_and_makes_nothing(client, county, who, claims, sentence):
    who()
    before = User.objects.count()

    answer = by_issuer(client, county, **claims)

    assert (answer.status_code, signed_in(client), User.objects.count()) == (403, False, before)
    assert sentence in said(answer)
    assert len(acts(Deed.NOT_LET_IN)) == 1
    assert "ines" not in str(acts(Deed.NOT_LET_IN))


def test_a_second_step_that_is_on_is_asked_for_all_the_same(client, county):
    totp.TOTP.activate(staff(), totp.generate_totp_secret())

    answer = by_issuer(client, county, "/account/second-factor/")

    assert answer.url.startswith(SECOND_STEP)
    assert not signed_in(client)


def test_another_person_in_the_same_browser_takes_nothing_over(client, county):
    other, person = make.staff(Role.HEAD, make.school(), password=PASSWORD), staff()
    by_password(client, other.email)
    client.session["left"] = "lying"

    by_issuer(client, county)

    assert client.session["_auth_user_id"] == str(person.pk)
    assert "left" not in client.session


def test_an_answer_that_another_browser_asked_for_or_that_was_used_opens_nothing(client, county):
    staff()
    back = gone_there(client, known_there(county))

    other = Client()
    assert (other.get(back).status_code, signed_in(other)) == (502, False)
    assert client.get(back).status_code == 302
    client.logout()
    assert (client.get(back).status_code, signed_in(client)) == (502, False)


def test_an_issuer_that_is_away_is_said_to_be_and_where_one_wanted_to_be_is_kept(client, settings):
    settings.ISSUERS = [Issuer("county", "County accounts", "http://127.0.0.1:9", "us", "x", ("school.example",))]

    answer = client.get(GO, {"next": "/account/second-factor/"})

    assert (answer.status_code, signed_in(client)) == (502, False)
    assert "County accounts cannot be reached" in said(answer)
    assert f"{GO}?next=/account/second-factor/" in answer.content.decode()
    assert "Try again" in said(answer)


@pytest.mark.parametrize(
    "claims", [{"iss": "http://localhost"}, {"aud": ["another site"]}, {"exp": 1}, {"nonce": "of another browser"}, {}]
)
def test_a_token_that_is_not_of_this_issuer_for_this_site_and_this_browser_opens_nothing(
    client, county, monkeypatch, claims
):
    staff()
    if not claims:
        forged = RSAKey.generate_key(2048).as_dict(private=True)
        monkeypatch.setattr(_app.OpenIDCode, "resolve_client_private_key", lambda *_: forged)

    assert (by_issuer(client, county, **claims).status_code, signed_in(client)) == (502, False)


def test_who_thinks_better_of_it_is_told_that_nothing_has_changed(client, county):
    answer = client.get(BACK, {"error": "access_denied"})

    assert answer.status_code == 200
    assert "You did not go through with it at County accounts." in said(answer)


@pytest.mark.parametrize(("subject", "status"), [("somebody", 302), ("somebody else", 502)])
def test_an_address_that_only_the_issuers_second_answer_tells_must_be_the_same_persons(
    client, county, monkeypatch, subject, status
):
    staff()
    back = gone_there(client, known_there(county))
    monkeypatch.setattr(_app.OpenIDCode, "generate_user_info", lambda *_: {"sub": "somebody"})
    told = {"sub": subject, "email": EMAIL, "email_verified": True}
    monkeypatch.setattr(_app, "_user_claims_for_scope", lambda *_: told)

    assert client.get(back).status_code == status


def test_asking_an_issuer_again_and_again_is_held_up(client, county, settings):
    settings.ACCOUNT_RATE_LIMITS = {**settings.ACCOUNT_RATE_LIMITS, "by_issuer": "1/5m/ip"}

    assert [client.get(GO).status_code for _ in range(2)] == [302, 429]


@pytest.mark.parametrize("page", ["", "go/", "back/"])
def test_there_is_no_page_of_an_issuer_that_the_site_does_not_name(client, county, page):
    assert client.get(f"/account/with/other/{page}").status_code == 404


class Asking:
    """A school that has its staff come in by the county's accounts, as a head settled it."""

    def __init__(self, county: Issuer) -> None:
        self.school = make.school(sign_in_by=county.address)
        self.page = f"/s/{self.school.slug}/horns/"


@pytest.fixture
def asking(county: Issuer) -> Asking:
    return Asking(county)


def test_a_school_that_asks_for_it_opens_to_its_staff_by_that_account_alone(client, county, asking):
    person = make.staff(Role.TEACHER, asking.school, email=EMAIL, password=PASSWORD)
    elsewhere = make.school()
    make.Post.objects.create(user=person, school=elsewhere, role="teacher")
    by_password(client, EMAIL)
    first = f"/account/with/county/?next={asking.page}"

    assert client.get(asking.page).url == first
    part = client.get(asking.page, headers={"HX-Request": "true", "HX-Current-URL": f"http://testserver{asking.page}"})
    assert part.headers["HX-Redirect"] == first
    assert client.get(f"/s/{elsewhere.slug}/horns/").status_code == 200
    assert f'href="{GO}?next={asking.page}"' in client.get(first).content.decode()
    assert f"Staff come in this way: {asking.school.name}." in said(client.get(first))
    assert asking.school.name not in said(Client().get(first))

    assert by_issuer(client, county, asking.page).url == asking.page
    assert client.get(asking.page).status_code == 200


def test_it_asks_nothing_of_those_whom_the_issuer_does_not_know(as_, asking, settings):
    visiting = as_(make.staff(Role.TECHNICIAN, asking.school, email="bench@repairs.example"))
    own = as_(make.staff(Role.TEACHER, asking.school, email=EMAIL))
    assert [one.get(asking.page).status_code for one in (visiting, own)] == [200, 302]

    settings.ISSUERS = []
    assert own.get(asking.page).status_code == 200


def test_a_round_of_benches_leaves_out_a_school_whose_door_is_not_open_yet(as_, asking):
    person = make.staff(Role.TECHNICIAN, asking.school, email=EMAIL)
    open_school = make.school()
    make.Post.objects.create(user=person, school=open_school, role="technician")
    for school in (asking.school, open_school):
        make.job(make.horn(school), person)

    page = as_(person).get("/benches/").content.decode()

    assert (f"/s/{asking.school.slug}/" in page, f"/s/{open_school.slug}/" in page) == (False, True)


def test_a_head_who_came_in_by_it_may_have_the_staff_come_in_so_and_sees_first_who_would(client, county):
    school = make.school()
    head = make.staff(Role.HEAD, school, email=EMAIL, password=PASSWORD)
    make.staff(Role.TECHNICIAN, school, name="Bo Bench")
    page = f"/s/{school.slug}/settings/sign-in/"
    by_password(client, EMAIL)
    look = said(client.get(page))
    assert f"With it would come in {head.name} As before Bo Bench" in look
    assert "optional" not in look
    assert page in client.get(f"/s/{school.slug}/settings/").content.decode()

    refused = client.post(page, {"sign_in_by": county.address})
    assert (refused.status_code, "First come in with it once yourself" in said(refused)) == (409, True)
    by_issuer(client, county, page)
    for way in (county.address, county.address, ""):
        assert client.post(page, {"sign_in_by": way}).status_code == 302

    assert acts(Deed.SIGN_IN_CHANGED) == [
        [["how staff sign in", "", county.address]],
        [["how staff sign in", county.address, ""]],
    ]
