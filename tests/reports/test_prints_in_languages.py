"""What a family is handed on paper, in its own language: said in it, set in it, and searched in it."""

from __future__ import annotations

import io
import subprocess
import unicodedata
from datetime import timedelta

import pytest
from django.utils.translation import override
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.ground.languages.known import KNOWN
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import FIRST_WORDS
from fleet.letters.models import LendingRules
from fleet.letters.queries.composing import composed
from fleet.register.models.kinds import build_of, kind_and_stand
from fleet.reports.paper.loan_sheet import loan_sheets_drawn
from fleet.reports.queries.fingers import test_note as told_of_test_note
from fleet.reports.queries.loan_facts import WITH, of_loan
from fleet.reports.sheet.page import Sheet
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


@pytest.fixture
def lent():
    school = make.school(name="Alder Row", language="de", family_languages=["fr", "ar"], contact="Büro 0123")
    head = make.staff(Role.HEAD, school, name="Tom Bell")
    guardian = make.guardian(school, name="Maria", language="fr")
    horn = make.horn(school, number="HN-07/2", build="double-full", stands_in="F")
    check = make.check(horn, head, grade=2)
    make.finding(check, "bell-dented", "n")
    pupil = make.pupil(school, guardian, name="Ada", year="5")
    loan = make.loan(
        horn, pupil, head, check_at_issue=check, issued_on=make.TODAY - timedelta(days=9), due_on=make.TODAY
    )
    Agreement.objects.filter(school=school).update(words=FIRST_WORDS)
    return loan, guardian, head


def reader(answer):
    assert answer.headers["Content-Type"] == "application/pdf"
    return PdfReader(io.BytesIO(answer.content))


def said(pdf):
    return " ".join(" ".join(page.extract_text() for page in pdf.pages).split())


def test_a_loan_sheet_is_in_the_familys_language_and_its_agreement_in_the_schools_beside_it(as_, lent):
    loan, _, head = lent

    pdf = reader(as_(head).get(f"/s/{loan.horn.school.slug}/prints/loans/{loan.pk}/sheet.pdf"))
    told = said(pdf)

    assert pdf.trailer["/Root"]["/Lang"] == "fr"
    assert pdf.metadata["/Title"].startswith("Fiche de prêt")
    for words in (
        "L’école prête ce cor",
        "Die Schule leiht dieses Horn",
        "pavillon",
        "forme non examinée",
        "Retour / Kommt zurück",
    ):
        assert words in told, words
    assert "Goes out" not in told


def test_what_an_arabic_sheet_tells_side_by_side_has_arabic_commas_between(lent):
    loan, _, head = lent
    type(loan.horn).objects.filter(pk=loan.horn_id).update(wrap="geyer", finish="lacquered")
    type(loan.pupil).objects.filter(pk=loan.pupil_id).update(group="5b")
    back = {"returned_on": make.TODAY, "returned_to": head, "mouthpiece_cleaned_on": make.TODAY}
    type(loan).objects.filter(pk=loan.pk).update(
        language="ar", mouthpiece_cleaned_by=head, check_at_return=loan.check_at_issue, **back
    )

    facts = of_loan(type(loan).objects.select_related(*WITH).get(pk=loan.pk))

    told = [facts.issued, facts.group, facts.particulars[-1][1], facts.returned.grade, facts.returned.mouthpiece]
    assert [("، " in one, ", " in one) for one in told] == [(True, False)] * len(told)


def test_a_sheet_stays_in_the_language_it_was_signed_in(as_, lent):
    loan, guardian, _ = lent
    type(loan).objects.filter(pk=loan.pk).update(language="de")

    pdf = reader(as_(guardian.user).get(f"/family/{loan.pk}/sheet.pdf"))

    assert pdf.trailer["/Root"]["/Lang"] == "de"
    assert "L’école prête" not in said(pdf)


