"""PDFs and photographed papers: what is taken, told by what the file holds, and what is refused."""

from __future__ import annotations

import io

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from pypdf import PdfWriter

from fleet.ground.files.pdfs import MOST_MEGABYTES, MOST_PAGES, kept_paper, kept_pdf
from tests.register.test_photographs import picture


def pdf(pages: int = 1, *, password: str = "") -> bytes:
    writer, out = PdfWriter(), io.BytesIO()
    for _ in range(pages):
        writer.add_blank_page(200, 300)
    if password:
        writer.encrypt(password)
    writer.write(out)
    return out.getvalue()


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
    with pytest.raises(ValidationError, match="not a picture"):
        kept_paper(upload(b"<script>", "sheet.pdf"))
