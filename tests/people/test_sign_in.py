"""Coming in and going out: by password, by a code in a letter, and not at all."""

from __future__ import annotations

import time
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.totp.internal import auth as totp
from django.conf import settings
from django.core import mail
from django.test import Client
from django.urls import NoReverseMatch, reverse

from fleet.people.models import User
from fleet.urls import account_pages
from tests import make
from tests.people.entrance import (
    ACCOUNT,
    CODE,
    CONFIRM,
    PASSWORD,
    SIGN_IN,
    by_password,
    code_in_the_letter,
    part,
    signed_in,
    teacher,
    words,
)

pytestmark = pytest.mark.django_db


def test_staff_sign_in_with_address_and_password(client):
    person = teacher()

    answer = by_password(client, person.email.upper())

    assert (answer.status_code, answer.url) == (302, "/")
    assert client.session["_auth_user_id"] == str(person.pk)


def test_after_signing_in_one_is_where_one_wanted_to_be(client):
    answer = by_password(client, teacher().email, next="/account/password/change/")

    assert answer.url == "/account/password/change/"


def test_nobody_is_sent_to_another_site_after_signing_in(client):
    answer = by_password(client, teacher().email, next="https://elsewhere.example/")

    assert answer.url == "/"


def test_a_guardian_signs_in_by_a_code_and_needs_no_password(client):
    guardian = make.guardian(make.school())

    asked = client.post(CODE, {"email": guardian.email})
    page = client.get(asked.url).content.decode()
    answer = client.post(CONFIRM, {"code": code_in_the_letter()})

    assert asked.url == CONFIRM
    assert 'inputmode="numeric"' in page
    assert 'autocomplete="one-time-code"' in page
    assert mail.outbox[-1].to == [guardian.email]
    assert "15 minutes" in mail.outbox[-1].body
    assert (answer.status_code, answer.url) == (302, "/")
    assert client.session["_auth_user_id"] == str(guardian.user_id)


def test_a_code_may_be_typed_with_spaces_or_without_its_dash(client):
    person = teacher()
    client.post(CODE, {"email": person.email})

    client.post(CONFIRM, {"code": code_in_the_letter().replace("-", " ")})

    assert signed_in(client)


def test_a_code_opens_no_other_browser(client):
    client.post(CODE, {"email": teacher().email})
    code = code_in_the_letter()

    other = Client()
    other.post(CONFIRM, {"code": code})

    assert not signed_in(other)


def test_a_code_is_used_up_after_three_wrong_tries(client):
    client.post(CODE, {"email": teacher().email})
    code = code_in_the_letter()
    wrong = "0000-0000" if code != "0000-0000" else "1111-1111"

    for _ in range(3):
        client.post(CONFIRM, {"code": wrong})
    client.post(CONFIRM, {"code": code})

    assert not signed_in(client)


def test_a_code_is_too_old_after_a_quarter_of_an_hour(client, monkeypatch):
    client.post(CODE, {"email": teacher().email})
    code = code_in_the_letter()
    later = time.time() + settings.ACCOUNT_LOGIN_BY_CODE_TIMEOUT + 1
    monkeypatch.setattr(time, "time", lambda: later)

    client.post(CONFIRM, {"code": code})

    assert settings.ACCOUNT_LOGIN_BY_CODE_TIMEOUT == 15 * 60
    assert not signed_in(client)


def test_asking_for_a_code_does_not_tell_whether_an_address_is_known():
    known, unknown = Client(), Client()
    to_known: Any = known.post(CODE, {"email": teacher().email})
    to_unknown: Any = unknown.post(CODE, {"email": "stranger@example.org"})

    assert (to_known.status_code, to_known.url) == (to_unknown.status_code, to_unknown.url)
    assert words(known.get(CONFIRM)) == words(unknown.get(CONFIRM))
    assert len(mail.outbox) == 2
    assert "no open account" in mail.outbox[1].body
    wrong = {"code": "1"}
    assert words(known.post(CONFIRM, wrong)) == words(unknown.post(CONFIRM, wrong))


def test_a_wrong_password_does_not_tell_whether_an_address_is_known():
    to_known = by_password(Client(), teacher().email, "wrong")
    to_unknown = by_password(Client(), "stranger@example.org", "wrong")

    assert to_known.status_code == to_unknown.status_code == 200
    assert words(to_known) == words(to_unknown)
    assert "do not go together" in words(to_known)


def test_a_forgotten_password_does_not_tell_whether_an_address_is_known():
    to_known: Any = Client().post("/account/password/reset/", {"email": teacher().email})
    to_unknown: Any = Client().post("/account/password/reset/", {"email": "stranger@example.org"})

    assert (to_known.status_code, to_known.url) == (to_unknown.status_code, to_unknown.url)
    assert ["password/reset/key" in letter.body for letter in mail.outbox] == [True, False]


def test_somebody_who_mistyped_their_address_can_start_again(client):
    client.post(CODE, {"email": "mistyped@example.org"})
    assert client.get(CODE).url == CONFIRM

    answer = client.post("/account/sign-out/", {"next": CODE})

    assert answer.url == CODE
    assert client.get(CODE).status_code == 200