def test_a_schools_own_words_in_a_language_stand_beside_its_own_and_what_lacks_falls_back(as_, lent):
    loan, _, head = lent
    school = loan.horn.school
    address = f"/s/{school.slug}/loans/agreement/"
    words = {
        "words": f"Wir leihen das Horn. {'Gut. ' * 9}",
        "words_fr": "Nous prêtons le cor.",
        "words_ar": " ",
        "seen": 1,
    }

    answer = as_(head).post(address, words)
    made = Agreement.objects.get(school=school, version=2)

    with override("fr"):
        french = made.spoken
    with override("ar"):
        arabic = made.spoken
    page = folded(as_(head).get(address))

    assert answer.status_code == 302
    assert (french, arabic[:20]) == ("Nous prêtons le cor.", "Wir leihen das Horn.")
    assert "nobody has written them in their language yet: English, Arabic </p>" in page


@pytest.mark.parametrize(
    ("language", "care", "chart"), [("fr", "Une embouchure, un joueur", "Main gauche"), ("ar", "H304", "D4")]
)
def test_care_card_and_chart_are_in_the_language_of_the_reader(as_, lent, language, care, chart):
    loan, guardian, _ = lent
    type(guardian).objects.filter(pk=guardian.pk).update(language=language)
    family = as_(guardian.user)

    card = reader(family.get(f"/family/{loan.pk}/care.pdf"))
    fingers = reader(family.get(f"/family/{loan.pk}/chart/?as=print"))

    assert {pdf.trailer["/Root"]["/Lang"] for pdf in (card, fingers)} == {language}
    assert "Looking after it" not in said(card)
    assert "index finger" not in said(fingers)
    assert care[:4] in said(card)


def test_letters_on_paper_are_each_in_the_language_of_their_guardian(as_, lent, settings):
    loan, _, head = lent
    type(loan).objects.filter(pk=loan.pk).update(due_on=make.TODAY - timedelta(days=3))

    pdf = reader(as_(head).get(f"/s/{loan.horn.school.slug}/prints/overdue-letters.pdf?all=1", follow=True))
    told = said(pdf)

    assert (pdf.trailer["/Root"]["/Lang"], pdf.metadata.title.split(",")[0]) == ("fr", "Lettres")
    assert "Pour l’école, signature" in told
    assert "Dear Maria" not in told


def right_to_left(draw) -> bytes:
    out = io.BytesIO()
    with override("ar"):
        page = Sheet(out, school="Alder Row", title="t")
        draw(page)
        page.close()
    return out.getvalue()


def test_arabic_on_paper_is_found_by_a_reader_of_pdf(tmp_path):
    words = "عبد الرحمن الأنصاري: HN-07/2 سلام"
    (tmp_path / "one.pdf").write_bytes(right_to_left(lambda page: page.words(0, 40, words)))

    try:
        told = subprocess.run(["pdftotext", str(tmp_path / "one.pdf"), "-"], capture_output=True, check=True).stdout
    except FileNotFoundError:
        pytest.skip("poppler is not here")

    kept = unicodedata.normalize("NFKC", told.decode())
    assert all(word in kept for word in ("عبد", "الرحمن", "الأنصاري", "HN-07/2", "سلام"))


def test_on_a_page_from_right_to_left_what_is_first_stands_at_the_right(rastered):
    def edges(language):
        out = io.BytesIO()
        with override(language):
            page = Sheet(out, school="Alder Row", title="t")
            page.frame(0, 100, 20, 20, weight=3)
            page.close()
        [drawn] = rastered(out.getvalue(), 50)
        box = drawn.convert("L").crop((0, 245, drawn.width, 255)).point(lambda ink: 255 * (ink < 128)).getbbox()
        return box[0] / drawn.width, box[2] / drawn.width

    left, right = edges("en-gb"), edges("ar")

    assert left == pytest.approx((1 - right[1], 1 - right[0]), abs=0.01)
    assert left[0] < 0.2


def test_a_school_writes_a_letter_in_each_language_and_is_told_which_it_lacks(as_, lent):
    loan, _, head = lent
    address = f"/s/{loan.horn.school.slug}/loans/letters/words/"
    LendingRules.objects.create(school=loan.horn.school, after_subject="Das Horn {horn} fehlt")

    before = folded(as_(head).get(address))
    wrong = as_(head).post(f"{address}?language=fr", {"after_subject": "Le cor {hron}"})
    as_(head).post(f"{address}?language=fr", {"after_subject": "Le cor {horn} manque"})
    after = folded(as_(head).get(address))
    subject, words = composed(loan, "after", make.TODAY)

    lacks = '<a href="?language=fr">French</a>'
    assert lacks in before.partition("Write them in theirs")[2]
    assert wrong.status_code == 422
    assert lacks not in after
    assert subject == "Le cor HN-07/2 manque"
    assert "Dear" not in words


