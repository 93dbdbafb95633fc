"""The school's own agreement as a PDF: part of a version, behind the sheet, given to whoever signs on their page."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.urls import reverse
from django.utils.translation import override
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.actions.agreements import write_version
from fleet.lending.models import Agreement, Loan
from fleet.lending.queries.agreements import current_agreement
from fleet.record.models import Act, Deed
from fleet.reports.queries.loan_facts import of_nobody
from fleet.signing.actions.putting_before import put_before
from tests import make
from tests.ground.test_pdfs import upload
from tests.make import pdf
from tests.pages import folded
from tests.signing.test_issue_pages import DUE, action_of, whole
from tests.signing.test_sheets import terms

pytestmark = [pytest.mark.usefixtures("at_noon"), pytest.mark.either_engine]
SAID = "With the school’s own agreement of 14 September 2026, 3 pages, which is part of this agreement."


def write(lending, words="Bring it back.", *, pages=3, **said):
    seen = current_agreement(lending.school).version
    own = (ContentFile(pdf(pages, wide=90), name="own.pdf"), pages) if pages else None
    return write_version(
        school=lending.school, words=words, seen=seen, own=own, by=lending.teacher, at=make.NOW, **said
    )


@pytest.fixture
def head(lending, as_):
    return as_(make.staff(Role.HEAD, lending.school))


@pytest.fixture
def page(lending):
    return reverse("loans:agreement", args=(lending.school.slug,))


def printed(answer):
    """How wide each page of a print is, in points, and the words of the first."""
    pages = PdfReader(io.BytesIO(answer.content)).pages
    return [int(one.mediabox.width) for one in pages], " ".join(pages[0].extract_text().split())


def test_a_head_attaches_a_pdf_and_each_version_keeps_its_own(head, page, lending):
    first = head.post(page, {"words": "Bring it back.", "seen": 1, "own": upload(pdf(3))})
    again = head.post(page, {"words": "Bring it back soon.", "seen": 2})
    none = head.post(
        page, {"words": "Bring it back soon, with its case and all of it.", "seen": 3, "without_own": "on"}
    )

    assert {first.status_code, again.status_code, none.status_code} == {302}
    two, three, four = Agreement.objects.filter(version__gt=1).order_by("version")
    assert [(one.own_pages, bool(one.own)) for one in (two, three, four)] == [(3, True), (3, True), (0, False)]
    assert two.own.name != three.own.name
    assert Path(two.own.path).read_bytes() == Path(three.own.path).read_bytes() == pdf(3)
    shown = folded(head.get(page))
    for old in (two, three):
        address = reverse("loans:agreement-own", args=(lending.school.slug, old.pk))
        assert f'<a href="{address}">the school’s own agreement of 14 September 2026, 3 pages</a>' in shown
        given = head.get(address)
        assert b"".join(given.streaming_content) == pdf(3)
        assert given["Content-Disposition"] == f'attachment; filename="agreement-{old.version}.pdf"'
    assert head.get(reverse("loans:agreement-own", args=(lending.school.slug, four.pk))).status_code == 404
    assert [act.lines[1:] for act in Act.objects.filter(deed=Deed.AGREEMENT_WRITTEN).order_by("pk")] == [
        [["pages of the school’s own", "0", "3"]],
        [["pages of the school’s own", "3", "3"]],
        [["pages of the school’s own", "3", "0"]],
    ]


def test_what_is_no_pdf_is_refused_beside_its_field(head, page):
    answer = head.post(page, {"words": "Bring it back.", "seen": 1, "own": upload(b"<html>")})

    assert (answer.status_code, answer.context["form"].errors["own"]) == (422, ["This is not a PDF."])
    assert not Agreement.objects.exists()


def test_the_same_words_are_a_new_version_only_with_another_pdf(lending):
    write(lending)
    with pytest.raises(Refused, match="These are the words of version 2 already"):
        write(lending, pages=0)
    assert write(lending, pages=1).own_pages == 1
    assert write(lending, pages=0, without_own=True).own_pages == 0
    with pytest.raises(Refused, match="These are the words of version 4 already"):
        write(lending, pages=0, without_own=True)


def test_a_pdf_that_is_lost_comes_along_to_no_new_version(lending):
    one = write(lending)
    one.own.storage.delete(one.own.name)

    with pytest.raises(Refused, match="The PDF of version 2 is gone"):
        write(lending, "Other words.", pages=0)


def test_the_sheet_to_sign_says_which_pdf_belongs_to_it_and_has_it_behind(lending, as_):
    write(lending)
    teacher, issue = as_(lending.teacher), reverse("loans:issue", args=(lending.school.slug,))
    address = issue + action_of(teacher.get(issue, whole(lending)))

    wide, words = printed(teacher.get(teacher.post(address, {"do": "print"}).url))

    assert wide == [595, 90, 90, 90]
    assert SAID in words


def test_each_sheet_of_a_class_has_the_pdf_behind_it(lending, as_):
    write(lending)
    horn, guardian = make.horn(lending.school), make.guardian(lending.school)
    pupil, _ = make.pupil(lending.school, guardian), make.check(horn, lending.teacher)
    teacher, batch = as_(lending.teacher), reverse("loans:batch", args=(lending.school.slug,))
    asked = {"pair": [f"{lending.pupil.pk}.{lending.horn.pk}", f"{pupil.pk}.{horn.pk}"], "due_on": DUE.isoformat()}

    wide, _ = printed(teacher.get(teacher.get(batch, asked).context["look"]))

    assert wide == [595, 90, 90, 90] * 2


def test_a_loan_sheet_has_the_pdf_of_the_version_that_was_signed_and_none_whose_file_is_lost(lending, as_):
    signed = write(lending)
    loan = make.loan(make.horn(lending.school), lending.pupil, lending.teacher)
    Loan.objects.update(agreement=signed)
    write(lending, pages=1)
    teacher = as_(lending.teacher)
    sheet = reverse("reports:loan-sheet", args=(lending.school.slug, loan.pk))

    assert printed(teacher.get(sheet))[0] == [595, 90, 90, 90]
    own = reverse("loans:agreement-own", args=(lending.school.slug, signed.pk))
    assert own in folded(teacher.get(reverse("loans:loan", args=(lending.school.slug, loan.pk))))
    signed.own.storage.delete(signed.own.name)
    assert printed(teacher.get(sheet))[0] == [595]


def test_a_pdf_is_seen_as_it_prints_before_it_is_saved(head, lending):
    sheet = reverse("reports:agreement", args=(lending.school.slug,))
    asked = {"words": "Bring it back.", "seen": 1}

    assert printed(head.post(sheet, {**asked, "own": upload(pdf(3, wide=90))}))[0] == [595, 90, 90, 90]
    assert not Agreement.objects.exists()
    write(lending)
    assert printed(head.post(sheet, asked))[0] == [595, 90, 90, 90]
    assert printed(head.post(sheet, {**asked, "without_own": "on"}))[0] == [595]


def test_who_signs_on_their_page_is_given_the_pdf_of_just_that_version(lending, as_):
    write(lending)
    asked = put_before(**terms(lending, agreement_version=2), by=lending.teacher, at=make.NOW)
    write(lending, pages=1)
    family = as_(lending.guardian.user)
    address = reverse("desk:family-agreement", args=(asked.pk,))

    assert SAID in asked.shown
    assert f'<a href="{address}">The school’s own agreement of 14 September 2026, 3 pages</a>' in folded(
        family.get(reverse("desk:family-sign", args=(asked.pk,)))
    )
    given = family.get(address)
    assert b"".join(given.streaming_content) == pdf(3, wide=90)
    assert given["Content-Disposition"].startswith("attachment")
    stranger = make.guardian(lending.school)
    assert as_(stranger.user).get(address).status_code == 404


def test_a_version_without_a_pdf_gives_none(lending, as_):
    asked = put_before(**terms(lending), by=lending.teacher, at=make.NOW)
    family = as_(lending.guardian.user)

    assert "own agreement" not in folded(family.get(reverse("desk:family-sign", args=(asked.pk,))))
    assert family.get(reverse("desk:family-agreement", args=(asked.pk,))).status_code == 404


@pytest.mark.parametrize(
    ("language", "nobody"),
    [
        ("de", ("Ein Kind, als Beispiel", "eine Klasse", "Ein Elternteil")),
        ("fr", ("Un élève, à titre d’exemple", "une classe", "Un parent")),
        ("en", ("A pupil, as a sample", "a class", "A guardian")),
    ],
)
@pytest.mark.parametrize("reads", ["en", "de"])
def test_the_sample_of_an_agreement_is_in_its_sheets_language_whoever_looks_at_it(lending, language, nobody, reads):
    with override(reads):
        facts = of_nobody(current_agreement(lending.school), make.TODAY, language)

    assert (facts.pupil, facts.group, facts.guardian) == nobody
