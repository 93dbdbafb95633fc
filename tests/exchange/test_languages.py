"""In which language a guardian is written to, as lists bring it in and take it out."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.exchange.actions import imports
from fleet.exchange.pages.preview import in_words
from fleet.people.models import Guardian
from tests import make
from tests.exchange.conftest import Desk, as_csv, verdicts, wrongs
from tests.exchange.test_pages import rows_out

HEAD = ["Name", "Guardian", "E-Mail", "Familiensprache", "Second guardian", "Parent 2 e-mail", "Parent 2 language"]


def list_of(first: str, second: str = "") -> bytes:
    return as_csv([HEAD, ["Ada", "Ann", "zoe@example.org", first, "Bo", "bo@example.org", second]])


@pytest.fixture
def school(desk: Desk) -> Desk:
    desk.school.family_languages = ["de", "uk"]
    desk.school.save()
    return desk


def spoken(desk: Desk) -> dict[str, str]:
    return dict(Guardian.objects.filter(school=desk.school).values_list("name", "language"))


@pytest.mark.parametrize("german", ["German", "deutsch", "de", "de-AT"])
def test_each_guardian_of_a_list_gets_the_language_it_names(school: Desk, german: str):
    school.bring_in(list_of(german, "Українська"), kind="pupils")

    assert spoken(school) == {"Ann": "de", "Bo": "uk"}


def test_a_language_on_record_stays_and_one_filled_in_is_taken_back(school: Desk):
    ann = make.guardian(school.school, name="Ann", email="zoe@example.org", language="uk")
    bo = make.guardian(school.school, name="Bo", email="bo@example.org")
    make.pupil(school.school, ann, bo, name="Ada")

    imported = school.bring_in(list_of("de", "de"), kind="pupils")

    assert spoken(school) == {"Ann": "uk", "Bo": "de"}
    assert verdicts(school.looked_over(list_of("de", "uk"), kind="pupils")) == ["same"]
    imports.undo(imported=imported, by=school.head, at=make.NOW)
    assert spoken(school) == {"Ann": "uk", "Bo": ""}


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ("Klingon", "Name a language in which the site writes to families: English, German,"),
        ("Polish", "Polish is not switched on at your school; a head does that under Settings."),
    ],
)
def test_a_language_nobody_is_written_to_in_is_left_empty_and_said(school: Desk, said: str, sentence: str):
    imported = school.looked_over(list_of(said), kind="pupils")

    assert verdicts(imported) == ["new"]
    assert sentence in wrongs(imported, "noted")[0][3]


def test_the_look_before_and_the_list_that_goes_out_name_the_language(school: Desk, as_):
    ann = make.guardian(school.school, name="Ann", email="zoe@example.org", language="de")
    make.pupil(school.school, ann, name="Ada")

    out = as_(school.head).get(reverse("exchange:pupils-out", args=[school.school.slug]), {"as": "csv"})

    head, row = rows_out(out)
    assert dict(zip(head, row, strict=True))["Guardian’s language"] == "German"
    assert in_words("adults", [["Ann", "a@b.example", "", "de"]]) == "Ann (a@b.example, German)"