def test_after_five_wrong_passwords_even_the_right_one_has_to_wait(client):
    person = teacher()
    for _ in range(5):
        by_password(client, person.email, "wrong")

    answer = by_password(client, person.email)

    assert not signed_in(client)
    assert "wait five minutes" in words(answer)


def test_too_many_sign_ins_from_one_place_are_refused_in_plain_words(client):
    for n in range(30):
        client.post(SIGN_IN, {"login": f"person{n}"})

    answer = client.post(SIGN_IN, {"login": "person"})

    assert answer.status_code == 429
    assert "Too many tries" in words(answer)


def test_letters_to_one_address_are_throttled(client):
    person = teacher()
    for _ in range(3):
        Client().post(CODE, {"email": person.email})

    Client().post(CODE, {"email": person.email})

    assert len(mail.outbox) == 3


def test_nobody_can_sign_themselves_up(client):
    with pytest.raises(NoReverseMatch):
        reverse("account_signup")
    for address in ("/account/signup/", "/account/sign-up/", "/accounts/signup/"):
        assert client.get(address).status_code == 404


def test_a_closed_account_stays_out_by_password_and_by_code(client):
    person = teacher(is_active=False)

    assert by_password(client, person.email).url == "/account/inactive/"
    client.post(CODE, {"email": person.email})

    assert "no open account" in mail.outbox[-1].body
    assert not signed_in(client)


def test_an_address_given_up_opens_nothing(client):
    person = teacher(email="old@example.org")
    client.post(CODE, {"email": person.email})
    client.post(CONFIRM, {"code": code_in_the_letter()})
    person.email = "new@example.org"
    person.save()

    Client().post(CODE, {"email": "old@example.org"})

    assert "no open account" in mail.outbox[-1].body
    assert not EmailAddress.objects.exists()


def test_signing_out_asks_first_and_then_is_done(client):
    client.force_login(teacher())

    assert client.get("/account/sign-out/").status_code == 200
    assert signed_in(client)
    assert client.post("/account/sign-out/").url == SIGN_IN
    assert not signed_in(client)


def test_a_new_password_is_chosen_through_the_letter_once(client):
    person = teacher()
    client.post("/account/password/reset/", {"email": person.email})
    link = part(r"http://testserver(\S+)", mail.outbox[-1].body)
    form = client.get(link).url
    new = {"password1": "another felt washer", "password2": "another felt washer"}

    answer = client.post(form, new)

    assert answer.url == "/account/password/reset/key/done/"
    person.refresh_from_db()
    assert person.check_password("another felt washer")
    assert "was reset" in mail.outbox[-1].body
    assert "The link is used up" in words(Client().get(link))


def test_somebody_without_a_password_may_choose_one(client):
    guardian = make.guardian(make.school())
    client.force_login(guardian.user)
    new = {"password1": "another felt washer", "password2": "another felt washer"}

    assert client.get("/account/password/change/").url == "/account/password/set/"
    assert client.post("/account/password/set/", new).url == ACCOUNT

    assert User.objects.get(email=guardian.email).check_password("another felt washer")


def test_changing_the_password_ends_the_other_sessions(client):
    person = teacher()
    by_password(client, person.email)
    other = Client()
    by_password(other, person.email)

    client.post(
        "/account/password/change/",
        {"oldpassword": PASSWORD, "password1": "another felt washer", "password2": "another felt washer"},
    )

    assert client.get(ACCOUNT).status_code == 200
    assert other.get(ACCOUNT).status_code == 302
    assert "was changed" in mail.outbox[-1].body


def addresses_of_the_entrance() -> list[str]:
    """Every address under /account/, with a key that does not fit where one is wanted; test_issuers asks its own."""
    found = []
    for entry in account_pages:
        if "by_issuer" in str(getattr(entry, "name", "")):
            continue
        for inner in getattr(entry, "url_patterns", [entry]):
            known = {"uidb36": "1", "key": "x-y", "pk": 1}
            key = {name: known[name] for name in inner.pattern.regex.groupindex}
            found.append(reverse(inner.name, kwargs=key))
    return found


@pytest.mark.parametrize("address", addresses_of_the_entrance())
def test_every_page_of_the_entrance_answers_strangers_families_and_staff(as_, address):
    second = teacher()
    totp.TOTP.activate(second, totp.generate_totp_secret())
    people = (None, make.guardian(make.school()).user, teacher(), second)

    answers = [as_(person).get(address) for person in people]

    assert {answer.status_code for answer in answers} <= {200, 302, 403, 404}
    assert answers[0].status_code in {200, 302}
    for answer in answers:
        if answer.status_code == 200:
            assert answer.content.decode().count("<h1>") == 1


def test_a_form_without_proof_of_its_origin_is_refused_in_plain_words():
    client = Client(enforce_csrf_checks=True)

    answer = by_password(client, teacher().email)

    assert answer.status_code == 403
    assert "Please send it again" in words(answer)
    assert not signed_in(client)
