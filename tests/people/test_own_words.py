"""A school's own wording of a sentence: who reads it, what cannot stand in it, and the way back to ours."""

from __future__ import annotations

import json
from io import BytesIO
from typing import Any

import pytest
from django.urls import reverse
from django.utils.translation import gettext, ngettext, override, trans_real
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.ground.languages.own import Worded, in_words, set_apart, speak_own_words, texts, wrong_with
from fleet.people.actions.own_words import word
from fleet.people.forms.own_words import OwnWordsForm
from fleet.people.models import Guardian, OwnWords
from fleet.people.queries.own_words import Sentence, key_of, speaking, words_of
from fleet.record.models import Act, Deed
from tests import make
from tests.pages import folded


@pytest.fixture
def two(db: Any):
    """A family with a child at each of two schools, which both speak German, and what each has lent."""
    schools = [make.school(name=name, family_languages=["de"]) for name in ("Alder Row", "Birch Lane")]
    guardian = make.guardian(schools[0], language="de")
    other = make.guardian(schools[1], language="de", with_account=False)
    Guardian.objects.filter(pk=other.pk).update(user=guardian.user)
    heads = [make.staff(Role.HEAD, school) for school in schools]
    loans = [
        make.loan(make.horn(school, build="double-full", stands_in="F"), make.pupil(school, one), head)
        for school, one, head in zip(schools, (guardian, other), heads, strict=True)
    ]
    return schools, heads, loans, guardian


def give(school: Any, head: Any, text: str, *forms: str, language: str = "de") -> None:
    word(school=school, language=language, text=text, forms=forms, by=head, at=make.NOW)
    school.refresh_from_db()


@pytest.mark.parametrize(
    ("ours", "said", "wrong"),
    [
        ("Das Horn ist da.", "Das Instrument ist da.", ""),
        ("%(horn)s ist da.", "Da ist %(horn)s.", ""),
        ("%(horn)s ist da.", "Es ist da.", "%(horn)s must stand in it: the site fills it in."),
        ("Es ist da.", "%(horn)s ist da.", "%(horn)s stands for nothing here."),
        ("Es ist da.", "100 % da.", "The sign % cannot stand in it."),
        ("<b>Es</b> ist da.", "<b>Das Horn</b> ist da.", ""),
        ("<b>Es</b> ist da.", "Es ist da.", "It must hold just these, in this order: <b> </b>."),
        ("Es ist da.", "<i>Es</i>", "Nothing may stand in it in pointed brackets."),
        ("Es ist da.", "Es < da", "The sign < cannot stand in it."),
        ("Es ist da.", 'Es ist "da"', 'The sign " cannot stand in it.'),
        ("Es ist da.", "Horn &amp; Koffer", "The sign & cannot stand in it."),
    ],
)
def test_words_that_would_break_a_page_are_refused_with_a_sentence(ours: str, said: str, wrong: str):
    assert wrong_with(ours, said) == wrong


@pytest.mark.parametrize(("ours", "said"), [("One\ntwo", "Eins\n\nzwei"), ("One two", "Eins zwei")])
def test_only_what_stands_in_several_lines_may_be_said_in_several(ours: str, said: str):
    sentence = Sentence("One", (ours,), ("",))
    form = OwnWordsForm({"said_0": "Eins\r\n\r\nzwei\r\n"}, sentence=sentence, language="de")

    assert form.is_valid()
    assert form.said == {"forms": [said]}


def test_from_right_to_left_what_is_filled_in_keeps_its_direction():
    assert set_apart("ar", "\u2068%(horn)s هنا") == "\u2068%(horn)s\u2069 هنا"
    assert set_apart("de", "%(horn)s hier") == "%(horn)s hier"


def test_what_is_spoken_in_between_loses_no_words():
    ours = texts("de")["Questions"][0]
    with override("de"), in_words({("de", "Questions", ours): "Fragen Sie uns"}):
        with override("fr"):
            between = gettext("Questions")
        assert (between, gettext("Questions")) == (texts("fr")["Questions"][0], "Fragen Sie uns")
    with override("de"):
        assert gettext("Questions") == ours


def test_a_catalogue_asked_while_the_site_started_speaks_a_schools_words_too():
    plain = Worded.__base__("en-gb")
    trans_real._translations["en-gb"] = trans_real._default = plain

    speak_own_words()

    assert type(trans_real.translation("en-gb")) is Worded
    assert trans_real._default is not plain