def test_letters_in_several_languages_have_head_number_and_foot_apart(as_, lent):
    loan, _, head = lent
    type(loan).objects.filter(pk=loan.pk).update(due_on=make.TODAY - timedelta(days=3))
    arab = make.guardian(loan.horn.school, name="Nur", language="ar")
    began = make.TODAY - timedelta(days=9)
    pupil, horn = make.pupil(loan.horn.school, arab), make.horn(loan.horn.school)
    make.loan(horn, pupil, head, issued_on=began, due_on=make.TODAY - timedelta(days=2))

    pdf = reader(as_(head).get(f"/s/{loan.horn.school.slug}/prints/overdue-letters.pdf?all=1"))
    at: list[tuple[str, float]] = []
    for page in pdf.pages:
        page.extract_text(visitor_text=lambda said, _c, matrix, _f, _s: at.append((said.strip(), matrix[4])))

    where = {side: [x for said, x in at if said == side] for side in ("1 / 1", "Büro 0123")}
    assert [abs(number - foot) > 200 for number, foot in zip(*where.values(), strict=True)] == [True, True]


@pytest.mark.parametrize(
    ("ways", "first", "sounds"), [("", "c¹", "klingt als b."), ("letters", "C4", "klingt als B♭3.")]
)
def test_notes_are_named_as_the_family_names_them_or_as_the_school_says(as_, lent, ways, first, sounds):
    loan, guardian, _ = lent
    type(guardian).objects.filter(pk=guardian.pk).update(language="de")
    type(guardian.school).objects.filter(pk=guardian.school.pk).update(note_names=ways)

    page = folded(as_(guardian.user).get(f"/family/{loan.pk}/chart/"))
    with override("de"):
        note, _ways = told_of_test_note(build_of(loan.horn.build), loan.horn.stands_in, ways)

    assert f'<dt dir="ltr">{first}</dt>' in page
    assert note.endswith(sounds)


@pytest.mark.parametrize(
    ("code", "stand", "told"),
    [
        ("single-f", "F", "Einfachhorn in F"),
        ("double-full", "F", "Doppelhorn in F und B, steht in F"),
        ("double-full", "", "Doppelhorn in F und B"),
    ],
)
def test_a_horn_with_one_tube_is_not_told_twice_what_it_stands_in(code, stand, told):
    with override("de"):
        assert kind_and_stand(code, stand).endswith(told)


def test_what_goes_along_is_named_on_the_sheet_in_the_familys_language(lent):
    loan, _, _ = lent
    loan.accessories.all().delete()
    loan.accessories.create(name="valve oil")
    loan.accessories.create(name="a blue bag")

    assert {name for name, _ in of_loan(loan).accessories} == {"huile pour pistons", "a blue bag"}


def test_a_sheet_cuts_no_word_of_ours_in_any_language(lent):
    loan, _, _ = lent
    loan.accessories.create(name="valve oil")
    school = loan.horn.school
    school.family_languages = [*KNOWN]

    told = {}
    for loan.language in KNOWN:
        drawn = loan_sheets_drawn([of_loan(loan)], school=school, paper="a4", origin="https://horns.example")
        told[loan.language] = said(PdfReader(io.BytesIO(drawn)))

    assert {language for language, words in told.items() if "…" in words} == set()
    assert "wydano" in told["pl"]


def test_where_names_say_no_octave_a_list_of_all_notes_does(as_, lent):
    loan, guardian, _ = lent

    page = as_(guardian.user).get(f"/family/{loan.pk}/chart/?notes=all")

    octaves = dict(page.context["told"].octaves)
    assert [*octaves][1:4] == ["Une octave plus bas", "La première octave", "Une octave plus haut"]
    for notes in octaves.values():
        assert len({name for name, _, _ in notes}) == len(notes)
    first = [name for name, _, _ in octaves["La première octave"]]
    assert (first[0], first[-1], len(first), len({*first})) == ("do", "si", 12, 12)
    assert "<h2>Une octave plus bas</h2>" in folded(page)
