"""In which language a guardian is written to, as lists bring it in and take it out."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils.translation import override

from fleet.exchange.actions import imports
from fleet.exchange.actions.lists.horns import HORNS
from fleet.exchange.forms import ColumnsForm
from fleet.exchange.pages.preview import in_words
from fleet.ground.languages.known import KNOWN
from fleet.people.models import Guardian
from fleet.register.models import Horn
from fleet.register.models.kinds import BELLS
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


def test_what_is_wrong_with_a_row_is_kept_in_english_and_told_in_the_language_of_whoever_looks(desk: Desk):
    rows = [["Nr", "Art", "Finish", "Angeschafft"], ["H-1", "double", "wood", "soon"], ["H-1", "single", "", ""]]
    with override("de"):
        imported = desk.looked_over(as_csv(rows))
        in_german = wrongs(imported, "noted") + wrongs(imported)
        label = ColumnsForm(imported=imported).fields["column-0"].choices[1][1]

    assert in_german[0][1:3] == ("Oberfläche", "wood")
    assert in_german[0][3].startswith("Sagen Sie eines davon: lackiert, ")
    assert in_german[1:] == [
        (2, "Angeschafft am", "soon", "Das ist kein Tag, den wir lesen können. Schreiben Sie ihn so: 2026-09-14."),
        (3, "Inventarnummer", "H-1", "Zeile 2 hat diese Nummer auch."),
    ]
    assert label == "Inventarnummer"
    assert wrongs(imported) == [(3, "Register number", "H-1", "Row 2 has this number too.")]
    assert imported.batches.get().rows[2]["wrong"] == [
        ["Register number", "H-1", "Row %(row)s has this number too.", {"row": 2}]
    ]


@pytest.mark.parametrize("name", ["finish", "bell", "wrap"])
@pytest.mark.parametrize("code", [one.code for one in KNOWN.values() if one.for_pages_of_staff])
def test_a_choice_is_known_by_what_a_page_of_staff_calls_it(name: str, code: str):
    (column,) = (one for one in HORNS.columns if one.name == name)
    choices = {"finish": Horn.Finish.choices, "bell": BELLS, "wrap": Horn.Wrap.choices}[name]
    with override(code):
        said = {key: str(label) for key, label in choices if key}

    assert {key: column.clean(label, None) for key, label in said.items()} == {key: key for key in said}


def test_a_sum_of_the_look_before_has_the_readers_decimal_sign():
    with override("de"):
        assert in_words("price", "1234.50") == "1234,50"
    assert (in_words("value", "12.00"), in_words("value", "")) == ("12.00", "")


def test_a_list_in_german_names_languages_in_german(school: Desk):
    school.bring_in(list_of("Deutsch", "Ukrainisch"), kind="pupils")

    assert spoken(school) == {"Ann": "de", "Bo": "uk"}


def test_refused_rows_go_out_with_reasons_in_the_language_of_the_page(desk: Desk, as_):
    desk.school.staff_languages = ["de"]
    desk.school.save()
    type(desk.head).objects.filter(pk=desk.head.pk).update(language="de")
    imported = desk.looked_over(as_csv([["Nr", "Art"], ["H-1", "double"], ["H-1", "single"]]))

    head, *rows = rows_out(
        as_(desk.head).get(f"{reverse('exchange:refused', args=[desk.school.slug, imported.pk])}?as=csv")
    )

    assert head == ["Nr", "Art", "Was nicht stimmt"]
    assert rows == [["H-1", "single", "Zeile 3. Inventarnummer: Zeile 2 hat diese Nummer auch."]]