def test_commas_are_no_words_that_a_school_says_otherwise():
    assert {", ", "; "}.isdisjoint(texts("ar"))


def test_each_form_of_what_counts_has_words_of_its_own():
    one, few, many = texts("uk")["%(count)d day"][:3]
    with override("uk"), in_words({("uk", "%(count)d day", few): "%(count)d доби"}):
        said = [ngettext("%(count)d day", "%(count)d days", count) for count in (1, 2, 5)]
    assert said == [one, "%(count)d доби", many]


def test_a_family_of_one_school_reads_its_words_and_another_school_speaks_as_before(as_, two):
    (school, other), (head, _), (loan, there), guardian = two
    give(school, head, "Keep it longer", "Länger behalten dürfen")
    alone = make.guardian(school, language="de")
    loan_of_one = make.loan(make.horn(school), make.pupil(school, alone), head)

    assert "Länger behalten dürfen" in folded(as_(alone.user).get(f"/family/{loan_of_one.pk}/longer/"))
    family = as_(guardian.user)
    assert "Länger behalten dürfen" in folded(family.get(f"/family/{loan.pk}/longer/"))
    assert "Länger behalten dürfen" not in folded(family.get(f"/family/{there.pk}/longer/"))
    assert "Länger behalten dürfen" not in folded(family.get("/family/"))
    assert words_of(other) == {}


def test_letters_and_prints_are_in_the_schools_words_whoever_asks(as_, two):
    (school, _), (head, _), (loan, _), _ = two
    give(school, head, "Questions", "Fragen Sie uns")

    with speaking(school, "de"):
        assert gettext("Questions") == "Fragen Sie uns"
    with speaking(school, "fr"):
        assert gettext("Questions") == texts("fr")["Questions"][0]
    school.contact = "Zimmer 4"
    school.save()
    sheet = as_(head).get(reverse("reports:loan-sheet", args=(school.slug, loan.pk)))
    assert "Fragen Sie uns: Zimmer 4" in PdfReader(BytesIO(sheet.content)).pages[0].extract_text()


def test_what_no_longer_fits_ours_is_not_said(two):
    (school, _), (head, _), _, _ = two
    give(school, head, "Questions", "Fragen Sie uns")
    OwnWords.objects.update(said="Fragen <script>")
    OwnWords.objects.create(school=school, language="de", text="Said no more", said="Weg")
    school.own_words_mark = "another"

    assert words_of(school) == {}


@pytest.mark.both_engines
def test_a_head_gives_words_takes_them_back_and_the_record_tells(as_, two):
    (school, _), (head, _), _, _ = two
    page = as_(head)
    address = f"/s/{school.slug}/settings/languages/de/{key_of('Questions')}/"
    ours = texts("de")["Questions"][0]

    wrong = page.post(address, {"said_0": "Fragen <b>"})
    assert wrong.status_code == 422
    assert "Fragen &lt;b&gt;" in wrong.content.decode()
    page.post(address, {"said_0": "Fragen\r\n Sie  uns"})
    assert OwnWords.objects.get().said == "Fragen Sie uns"
    listed = folded(page.get(f"/s/{school.slug}/settings/languages/de/?own=yes"))
    assert "Fragen Sie uns" in listed
    assert "1 sentence." in listed

    page.post(address, {"said_0": ""})
    page.post(address, {"said_0": ours})

    assert not OwnWords.objects.exists()
    told = Act.objects.filter(deed=Deed.WORDED).order_by("pk").values_list("told", flat=True)
    assert [json.loads(one) for one in told] == [[["de", ours, "Fragen Sie uns"]], [["de", "Fragen Sie uns", ours]]]


def test_the_list_finds_a_sentence_by_either_language(as_, two):
    (school, _), (head, _), _, _ = two
    page, address = as_(head), f"/s/{school.slug}/settings/languages/de/"

    by_english = folded(page.get(address, {"q": "questions"}))
    by_german = folded(page.get(address, {"q": texts("de")["Questions"][0].upper()}))

    assert key_of("Questions") in page.get(address, {"q": "questions"}).content.decode()
    assert ("Questions" in by_english, "Questions" in by_german) == (True, True)
    assert page.get(f"/s/{school.slug}/settings/languages/xx/").status_code == 404
    assert page.get(f"{address}none/").status_code == 404
