"""Whoever is inside and does not prove anew who they are, and what becomes of each key: it stands on the record."""

from __future__ import annotations

from io import StringIO

import pytest
from allauth.mfa.totp.internal import auth as totp
from django.core.management import call_command

from fleet.record.models import Act, Deed
from tests import make
from tests.people.entrance import PASSWORD, by_password, teacher
from tests.people.test_passkeys import ADD, PASSKEY_AGAIN, SIGN_IN_BY, with_passkey
from tests.people.test_proof import AGAIN, BY_CODE, grown_old
from tests.people.test_second_step import switch_on
from tests.record.test_entry import entries

pytestmark = pytest.mark.django_db

CHANGE = "/account/password/change/"
NONSENSE = '{"id": 1}'


def failed() -> list[tuple[Deed, object, object, str]]:
    return [(deed, by, whom, how) for _, deed, by, whom, how in entries() if deed in {Deed.NOT_LET_IN, Deed.NOT_PROVEN}]


def test_a_wrong_password_of_somebody_inside_is_said_to_be_theirs(client):
    person = teacher()
    by_password(client, person.email)
    grown_old(client)
    client.post(AGAIN, {"password": "another password"})
    client.post(AGAIN, {"password": PASSWORD})

    assert failed() == [(Deed.NOT_PROVEN, person, person, "password")]
    assert Act.objects.get(deed=Deed.NOT_PROVEN).school == person.posts.get().school


def test_a_wrong_old_password_is_no_proof_either(client):
    person = teacher()
    by_password(client, person.email)
    new = {"password1": "felt and valve oil", "password2": "felt and valve oil"}
    client.post(CHANGE, {"oldpassword": "another password", **new})
    client.post(CHANGE, {"oldpassword": PASSWORD, **new})

    assert failed() == [(Deed.NOT_PROVEN, person, person, "password")]


def test_a_wrong_code_by_letter_stands_there_and_one_that_nobody_asked_for_does_not(as_):
    person = make.guardian(make.school()).user
    client = as_(person)
    client.post(BY_CODE, {"code": "0000-0000"})
    client.post(BY_CODE, {"send": "1"})
    client.post(BY_CODE, {"code": "no code at all"})

    assert failed() == [(Deed.NOT_PROVEN, person, person, "code")]


def test_wrong_digits_of_the_app_stand_there(client):
    person = teacher()
    by_password(client, person.email)
    switch_on(client)
    client.post("/account/second-factor/again/", {"code": "no digits"})

    assert failed() == [(Deed.NOT_PROVEN, person, person, "second step")]


def test_a_passkey_that_opens_nothing_stands_there_inside_half_way_and_before_the_door(as_, client, monkeypatch):
    monkeypatch.setattr("allauth.mfa.webauthn.internal.auth.get_credentials", lambda user: [])
    person, _ = with_passkey()
    client.post(SIGN_IN_BY, {"credential": NONSENSE})
    by_password(client, person.email)
    client.post("/account/second-factor/ask/", {"credential": NONSENSE})
    as_(person).post(PASSKEY_AGAIN, {"credential": NONSENSE})

    assert failed() == [
        (Deed.NOT_LET_IN, None, None, "passkey"),
        (Deed.NOT_LET_IN, None, person, "passkey"),
        (Deed.NOT_PROVEN, person, person, "passkey"),
    ]


def test_a_passkey_that_could_not_be_added_is_no_failed_proof(as_):
    as_(teacher()).post(ADD, {"name": "x", "passwordless": "on", "credential": NONSENSE})

    assert failed() == []


def test_a_passkey_taken_off_and_an_app_switched_off_say_which(as_):
    person, made = with_passkey()
    totp.TOTP.activate(person, totp.generate_totp_secret())
    client = as_(person)
    client.post(f"/account/passkeys/{made.pk}/remove/")
    client.post("/account/second-factor/app/deactivate/")

    assert [(deed, by, how) for _, deed, by, _, how in entries() if deed == Deed.SECOND_STEP_OFF] == [
        (Deed.SECOND_STEP_OFF, person, "passkey, my phone"),
        (Deed.SECOND_STEP_OFF, person, "app"),
    ]


def test_whoever_takes_a_second_step_away_by_the_command_is_not_said_to_be_the_person():
    person, _ = with_passkey()
    call_command("second_step", off=person.email, stdout=StringIO())

    assert [(deed, by, whom) for _, deed, by, whom, _ in entries()] == [
        (Deed.SECOND_STEP_OFF, None, person),
        (Deed.SIGNED_OUT_EVERYWHERE, None, person),
    ]


def test_signing_out_everywhere_by_the_button_is_the_persons_own(as_):
    person = teacher()
    as_(person).post("/account/sign-out/everywhere/")

    assert (Deed.SIGNED_OUT_EVERYWHERE, person, person) in [(deed, by, whom) for _, deed, by, whom, _ in entries()]
