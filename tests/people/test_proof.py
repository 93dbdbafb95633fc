"""An open session is not the person: what gives rights away or takes data along asks once more who it is."""

from __future__ import annotations

import time
from typing import Any

import pytest
from allauth.mfa.totp.internal import auth as totp
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core import mail
from django.urls import reverse

from fleet.ground.access import DOORS, OWN_ACCOUNT, PROVEN, Role
from fleet.people.models import Post, User
from tests import make
from tests.people.entrance import PASSWORD, by_password, code_in_the_letter, teacher, words

pytestmark = pytest.mark.django_db

AGAIN = "/account/reauthenticate/"
BY_CODE = "/account/reauthenticate/code/"
SET = "/account/password/set/"
ACTIVATE = "/account/second-factor/app/activate/"
NEW = {"password1": "another felt washer", "password2": "another felt washer"}


def grown_old(client: Any, minutes: float = settings.PROOF_MINUTES) -> None:
    """The session as it is so many minutes after the person signed in."""
    session = client.session
    session["signed_in"] = time.time() - minutes * 60
    session.save()


def asked(client: Any, address: str, **sent: Any) -> str:
    """Where a page leads that was opened, or sent, in an old session; "" when it answers itself."""
    answer = client.post(address, sent) if sent else client.get(address)
    return str(answer.url) if answer.status_code == 302 else ""


def test_every_page_that_wants_proof_is_a_page():
    assert set(DOORS) | OWN_ACCOUNT >= PROVEN


def test_a_session_of_half_an_hour_sets_no_password_and_no_second_step_on_an_account_without_one(as_):
    guardian = make.guardian(make.school()).user
    client = as_(guardian)
    grown_old(client)

    assert asked(client, SET) == asked(client, SET, **NEW) == AGAIN
    assert asked(client, ACTIVATE) == AGAIN
    assert client.get(AGAIN).url == BY_CODE
    guardian.refresh_from_db()
    assert not guardian.has_usable_password()


def test_a_new_session_is_proof_enough_and_one_minute_too_old_is_not(as_):
    client = as_(make.guardian(make.school()).user)

    grown_old(client, settings.PROOF_MINUTES - 0.5)
    fresh = asked(client, SET)
    grown_old(client, settings.PROOF_MINUTES + 0.5)

    assert (fresh, asked(client, SET)) == ("", AGAIN)


def test_a_code_to_ones_address_is_proof_and_leads_on_to_what_was_asked_for(as_):
    guardian = make.guardian(make.school())
    client = as_(guardian.user)
    grown_old(client)
    client.get(SET)

    client.post(BY_CODE, {"send": "1"})
    answer = client.post(BY_CODE, {"code": code_in_the_letter()})

    assert mail.outbox[-1].to == [guardian.email]
    assert f'action="{SET}"' in answer.content.decode()
    assert asked(client, SET, **NEW) == "/account/second-factor/"


def test_whoever_knew_the_session_before_the_proof_is_out_and_a_failed_one_changes_nothing(as_):
    client = as_(make.guardian(make.school()).user)
    before = client.session.session_key
    client.post(BY_CODE, {"send": "1"})
    client.post(BY_CODE, {"code": "0000-0000"})
    failed = client.session.session_key
    client.post(BY_CODE, {"code": code_in_the_letter()})

    assert failed == before
    assert client.session.session_key != before
    assert not Session.objects.filter(pk=before).exists()


def test_a_wrong_code_is_no_proof_and_three_of_them_use_it_up(as_):
    client = as_(make.guardian(make.school()).user)
    grown_old(client)
    client.get(SET)
    client.post(BY_CODE, {"send": "1"})
    code = code_in_the_letter()
    wrong = "0000-0000" if code != "0000-0000" else "1111-1111"

    said = [words(client.post(BY_CODE, {"code": wrong})) for _ in range(3)]
    client.post(BY_CODE, {"code": code})

    assert "This is not the code." in said[0]
    assert asked(client, SET) == AGAIN


def test_a_code_that_nobody_asked_for_is_no_proof(as_):
    client = as_(make.guardian(make.school()).user)
    grown_old(client)

    client.post(BY_CODE, {"code": ""})
    client.post(BY_CODE, {"code": "0000-0000"})

    assert asked(client, SET) == AGAIN


