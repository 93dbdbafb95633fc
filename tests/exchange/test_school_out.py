"""A school goes out while the site runs, sheet by sheet."""

from __future__ import annotations

import io
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from pypdf import PdfReader

from fleet.exchange.queries import school_out
from fleet.exchange.queries.school_out import export_school
from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.people.models import User
from fleet.register.models import Horn
from fleet.reports.paper.loan_sheet import loan_sheets_drawn
from fleet.reports.queries.loan_facts import of_loan
from tests import make
from tests.at_once import all_at_once
from tests.exchange.whole import furnish, out


def parts_of(file: Path, folder: str) -> dict[str, bytes]:
    with zipfile.ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist() if name.startswith(folder)}


def words_of(pdf: bytes) -> list[str]:
    """The words of each page."""
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def test_the_loan_sheets_stand_by_the_year_of_issue_with_their_contents(db, tmp_path):
    school = furnish()
    loan = Loan.objects.get(horn__number="H-1")
    before = loan.issued_on - timedelta(days=365)
    make.loan(make.horn(school, number="H-4"), loan.pupil, loan.issued_by, issued_on=before)

    sheets = parts_of(out(school, tmp_path), "prints/")

    assert list(sheets) == ["prints/loan-sheets-2025-1.pdf", "prints/loan-sheets-2026-1.pdf"]
    outline: Any = PdfReader(io.BytesIO(sheets["prints/loan-sheets-2026-1.pdf"])).outline
    assert [entry.title for entry in outline] == [
        f"H-3, {Loan.objects.get(horn__number='H-3').pupil}",
        "H-1, Ada Quill",
    ]


@pytest.mark.parametrize("sheets", [1, 2, 3])
def test_each_sheet_says_what_the_sheet_of_its_loan_alone_says(db, tmp_path, monkeypatch, sheets):
    school = furnish()
    head = User.objects.get(posts__school=school, posts__role="head")
    pupil = make.pupil(school, make.guardian(school))
    for n in range(2):
        make.loan(make.horn(school, number=f"M-{n}"), pupil, head)
    alone = []
    for loan in Loan.objects.at(school).order_by("issued_on", "pk"):
        given = {"school": school, "paper": school.paper, "origin": django_settings.SITE_ORIGIN}
        alone += words_of(loan_sheets_drawn([of_loan(loan)], **given))
    monkeypatch.setattr(school_out, "SHEETS", sheets)

    together = list(parts_of(out(school, tmp_path), "prints/").values())

    assert [len(PdfReader(io.BytesIO(pdf)).pages) for pdf in together] == {1: [1, 1, 1, 1], 2: [2, 2], 3: [3, 1]}[
        sheets
    ]
    assert [words for pdf in together for words in words_of(pdf)] == alone


def test_accounts_stand_in_the_order_of_their_addresses_on_every_database(db, tmp_path):
    school = make.school()
    for address in ("b@example.org", "a_z@example.org", "ab@example.org", "a-b@example.org", "aa@example.org"):
        make.staff(Role.TEACHER, school, email=address)

    table = parts_of(out(school, tmp_path), "tables/people-user")["tables/people-user.csv"].decode()

    assert [line.split(",")[1] for line in table.splitlines()[1:]] == [
        "a-b@example.org", "a_z@example.org", "aa@example.org", "ab@example.org", "b@example.org",
    ]  # fmt: skip


def test_a_row_that_names_one_of_another_school_goes_nowhere(db, tmp_path):
    school, other = make.school(), make.school()
    before, after = make.horn(other), make.horn(school)
    Loan.objects.filter(pk=make.loan(after, make.pupil(school), make.user()).pk).update(
        pupil=make.pupil(other, make.guardian(other))
    )
    assert before.pk < after.pk

    with pytest.raises(KeyError):
        out(school, tmp_path)

    assert list(tmp_path.glob("*.zip*")) + list(tmp_path.glob(".*")) == []


@pytest.mark.django_db(transaction=True)
def test_people_go_on_working_while_a_school_goes_out_as_it_was_when_it_began(tmp_path):
    school = furnish()
    before = parts_of(out(school, tmp_path), "tables/")
    worked: list[object] = []

    def work_on(words: str) -> None:
        if not worked:
            worked.extend(all_at_once([lambda: make.horn(school, number="NEW-1").number]))

    export_school(school=school, to=tmp_path / "meanwhile.zip", at=make.NOW, say=work_on)

    assert worked == ["NEW-1"]
    assert Horn.objects.filter(number="NEW-1").exists()
    assert parts_of(tmp_path / "meanwhile.zip", "tables/") == before
    # What comes after writes as ever.
    assert make.horn(school, number="NEW-2").number == "NEW-2"


def test_each_table_and_the_sheets_are_told_as_they_go(db, tmp_path, monkeypatch):
    school, said = furnish(), []
    monkeypatch.setattr(school_out, "SHEETS", 1)

    export_school(school=school, to=tmp_path / "school.zip", at=make.NOW, say=said.append)

    assert "register-horn: 3" in said
    assert said[-3:] == ["loan sheets: 2", "loan sheets: 1 of 2 drawn", "loan sheets: 2 of 2 drawn"]
