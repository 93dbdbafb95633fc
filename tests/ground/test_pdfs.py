"""PDFs and photographed papers: what is taken, told by what the file holds, and what is refused."""

from __future__ import annotations

import io

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from pypdf import PdfReader

from fleet.ground.files.pdfs import MOST_MEGABYTES, MOST_PAGES, kept_paper, kept_pdf, laid_behind
from tests.make import pdf
from tests.register.test_photographs import picture


def upload(content: bytes, name: str = "rules.pdf") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, content_type="application/pdf")


@pytest.mark.parametrize("pages", [1, 2, MOST_PAGES])
def test_a_pdf_is_kept_as_it_is_under_a_name_of_ours_and_its_pages_are_counted(pages):
    kept, count = kept_pdf(upload(pdf(pages), "../Parents.pdf"))

    assert (kept.read(), count) == (pdf(pages), pages)
    assert str(kept.name).endswith(".pdf")
    assert "Parents" not in str(kept.name)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"<html>", "This is not a PDF."),
        (picture(), "This is not a PDF."),
        (b"%PDF-1.7 and then nothing", "This PDF is damaged or cut off. Send it again."),
        (pdf(password="secret"), "This PDF has a password. Save it without one."),
        (pdf(0), "This PDF has 0 pages. Send one of 1 to 30."),
        (pdf(MOST_PAGES + 1), "This PDF has 31 pages. Send one of 1 to 30."),
    ],
    ids=["a page", "a picture", "damaged", "locked", "no pages", "too many pages"],
)
def test_what_is_no_pdf_to_be_printed_is_refused_with_a_sentence(content, sentence):
    with pytest.raises(ValidationError) as no:
        kept_pdf(upload(content))

    assert no.value.messages == [sentence]


@pytest.mark.parametrize("over", [0, 1])
def test_a_file_of_up_to_eight_megabytes_is_looked_at_and_a_larger_one_is_not(over):
    content = pdf()

    padded = content + b" " * (MOST_MEGABYTES * 2**20 - len(content) + over)

    if over:
        with pytest.raises(ValidationError, match="at most 8 MB"):
            kept_pdf(upload(padded))
    else:
        assert kept_pdf(upload(padded))[1] == 1


def test_a_paper_is_told_by_what_it_holds_and_not_by_its_name():
    assert str(kept_paper(upload(pdf(), "sheet.jpg")).name).endswith(".pdf")
    photograph = kept_paper(upload(picture(comment=b"taken by somebody"), "sheet.pdf"))
    assert str(photograph.name).endswith(".jpg")
    assert b"somebody" not in photograph.read()
    with pytest.raises(ValidationError, match="neither a photograph nor a PDF"):
        kept_paper(upload(b"<script>", "sheet.pdf"))


def sizes(content: bytes) -> list[int]:
    return [int(page.mediabox.width) for page in PdfReader(io.BytesIO(content)).pages]


@pytest.mark.parametrize(
    ("pages", "parts", "there"),
    [(1, 1, [200, 90, 90]), (2, 1, [200, 200, 90, 90]), (2, 2, [200, 90, 90] * 2), (4, 2, [200, 200, 90, 90] * 2)],
)
def test_all_pages_of_one_pdf_are_laid_behind_each_part_of_another(pages, parts, there):
    assert sizes(laid_behind(pdf(pages), pdf(2, wide=90), parts=parts)) == there


def test_what_is_laid_behind_thirty_sheets_is_carried_once():
    heavy = picture(600, 600, kind="PDF")
    once = len(laid_behind(pdf(1), heavy, parts=1))

    assert len(laid_behind(pdf(30), heavy, parts=30)) < once + 30 * 1000