def test_a_code_is_too_old_after_a_quarter_of_an_hour(as_, monkeypatch):
    client = as_(make.guardian(make.school()).user)
    client.post(BY_CODE, {"send": "1"})
    later = time.time() + settings.ACCOUNT_LOGIN_BY_CODE_TIMEOUT + 1
    monkeypatch.setattr(time, "time", lambda: later)

    client.post(BY_CODE, {"code": code_in_the_letter()})

    assert asked(client, SET) == AGAIN


def test_letters_with_a_code_to_go_on_are_throttled(as_):
    client = as_(make.guardian(make.school()).user)

    statuses = [client.post(BY_CODE, {"send": "1"}).status_code for _ in range(4)]

    assert statuses == [302, 302, 302, 429]
    assert len(mail.outbox) == 3


def test_where_a_second_step_is_on_a_letter_is_not_proof(as_):
    person = teacher()
    totp.TOTP.activate(person, totp.generate_totp_secret())
    client = as_(person)
    grown_old(client)

    assert client.get(BY_CODE).url == AGAIN
    client.post(BY_CODE, {"send": "1"})
    assert mail.outbox == []
    assert BY_CODE not in client.get(AGAIN).content.decode()


def test_the_password_is_proof(client):
    person = teacher()
    by_password(client, person.email)
    session = client.session
    for record in (records := session["account_authentication_methods"]):
        record["at"] = 0
    session["account_authentication_methods"] = records
    session.save()
    grown_old(client)
    assert asked(client, ACTIVATE) == AGAIN

    wrong = client.post(AGAIN, {"password": "wrong"})
    still = asked(client, ACTIVATE)
    client.post(AGAIN, {"password": PASSWORD})

    assert (wrong.status_code, still) == (200, AGAIN)
    assert client.get(ACTIVATE).status_code == 200


def of_a_school(name: str, post: Post, pupil: Any) -> str:
    row = {"people:staff-edit": [post.pk], "desk:pupil-data": [pupil.pk], "desk:pupil-forget": [pupil.pk]}
    return reverse(name, args=[post.school.slug, *row.get(name, [])])


@pytest.mark.parametrize("name", sorted(name for name in PROVEN & set(DOORS) if name != "desk:family-data"))
def test_an_old_session_gives_no_post_takes_no_data_along_and_forgets_nobody(as_, name):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    address = of_a_school(name, head.posts.get(), make.pupil(school))
    client = as_(head)

    fresh = asked(client, address)
    grown_old(client)

    assert fresh != AGAIN
    assert asked(client, address) == AGAIN


def test_who_may_not_do_it_is_told_so_and_not_asked_who_they_are(as_):
    school = make.school()
    client = as_(make.staff(Role.TECHNICIAN, school))
    grown_old(client)

    assert client.get(f"/s/{school.slug}/settings/staff/new/").status_code == 403


def test_a_form_sent_in_an_old_session_is_kept_and_sent_after_the_proof(as_):
    school = make.school()
    client = as_(make.staff(Role.HEAD, school, password=PASSWORD))
    page = f"/s/{school.slug}/settings/staff/new/"
    grown_old(client)

    asked(client, page, name="Tom “T” Ode", email="tom@example.org", role="teacher")
    not_yet = User.objects.filter(email="tom@example.org").exists()
    kept = client.post(AGAIN, {"password": PASSWORD})
    pairs = dict(kept.context["pairs"])
    client.post(kept.context["to"], pairs)

    assert not not_yet
    assert 'value="Tom “T” Ode"' in kept.content.decode()
    assert (kept.context["sends"], kept.context["to"]) == (True, page)
    assert User.objects.get(email="tom@example.org").name == "Tom “T” Ode"


def test_a_list_is_taken_along_after_the_proof_as_it_was_asked_for(as_):
    school = make.school()
    client = as_(make.staff(Role.TEACHER, school, password=PASSWORD))
    grown_old(client)

    asked(client, f"/s/{school.slug}/exchange/pupils/?as=csv&q=a%26b")
    page = client.post(AGAIN, {"password": PASSWORD})

    assert page.context["to"] == f"/s/{school.slug}/exchange/pupils/"
    assert page.context["pairs"] == [("as", "csv"), ("q", "a&b")]
    assert client.get(page.context["to"], dict(page.context["pairs"])).status_code == 200


def test_a_password_that_was_sent_too_late_stands_in_no_session(as_):
    client = as_(make.guardian(make.school()).user)
    grown_old(client)

    asked(client, SET, **NEW)

    assert NEW["password1"] not in str(dict(client.session))
