"""The catalogues of translations: whole, compiled, and shown right."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from babel.messages import Catalog
from django.conf import settings
from django.utils.translation import get_language_info, gettext, override

from fleet.ground.badges import money
from fleet.ground.due import DueDay
from fleet.ground.languages.known import ENGLISH, KNOWN
from fleet.ground.wording import day, days
from tests.gates import catalogues


def test_every_catalogue_holds_exactly_what_is_marked_and_is_whole_and_compiled():
    assert catalogues.differences() == []


def test_every_language_but_english_has_a_catalogue():
    assert catalogues.languages() == sorted(set(KNOWN) - {ENGLISH})


@pytest.mark.parametrize("code", sorted(set(KNOWN) - {ENGLISH}))
def test_a_language_is_called_what_it_calls_itself(code: str):
    assert KNOWN[code].name == get_language_info(code)["name_local"].capitalize()
    assert (code, KNOWN[code].name) in settings.LANGUAGES


def test_a_mark_is_found_in_a_template_and_in_python():
    said = '{% translate "One" %}{% include "x" with a=_("Two") %}{% blocktranslate trimmed count many=x %}a\n day'
    said += "{% plural %}{{ many }} days{% endblocktranslate %}"

    assert sorted(map(str, catalogues.of_template(said))) == ["('a day', '%(many)s days')", "One", "Two"]
    assert list(catalogues.of_python('_("One"), gettext(of), ngettext("a", "b", n), other("no")')) == [
        "One",
        ("a", "b"),
    ]


@pytest.mark.parametrize(
    ("text", "said", "wrong"),
    [
        ("a %(day)s", "ein %(day)s", []),
        ("a %(day)s", "ein %(tag)s", ["other placeholders: a %(day)s"]),
        ("a {day}", "ein Tag", ["other placeholders: a {day}"]),
        ("a day", "", ["missing: a day"]),
        (("a day", "days"), ("ein Tag", "Tage"), []),
        (("a day", "days"), ("ein Tag", ""), ["missing: a day"]),
        ("a line\n", "eine Zeile", ["another end: a line\n"]),
    ],
)
def test_what_is_wrong_with_a_text_is_named(text: str | tuple[str, str], said: str | tuple[str, str], wrong: list[str]):
    catalogue = Catalog(locale="de")
    catalogue.add(text, said)

    assert catalogues.faults_of(catalogue) == wrong


def test_a_language_with_four_plurals_wants_four():
    catalogue = Catalog(locale="uk")
    catalogue.add(("a day", "days"), ("день", "дні"))

    assert catalogues.faults_of(catalogue) == ["2 forms of the plural: a day"]


def test_days_sums_and_counts_are_written_as_the_language_does():
    due = DueDay(date(2027, 3, 4), date(2027, 3, 5))
    with override(ENGLISH):
        said = day(due.on), days(1), days(2), due.words, money(Decimal("1234.5"), "EUR")
        assert said == ("4 March 2027", "1 day", "2 days", "1 day overdue", "1,234.50 EUR")
    with override("de"):
        said = day(due.on), days(1), days(2), due.words, money(Decimal("1234.5"), "EUR")
        assert said == ("4. März 2027", "1 Tag", "2 Tage", "seit 1 Tag überfällig", "1.234,50 EUR")
    with override("fr"):
        said = day(due.on), days(1), days(2), due.words, money(Decimal("1234.5"), "EUR")
        assert said == ("4 mars 2027", "1 jour", "2 jours", "1 jour de retard", "1\xa0234,50 EUR")


def test_the_official_sentence_of_h304_stands_in_full_where_care_is_told():
    # Regulation (EC) No 1272/2008 (CLP), Annex III, H304, in each language’s version.
    official = {
        ENGLISH: "May be fatal if swallowed and enters airways.",
        "de": "Kann bei Verschlucken und Eindringen in die Atemwege tödlich sein.",
        "fr": "Peut être mortel en cas d’ingestion et de pénétration dans les voies respiratoires.",
        "es": "Puede ser mortal en caso de ingestión y penetración en las vías respiratorias.",
        "pl": "Połknięcie i dostanie się przez drogi oddechowe może grozić śmiercią.",
        # The national SEA regulation, Annex 3, as safety firms copy it (locale/terms.json).
        "tr": "Solunum yoluna nüfuzu ve yutulması halinde öldürücüdür.",
    }
    text = next(one.id for one in catalogues.marked() if "H304" in one.id)
    for code, sentence in official.items():
        with override(code):
            assert sentence in gettext(text)
