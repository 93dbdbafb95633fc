"""In which language the pages of staff are."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.utils.translation import override

from fleet.ground.access import Role
from fleet.ground.languages.known import ENGLISH
from fleet.people.actions.schools import change_settings
from fleet.people.models import Post
from fleet.record.models import Act
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


def today(client, school):
    return client.get(f"/s/{school.slug}/")


def test_staff_read_english_until_a_head_switches_another_on(as_):
    school = make.school(language="de")
    head = make.staff(Role.HEAD, school)

    answer = today(as_(head), school)

    assert '<html lang="en-gb"' in answer.content.decode()
    assert "Deutsch" not in answer.content.decode()
    assert "Content-Language" not in answer.headers


@pytest.mark.parametrize(
    ("of_school", "chosen", "spoken"),
    [("de", "", "de"), (ENGLISH, "", ENGLISH), (ENGLISH, "de", "de"), ("de", ENGLISH, ENGLISH), ("fr", "fr", ENGLISH)],
)
def test_staff_read_what_they_chose_else_what_the_school_speaks(as_, of_school, chosen, spoken):
    school = make.school(language=of_school, staff_languages=["de"])
    teacher = make.staff(Role.TEACHER, school)
    teacher.language = chosen
    teacher.save()

    answer = today(as_(teacher), school)

    assert f'<html lang="{spoken}"' in answer.content.decode()
    assert answer.headers["Content-Language"] == spoken


def test_a_german_form_has_german_words_beside_its_fields_and_german_sums_in_its_help(as_):
    school = make.school(language="de", staff_languages=["de"], approve_above=Decimal("1150.00"))
    technician = make.staff(Role.TECHNICIAN, school)
    job = make.job(make.horn(school), technician)

    client = as_(technician)
    part, outside = (
        folded(client.get(f"/s/{school.slug}/{page}")) for page in ("parts/new/", f"jobs/{job.pk}/outside/")
    )
    assert "Lieferant" in part
    assert "Supplier" not in part
    assert "Über 1.150,00 EUR" in outside


def test_two_of_one_school_in_one_role_read_the_masthead_each_in_their_own_language(as_):
    school = make.school(staff_languages=["de"])
    teachers = [make.staff(Role.TEACHER, school, language=language) for language in (ENGLISH, "de", ENGLISH)]

    mastheads = [today(as_(one), school).content.decode().partition("<main")[0] for one in teachers]

    assert [">Loans</a>" in one for one in mastheads] == [True, False, True]
    assert [">Ausleihen</a>" in one for one in mastheads] == [False, True, False]


def test_staff_choose_at_the_end_of_a_page_and_their_account_speaks_it_too(as_):
    school = make.school(staff_languages=["de"])
    teacher = make.staff(Role.TEACHER, school)
    client = as_(teacher)
    page = f"/s/{school.slug}/horns/"

    assert client.post("/language/", {"language": "de", "next": page}).url == page
    assert '<html lang="de"' in client.get("/account/second-factor/").content.decode()
    assert "Nicht für Sie" in client.get(f"/s/{school.slug}/settings/school/").content.decode()


@pytest.mark.parametrize("page", ["along/", "along/cupboard/", "along/kept.json", "along/scales.json"])
def test_what_a_phone_keeps_is_in_the_language_of_who_takes_it_along(as_, page):
    school = make.school(language="de", staff_languages=["de"])

    answer = as_(make.staff(Role.TEACHER, school)).get(f"/s/{school.slug}/{page}")

    assert (answer.status_code, answer.headers.get("Content-Language")) == (200, "de")


def test_a_language_that_no_school_of_theirs_offers_is_not_kept(as_):
    school = make.school(staff_languages=[])
    teacher = make.staff(Role.TEACHER, school)

    as_(teacher).post("/language/", {"language": "de", "next": f"/s/{school.slug}/"})

    teacher.refresh_from_db()
    assert teacher.language == ""
    assert Post.objects.get(user=teacher).school == school


def test_what_is_written_on_the_record_is_english_whoever_did_it():
    school = make.school(language="de", staff_languages=["de"])
    head = make.staff(Role.HEAD, school)

    with override("de"):
        change_settings(school=school, settings={"loan_days": 90}, by=head, at=make.NOW)

    told = [one for act in Act.objects.filter(school=school) for one in json.loads(act.told or "[]")]
    assert [one[0] for one in told if "90" in one] == ["usual length of a loan in days"]
