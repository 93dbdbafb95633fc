"""Which passwords are taken, and how the pages say that one is not."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core import mail
from django.core.exceptions import ValidationError
from django.test import Client

from fleet.ground.access import Role
from fleet.people.forms.passwords import COMMON, FEWEST_PIECES, OF_THIS_SITE, OWN, SHORT, HardToGuess, pieces
from tests import make
from tests.people.entrance import PASSWORD, by_password, part, signed_in, teacher, words

pytestmark = pytest.mark.django_db

SET = "/account/password/set/"


def refused(password: str, user: Any = None) -> list[str]:
    """The sentences said about this password; none when it is taken."""
    try:
        HardToGuess().validate(password, user)
    except ValidationError as no:
        return list(no.messages)
    return []


@pytest.mark.parametrize(
    ("password", "said"), [("iknowwhatiwant", [COMMON]), ("IKnowWhatIWant", [COMMON]), ("iknowwhatiwanx", [])]
)
def test_what_was_stolen_is_refused_however_many_words_it_has(password, said):
    assert pieces(password, OF_THIS_SITE) >= FEWEST_PIECES
    assert refused(password) == said


@pytest.mark.parametrize(
    "password",
    [
        "passwordpassword",
        "P@ssw0rdP@ssw0rd",
        "drowssapdrowssap",
        "123456789012",
        "210987654321",
        "aaaaaaaaaaaa",
        "abcabcabcabc",
        "abcdefghijklm",
        "qwertyuiopas",
        "QWERTZUIOPqwertzuiop",
        "1q2w3e4r5t6y",
        "112211221122",
        "iloveyou1234567",
        "manchesterunited",
        "charlotte12345",
        "Winter2026!Winter",
        "14.03.1987maria",
        "password2026!!",
        "horncupboard1",
        "Horn Cupboard!",
        "a" * 100_000,
    ],
)
def test_what_many_people_use_is_refused_in_one_sentence(password):
    assert refused(password) == [COMMON]


@pytest.mark.parametrize(
    "password",
    [
        "five staff lines",
        PASSWORD,
        "felt cork rosin lime",
        "correct horse battery staple",
        "Xk8#mQ2$vL9z",
        "трудный пароль",
    ],
)
def test_words_that_have_nothing_to_do_with_each_other_are_taken(password):
    assert refused(password) == []


def test_twelve_characters_are_enough_and_eleven_are_not():
    assert refused("vz kq wm pj") == [SHORT]
    assert refused("vz kq wm pjx") == []


def test_four_pieces_are_enough_and_three_are_not():
    assert (pieces("monkeyletmeinxz"), refused("monkeyletmeinxz")) == (4, [])
    assert (pieces("monkeyletmeinx"), refused("monkeyletmeinx")) == (3, [COMMON])


@pytest.mark.parametrize(
    "password",
    [
        "okafor!!okafor",
        "MariaOkafor19",
        "maria.okafor@example.org",
        "hillroadschool7",
        "Hill-Road-2026",
        "okafor@hillroad",
    ],
)
def test_ones_own_name_address_and_school_are_refused(password):
    school = make.school(name="Hill Road School", slug="hill-road")
    person = make.staff(Role.TEACHER, school, name="Maria Okafor", email="maria.okafor@example.org")

    assert refused(password, person) == [OWN]


def test_a_guardian_s_school_counts_as_theirs_and_another_school_does_not():
    guardian = make.guardian(make.school(name="Larkspur Vale", slug="larkspur"), name="Ada", email="ada@example.org")
    make.school(name="Quincewood", slug="quincewood")

    assert refused("larkspurvale", guardian.user) == [OWN]
    assert refused("quincewoodie", guardian.user) == []


def test_a_refused_password_is_said_once_beside_its_field_and_the_page_goes_on(client):
    person = teacher(password=None)
    client.force_login(person)

    answer = client.post(SET, {"password1": "passwordpassword", "password2": "passwordpassword"})

    assert words(answer).count(str(COMMON)) == 1
    assert answer.context["form"].errors == {"password1": [COMMON]}
    assert not person.__class__.objects.get().has_usable_password()
    assert client.post(SET, {"password1": PASSWORD, "password2": PASSWORD}).status_code == 302


def test_a_password_in_use_stays_when_the_new_one_is_refused(client):
    person = teacher()
    by_password(client, person.email)
    new = {"password1": "123456789012", "password2": "123456789012"}

    answer = client.post("/account/password/change/", {"oldpassword": PASSWORD, **new})

    assert answer.context["form"].errors == {"password1": [COMMON]}
    person.refresh_from_db()
    assert person.check_password(PASSWORD)
    assert signed_in(client)


def test_the_letter_s_link_is_not_used_up_by_a_password_that_is_refused(client):
    person = teacher()
    client.post("/account/password/reset/", {"email": person.email})
    form = client.get(part(r"http://testserver(\S+)", mail.outbox[-1].body)).url

    answer = client.post(form, {"password1": "qwertyuiopas", "password2": "qwertyuiopas"})

    assert answer.context["form"].errors == {"password1": [COMMON]}
    assert client.post(form, {"password1": PASSWORD, "password2": PASSWORD}).url.endswith("/done/")


def test_a_password_is_taken_as_it_was_typed_however_long(client):
    person = teacher()
    by_password(client, person.email)
    long = "  " + "Ölkännchen und Filz, " * 5 + " "
    client.post("/account/password/change/", {"oldpassword": PASSWORD, "password1": long, "password2": long})
    opened = []
    for typed in (long, long.strip(), long.lower(), long[:72]):
        visitor = Client()
        by_password(visitor, person.email, typed)
        opened.append(signed_in(visitor))

    assert len(long) > 64
    assert opened == [True, False, False, False]


def test_the_fields_for_passwords_hide_what_is_typed_and_let_a_manager_help(client):
    by_password(client, teacher().email)
    for address, names in (
        ("/account/password/change/", ["oldpassword", "password1", "password2"]),
        ("/account/reauthenticate/", ["password"]),
    ):
        page = client.get(address).content.decode()
        for name in names:
            field = re.search(rf'<input[^>]*name="{name}"[^>]*>', page)
            assert field
            assert 'type="password"' in field[0]
            assert re.search(r'autocomplete="(current|new)-password"', field[0])
            assert "onpaste" not in field[0]
            assert "maxlength" not in field[0]


def test_a_new_password_asks_for_the_one_in_use(client):
    person = teacher()
    by_password(client, person.email)
    new = {"password1": "another felt washer", "password2": "another felt washer"}

    client.post("/account/password/change/", {"oldpassword": "wrong as can be", **new})
    client.post("/account/password/change/", new)

    person.refresh_from_db()
    assert person.check_password(PASSWORD)


def test_four_pieces_beside_ones_own_name_are_enough_and_three_are_not():
    person = make.staff(Role.TEACHER, make.school(name="Larkspur Vale"), name="Zbigniew Quandt")
    own = {"zbigniew", "quandt"}

    assert [pieces(f"zbigniewquandt{rest}", own) for rest in ("§x%", "§x%¤")] == [3, 4]
    assert refused("zbigniewquandt§x%", person) == [OWN]
    assert refused("zbigniewquandt§x%¤", person) == []
