"""The catalogues of translations: whole, compiled, and shown right."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
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


def said_when_read(source: str) -> Iterator[int]:
    """Lines that speak while their module is read: in whichever language whoever reads it first speaks, for good. So
    does `str` of what is marked for later."""
    tree = ast.parse(source)
    spoken = {"str"} | {
        one.asname or one.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for one in node.names
        if one.name in {"gettext", "ngettext"} or (node.module or "").endswith("horns.speech")
    }

    def within(node: ast.AST) -> Iterator[int]:
        if isinstance(node, ast.Lambda):
            return
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in spoken:
            yield node.lineno
        is_function = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        for one in [*node.decorator_list, node.args] if is_function else ast.iter_child_nodes(node):
            yield from within(one)

    return within(tree)


def test_no_sentence_is_said_when_its_module_is_read():
    early = "from django.utils.translation import gettext as _s\n"
    assert list(
        said_when_read(early + 'A = {"a": _s("b")}\ndef of(a=_s("b")): return _s("c")\nB = lambda: _s("d")')
    ) == [2, 3]
    assert list(said_when_read("A = {str(one.label) for one in OF}\ndef of(): return str(A)")) == [1]

    files = [one for name in ("fleet", "identify") for one in (catalogues.HERE / name).rglob("*.py")]
    assert len(files) > 500
    assert [f"{one}:{line}" for one in files for line in said_when_read(one.read_text(encoding="utf-8"))] == []


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


@pytest.mark.parametrize(
    ("said", "wrong"),
    [
        ("الرقم \u2068%(number)s\u2069", []),
        ("الرقم <bdi>%(number)s</bdi>", []),
        ("الرقم %(number)s", ["not kept apart: number %(number)s"]),
    ],
)
def test_what_is_filled_in_is_kept_apart_from_words_that_run_the_other_way(said: str, wrong: list[str]):
    catalogue = Catalog(locale="ar")
    catalogue.add("number %(number)s", said)

    assert catalogues.faults_of(catalogue) == wrong


def test_a_language_with_four_plurals_wants_four():
    catalogue = Catalog(locale="uk")
    catalogue.add(("a day", "days"), ("день", "дні"))

    assert catalogues.faults_of(catalogue) == ["2 forms of the plural: a day"]


# Months and words for days as in locale/terms.json and the notes of translators; digits 0 to 9 in all.
@pytest.mark.parametrize(
    ("code", "on", "counted", "overdue", "sum_of_money"),
    [
        (ENGLISH, "4 March 2027", ["1 day", "2 days", "5 days", "11 days"], "1 day overdue", "1,234.50 EUR"),
        ("de", "4. März 2027", ["1 Tag", "2 Tage", "5 Tage", "11 Tage"], "seit 1 Tag überfällig", "1.234,50 EUR"),
        ("fr", "4 mars 2027", ["1 jour", "2 jours", "5 jours", "11 jours"], "1 jour de retard", "1\xa0234,50 EUR"),
        ("es", "4 de marzo de 2027", ["1 día", "2 días", "5 días", "11 días"], "1 día de retraso", "1\xa0234,50 EUR"),
        ("pl", "4 marca 2027", ["1 dzień", "2 dni", "5 dni", "11 dni"], "1 dzień po terminie", "1\xa0234,50 EUR"),
        ("tr", "4 Mart 2027", ["1 gün", "2 gün", "5 gün", "11 gün"], "1 gün gecikti", "1.234,50 EUR"),
        (
            "uk",
            "4 березня 2027 року",
            ["1 день", "2 дні", "5 днів", "11 днів"],
            "прострочено на 1 день",
            "1\xa0234,50 EUR",
        ),
        ("ar", "4 مارس 2027", ["يوم واحد", "يومان", "5 أيام", "11 يومًا"], "متأخر يومًا واحدًا", "1,234.50 EUR"),
    ],
)
def test_days_sums_and_counts_are_written_as_the_language_does(code, on, counted, overdue, sum_of_money):
    due = DueDay(date(2027, 3, 4), date(2027, 3, 5))
    with override(code):
        assert day(due.on) == on
        assert [days(count) for count in (1, 2, 5, 11)] == counted
        assert (due.words, money(Decimal("1234.5"), "EUR")) == (overdue, sum_of_money)


@pytest.mark.parametrize(
    ("said", "wrong"),
    [
        (("لا يوم", "يوم واحد", "يومان", "%(count)d أيام", "%(count)d يومًا", "%(count)d يوم"), []),
        (("لا يوم", "يوم واحد", "يومان", "أيام", "%(count)d يومًا", "%(count)d يوم"), ["other placeholders"]),
    ],
)
def test_a_form_of_its_own_for_none_one_and_two_may_do_without_the_figure(said: tuple[str, ...], wrong: list[str]):
    catalogue = Catalog(locale="ar")
    catalogue.add(("%(count)d day", "%(count)d days"), said)

    assert [one.split(":")[0] for one in catalogues.faults_of(catalogue)] == wrong


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
    # No official text was found for certain: words of our own, and said to be.
    ours = {"uk": "Це наші слова", "ar": "هذه كلماتنا"}
    text = next(one.id for one in catalogues.marked() if "H304" in one.id)
    for code, sentence in (official | ours).items():
        with override(code):
            assert sentence in gettext(text)
    assert set(official) | set(ours) == set(KNOWN)


def test_every_language_of_staffs_pages_has_a_catalogue():
    wanted = sorted(code for code, one in KNOWN.items() if one.for_pages_of_staff and code != ENGLISH)

    assert catalogues.languages(catalogues.FOR_STAFF) == wanted


def test_a_word_that_was_decided_against_stands_in_no_catalogue():
    terms = json.loads((catalogues.LOCALE / "terms.json").read_text(encoding="utf-8"))
    against = [(code, word) for term in terms for code in KNOWN for word in term.get(code, {}).get("not", ())]
    assert ("de", "Schüler") in against

    said = [
        (code, str(message.string))
        for folder in (catalogues.LOCALE, catalogues.FOR_STAFF)
        for code in {code for code, _ in against} & set(catalogues.languages(folder))
        for message in catalogues.read(code, folder)
    ]
    assert [one for code, one in said for of, word in against if of == code and re.search(rf"\b{word}", one)] == []
