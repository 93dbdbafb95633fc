"""Passkeys from the server's side; tests/browser/test_passkeys.py lets a real browser use one."""

from __future__ import annotations

import json
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.test import Client

from tests.people.entrance import ACCOUNT, by_password, signed_in, teacher, words
from tests.people.test_proof import AGAIN, asked, grown_old

pytestmark = pytest.mark.django_db

ADD = "/account/passkeys/new/"
SIGN_IN_BY = "/account/passkeys/sign-in/"
PASSKEY_AGAIN = "/account/passkeys/again/"

NONSENSE: list[Any] = [
    "",
    "{",
    "null",
    "[]",
    "1",
    '"x"',
    "{}",
    '{"id": 1}',
    '{"id": "x", "rawId": "x", "type": "public-key", "response": {}}',
    '{"id": "x", "rawId": "x", "type": "public-key", "response": []}',
    json.dumps(
        {
            "id": "AAAA",
            "rawId": "AAAA",
            "type": "public-key",
            "response": {
                "clientDataJSON": "e30",
                "authenticatorData": "AAAA",
                "signature": "AAAA",
                "userHandle": "AAAA",
                "attestationObject": "AAAA",
            },
        }
    ),
]


@pytest.mark.parametrize("credential", NONSENSE)
def test_what_no_browser_sends_opens_nothing_and_breaks_nothing(as_, credential):
    stranger, person = Client(), teacher()
    client = as_(person)
    client.get(ADD)
    stranger.get(SIGN_IN_BY, headers={"accept": "application/json"})

    answers = [
        stranger.post(SIGN_IN_BY, {"credential": credential}),
        client.post(ADD, {"name": "x", "passwordless": "on", "credential": credential}),
    ]

    assert [answer.status_code for answer in answers] == [302, 200]
    assert not signed_in(stranger)
    assert not Authenticator.objects.exists()


def with_passkey(**fields: Any) -> Any:
    """Somebody with a passkey whose device is not here."""
    person = teacher(**fields)
    made = Authenticator.objects.create(user=person, type=Authenticator.Type.WEBAUTHN, data={"name": "my phone"})
    return person, made


@pytest.fixture
def unread(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a passkey made up here nothing can be read but its name."""
    monkeypatch.setattr("allauth.mfa.webauthn.internal.auth.get_credentials", lambda user: [])


@pytest.mark.usefixtures("unread")
@pytest.mark.parametrize("credential", NONSENSE)
def test_nonsense_is_no_second_step_and_no_proof(as_, client, credential):
    person, _ = with_passkey()
    by_password(client, person.email)
    inside = as_(person)
    inside.get(PASSKEY_AGAIN)
    grown_old(inside)

    answer = client.post("/account/second-factor/ask/", {"credential": credential})
    inside.post(PASSKEY_AGAIN, {"credential": credential})

    assert answer.status_code == 200
    assert not signed_in(client)
    assert asked(inside, ADD) == AGAIN


@pytest.mark.usefixtures("unread")
def test_a_code_by_letter_does_not_go_round_a_passkey(client):
    person, _ = with_passkey()

    answer = by_password(client, person.email)

    assert answer.url == "/account/second-factor/ask/"
    assert not signed_in(client)


def test_ones_passkeys_stand_on_ones_account_and_one_is_taken_off_by_oneself_only(as_):
    person, made = with_passkey()
    other = as_(teacher())
    remove = f"/account/passkeys/{made.pk}/remove/"

    assert "my phone" in words(as_(person).get(ACCOUNT))
    assert other.get(remove).status_code == other.post(remove).status_code == 404
    assert as_(person).get(remove).status_code == 200
    as_(person).post(remove)
    assert not Authenticator.objects.exists()


def test_a_session_of_half_an_hour_adds_no_passkey_and_removes_none(as_):
    person, made = with_passkey()
    client = as_(person)
    grown_old(client)

    assert asked(client, ADD) == AGAIN
    assert asked(client, f"/account/passkeys/{made.pk}/remove/", sure="1") == AGAIN
    assert Authenticator.objects.exists()
