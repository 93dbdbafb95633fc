"""To say which other record is the same person's: the likely ones are offered, the others looked for."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.people.forms.twice import MOST
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(as_, school):
    return as_(make.staff(Role.HEAD, school))


def offered(answer):
    return [str(words) for key, words in answer.context["form"].fields["into"].choices if key]


def test_pupils_that_share_a_word_of_the_name_are_offered_and_others_found(client, school):
    twice = make.pupil(school, name="Ömer Öz", group="5a")
    make.pupil(school, name="Omer Öz", group="5b")
    other = make.pupil(school, name="Ida Brandt", group="5b")
    make.pupil(school, name="Ben Oak", group="6")
    make.pupil(make.school(), name="Ömer Öz")
    page = reverse("people:pupil-twice", args=[school.slug, twice.pk])

    assert offered(client.get(page)) == ["Omer Öz, year 5, 5b"]
    found = client.get(f"{page}?q=IDA+5b")
    assert offered(found) == ["Ida Brandt, year 5, 5b"]
    assert 'value="IDA 5b"' in folded(found)
    nobody = client.get(f"{page}?q=nobody")
    assert (offered(nobody), "No other record has these words." in folded(nobody)) == ([], True)
    assert client.post(f"{page}?q=ida", {"into": other.pk}).status_code == 302


def test_somebody_chosen_stays_chosen_when_it_is_refused(client, school):
    twice = make.pupil(school, name="Ömer Öz")
    other = make.pupil(school, name="Ida Brandt")
    horns = make.horn(school), make.horn(school)
    teacher = make.staff(Role.TEACHER, school)
    for horn, pupil in zip(horns, (twice, other), strict=True):
        make.loan(horn, pupil, teacher)
    page = reverse("people:pupil-twice", args=[school.slug, twice.pk])

    for typed in ("", "x", "9" * 40, str(twice.pk)):
        answer = client.post(page, {"into": typed})
        assert (answer.status_code, "into" in answer.context["form"].errors) == (422, True), typed


def test_guardians_of_the_same_pupil_or_reached_alike_are_offered(client, school):
    twice = make.guardian(school, name="Maria Oak", email="", telephone="555", with_account=False)
    ben = make.pupil(school, twice, name="Ben")
    same_pupil = make.guardian(school, name="Ida Elm", email="i@example.org")
    ben.guardians.add(same_pupil)
    make.guardian(school, name="Tom Ash", email="", telephone="555", with_account=False)
    make.guardian(school, name="M. OAK", email="m@example.org")
    make.guardian(school, name="Eva Yew", email="e@example.org")
    make.guardian(make.school(), name="Maria Oak", email="o@example.org")
    page = reverse("people:guardian-twice", args=[school.slug, twice.pk])

    assert offered(client.get(page)) == [
        "Tom Ash (555)",
        "Ida Elm (i@example.org), for Ben",
        "M. OAK (m@example.org)",
    ]
    assert offered(client.get(f"{page}?q=yew")) == ["Eva Yew (e@example.org)"]


@pytest.mark.parametrize(("many", "more"), [(MOST, False), (MOST + 1, True)])
def test_no_more_are_offered_than_can_be_looked_through(client, school, many, more):
    twice = make.pupil(school, name="Kim Oak")
    for at in range(many):
        make.pupil(school, name=f"Kim {at:02}")

    answer = client.get(reverse("people:pupil-twice", args=[school.slug, twice.pk]))

    assert (len(offered(answer)), answer.context["form"].more) == (MOST, more)
