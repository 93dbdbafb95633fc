"""Coming in, not being let in, and what becomes of the keys: all of it stands on the record of the person's schools."""

from __future__ import annotations

from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command

from fleet.record.models import Act, Deed
from tests.people.entrance import CODE, CONFIRM, PASSWORD, SECOND_STEP, by_password, code_in_the_letter, teacher
from tests.people.test_second_step import app_shows, switch_on

pytestmark = pytest.mark.django_db


def entries() -> list[tuple[Any, ...]]:
    """(school's key, deed, who did it, about whom, how) of each act, in their order."""
    return [
        (
            act.school_id,
            Deed(act.deed),
            act.by,
            act.account,
            " ".join(line[1] for line in act.lines if line[0] == "how"),
        )
        for act in Act.objects.order_by("pk")
    ]


def test_who_comes_in_by_password_and_goes_again(client):
    person = teacher()
    school = person.posts.get().school_id
    by_password(client, person.email)
    client.post("/account/sign-out/")

    assert entries() == [
        (school, Deed.SIGNED_IN, person, person, "password"),
        (school, Deed.SIGNED_OUT, person, person, ""),
    ]
    assert Act.objects.earliest("pk").page == "account_login"


def test_who_gives_a_wrong_password_is_not_said_to_have_done_it(client):
    person = teacher()
    by_password(client, person.email, "another password")

    assert entries() == [(person.posts.get().school_id, Deed.NOT_LET_IN, None, person, "password")]


def test_an_address_without_an_account_stands_on_the_sites_record_and_is_not_kept(client):
    by_password(client, "stranger@example.org", "whatever it was")

    assert entries() == [(None, Deed.NOT_LET_IN, None, None, "an address without an account")]
    assert "stranger" not in Act.objects.get().told


def test_a_wrong_code_and_then_the_right_one(client):
    person = teacher()
    school = person.posts.get().school_id
    client.post(CODE, {"email": person.email})
    client.post(CONFIRM, {"code": "0000-0000"})
    client.post(CONFIRM, {"code": code_in_the_letter()})

    assert entries() == [
        (school, Deed.NOT_LET_IN, None, person, "code"),
        (school, Deed.SIGNED_IN, person, person, "code"),
    ]


# The account library tells of it once it is committed.
@pytest.mark.django_db(transaction=True)
def test_the_second_step_switched_on_failed_passed_and_taken_away(client):
    person = teacher()
    by_password(client, person.email)
    secret = switch_on(client)
    client.post("/account/sign-out/")
    by_password(client, person.email)
    client.post(SECOND_STEP, {"code": "000000"})
    client.post(SECOND_STEP, {"code": app_shows(secret)})

    deeds = [(deed, how) for _, deed, _, _, how in entries()]
    assert (Deed.SECOND_STEP_ON, "app") in deeds
    assert (Deed.RECOVERY_CODES_MADE, "") in deeds
    assert (Deed.NOT_LET_IN, "second step") in deeds
    call_command("second_step", off=person.email, stdout=StringIO())
    act = Act.objects.filter(deed=Deed.SECOND_STEP_OFF).get()
    assert (act.by, act.account) == (None, person)


def test_a_password_that_is_changed(client):
    person = teacher()
    by_password(client, person.email)
    new = "felt and valve oil"
    client.post("/account/password/change/", {"oldpassword": PASSWORD, "password1": new, "password2": new})

    assert [(deed, how) for _, deed, _, _, how in entries()][1:] == [(Deed.PASSWORD_CHANGED, "changed")]
    assert not Act.objects.filter(told__contains="felt").exists()
