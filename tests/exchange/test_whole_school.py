"""A school goes out whole and comes back in without loss."""

from __future__ import annotations

import csv
import io
import json
import shutil
import zipfile
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from pypdf import PdfReader

from fleet.counting.actions.counts import begin
from fleet.counting.actions.finds import keep_find
from fleet.counting.actions.sightings import see
from fleet.exchange.actions.school_in import import_school
from fleet.exchange.models import RememberedColumns
from fleet.exchange.queries.school_out import export_school
from fleet.exchange.queries.whole_school import tables, without_a_school
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.models import LoanPeriod, PastLoan
from fleet.letters.models import LendingRules
from fleet.matching.models import ClassPlan, MatchingRules
from fleet.people.models import Opening, School, User
from fleet.register.actions.disposing import propose
from fleet.register.actions.horns import amend_horn
from fleet.register.models import Horn, Identification, KindSaid, LabelSheet, Photograph, StandChange, Standing
from fleet.workshop.models import Care, CheckPhotograph, JobStep, Part, PartUsed
from tests import make
from tests.exchange.whole import emptied, rows_of

HARD_WORDS = "=1+1\n\"quotes\", 'apostrophes'; naïve ♭ \\N\r\nlast line"


def furnish() -> School:
    """A school with a row in every table and with text that is hard to carry over."""
    school = make.school(slug="hill-road", name="Hill Road", contact="'=x", local_rules=HARD_WORDS)
    head, technician = make.staff(Role.HEAD, school), make.staff(Role.TECHNICIAN, school)
    adult = make.guardian(school, name="@Ann")
    make.guardian(school, email="", telephone="+353 1 234", with_account=False)
    pupil, left = make.pupil(school, adult, name="Ada Quill"), make.pupil(school, left_on=make.TODAY)
    room = make.place(school, room="Room 1", shelf="Top")
    horns = [
        make.horn(school, number="H-1", build="double-full", stands_in="F", place=room, price=Decimal("12.30")),
        make.horn(school, number="H-2", build="", described_as="double F/Bb", notes=HARD_WORDS, created_by=head),
        make.horn(school, number="H-3", maker="\\N", withdrawn_on=make.TODAY, acquired_on=make.TODAY),
    ]
    picture = ContentFile(b"\xff\xd8 a picture", name="x.jpg")
    size = {"width": 20, "height": 30}
    Photograph.objects.create(horn=horns[0], at=make.NOW, by=head, image=picture, caption="bell", **size)
    Identification.objects.create(
        horn=horns[0], at=make.NOW, by=head, observations={"valves": "4", "thumb": "cant-tell"}, build="double-full",
        stands_in="F", settled=True, probability=0.1 + 0.2,
    )  # fmt: skip
    KindSaid.objects.create(horn=horns[0], at=make.NOW, by=head, build="double-full", stands_in="F")
    StandChange.objects.create(horn=horns[0], at=make.NOW, by=head, before="Bb", after="F", reason="-")
    Standing.objects.create(horn=horns[2], at=make.NOW, by=head, kind="withdrawn", on=make.TODAY, reason="crushed")
    amend_horn(horn=horns[1], changes={"number": "H-20"}, by=head, at=make.NOW)
    loan = make.loan(horns[0], pupil, head, return_notes="\t tab first")
    make.loan(horns[2], left, head, issued_on=make.TODAY - timedelta(days=90), returned_on=make.TODAY)
    CheckPhotograph.objects.create(check_made=loan.check_at_issue, image=picture, **size)
    job = make.job(horns[1], head, technician=technician, state="bench", cost=Decimal("0.10"), minutes=0)
    JobStep.objects.create(
        job=job, at=make.NOW + timedelta(microseconds=1), by=technician, state="bench", words="begun"
    )
    make.finding(loan.check_at_issue, job=job)
    make.report(horns[0], adult.user, pupil=pupil, job=job)
    PastLoan.objects.create(horn=horns[1], pupil=left, issued_on=make.TODAY, returned_on=make.TODAY)
    make.charge(loan, head)
    make.ask(loan, adult.user)
    make.letter(loan)
    make.signature(horns[0], pupil, head)
    LoanPeriod.objects.create(
        loan=loan, kind="renewed", due_before=loan.due_on, due_on=loan.due_on + timedelta(days=9), at=make.NOW, by=head
    )
    LendingRules.objects.create(school=school, after_words=HARD_WORDS)
    MatchingRules.objects.create(school=school)
    ClassPlan.objects.create(school=school, group="5b", room="Room 1")
    LabelSheet.objects.create(school=school)
    count = begin(school=school, places=[room], by=head, at=make.NOW)
    see(count=count, horn=horns[0], place=room, key="a-tap-of-the-head", by=head, at=make.NOW)
    keep_find(count=count, words="no label", place=room, key="a-find-of-the-head", by=head, at=make.NOW)
    propose(horn=horns[1], method="scrapped", on=make.TODAY, reason="Cracked", by=head, at=make.NOW)
    Opening.objects.create(school=school, by=head, at=make.NOW, page="people:pupil-edit", pupil=pupil)
    Care.objects.create(horn=horns[0], kind="oil", on=make.TODAY, by=technician)
    part = Part.objects.create(school=school, name="string", mends=["string-broken"])
    PartUsed.objects.create(job=job, part=part, count=1, cost_each=Decimal("0.10"), at=make.NOW, by=technician)
    RememberedColumns.objects.create(school=school, kind="horns", columns={"nr": "number"}, day_first=False)
    return school


def out(school: School, folder: Path, name: str = "school.zip") -> Path:
    file = folder / name
    export_school(school=school, to=file, at=make.NOW)
    return file


def tables_in(file: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist() if name.startswith(("tables/", "files/"))}


def test_every_table_of_the_slices_is_part_of_a_school_or_named_here():
    assert without_a_school() == {"people.User", "people.User_groups", "people.User_user_permissions"}


def test_the_school_furnished_here_has_a_row_in_every_table(db):
    school = furnish()

    assert [table.name for table in tables() if not table.rows_of(school).exists()] == []


def test_tables_that_others_refer_to_come_first():
    seen: set[Any] = {User}
    for table in tables():
        needed = {f.related_model for f in table.columns if f.many_to_one and f.related_model is not table.model}
        assert needed <= seen, table.name
        seen.add(table.model)


def test_a_school_comes_back_into_an_empty_site_row_by_row(db, tmp_path):
    school = furnish()
    users = list(User.objects.order_by("email").values("email", "name", "is_active", "created"))
    before, file = rows_of(school), out(school, tmp_path)
    pictures = {name: content for name, content in tables_in(file).items() if name.startswith("files/")}
    emptied()
    for name in pictures:
        default_storage.delete(name.removeprefix("files/"))
    assert not Horn.objects.exists()

    back = import_school(file=file)

    after = rows_of(back)
    assert after.keys() == before.keys()
    for name, rows in before.items():
        assert after[name] == rows, name
    assert list(User.objects.order_by("email").values("email", "name", "is_active", "created")) == users
    assert {
        f"files/{p.image.name}": Path(p.image.path).read_bytes()
        for p in (Photograph.objects.get(), CheckPhotograph.objects.get())
    } == pictures
    assert tables_in(out(back, tmp_path, "again.zip")) == tables_in(file)
    assert list(Horn.objects.at(back).having_words("ada quill")) == list(Horn.objects.at(back).filter(number="H-1"))


def test_a_school_comes_into_a_site_that_has_other_schools_and_some_of_its_people(db, tmp_path, settings):
    school = furnish()
    before, file = rows_of(school), out(school, tmp_path)
    head = User.objects.get(posts__school=school, posts__role="head")
    emptied()
    shutil.rmtree(settings.MEDIA_ROOT)
    elsewhere = make.school(slug="vale")
    known = make.user(email=head.email, name="Known Here")
    make.horn(elsewhere, number="H-1")

    back = import_school(file=file)

    assert rows_of(back) == before
    assert back.posts.get(role="head").user == known
    assert User.objects.get(pk=known.pk).name == "Known Here"
    assert Horn.objects.at(elsewhere).count() == 1


def test_nobodys_password_goes_out(db, tmp_path):
    school = furnish()
    User.objects.filter(posts__school=school).update(password="md5$salt$secret-hash")

    content = b"".join(tables_in(out(school, tmp_path)).values())

    assert b"secret-hash" not in content
    assert b"password" not in content


def test_nothing_of_another_school_goes_out(db, tmp_path):
    school, other = furnish(), make.school(slug="vale")
    make.horn(other, number="OTHER-1")
    make.staff(Role.HEAD, other, email="stranger@example.org")

    content = b"".join(tables_in(out(school, tmp_path)).values())

    assert b"OTHER-1" not in content
    assert b"stranger@" not in content


def test_a_spreadsheet_runs_nothing_in_the_tables(db, tmp_path):
    with zipfile.ZipFile(out(furnish(), tmp_path)) as archive:
        names = [name for name in archive.namelist() if name.endswith(".csv")]
        cells = [
            cell
            for name in names
            for row in csv.reader(io.StringIO(archive.read(name).decode(), newline=""))
            for cell in row
        ]

    assert len(cells) > 400
    assert [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))] == []


def test_the_loan_sheets_are_in_it_as_pdfs(db, tmp_path):
    with zipfile.ZipFile(out(furnish(), tmp_path)) as archive:
        sheets = sorted(name for name in archive.namelist() if name.startswith("prints/"))
        words = PdfReader(io.BytesIO(archive.read(sheets[0]))).pages[0].extract_text()

    assert sheets == ["prints/loan-00001-H-1.pdf", "prints/loan-00002-H-3.pdf"]
    assert "Ada Quill" in words
    assert "H-1" in words


def changed(file: Path, name: str, content: bytes) -> Path:
    other = file.with_name("changed.zip")
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(other, "w") as new:
        for part in old.namelist():
            new.writestr(part, content if part == name else old.read(part))
    return other


def test_a_file_that_is_damaged_or_not_ours_or_of_another_version_brings_in_nothing(db, tmp_path):
    file = out(furnish(), tmp_path)
    emptied()
    facts = json.loads(zipfile.ZipFile(file).read("contents.json"))
    horns = zipfile.ZipFile(file).read("tables/register-horn.csv")
    (tmp_path / "text.zip").write_text("hello", encoding="utf-8")
    (tmp_path / "half.zip").write_bytes(file.read_bytes()[:3000])
    bad = [
        tmp_path / "text.zip",
        tmp_path / "half.zip",
        changed(file, "tables/register-horn.csv", horns.replace(b"H-1", b"H-9")),
    ]
    for one in bad:
        with pytest.raises(Refused, match="damaged"):
            import_school(file=one)
    with pytest.raises(Refused, match="another version"):
        import_school(file=changed(file, "contents.json", json.dumps({**facts, "format": 99}).encode()))
    assert not School.objects.exists()
    assert not User.objects.exists()


def test_a_school_that_does_not_fit_leaves_no_row_and_no_picture(db, tmp_path):
    school = furnish()
    file = out(school, tmp_path)
    code = Horn.objects.at(school).order_by("-pk")[0].label_code
    emptied()
    pictures = sorted(default_storage.listdir("horns/2026")[1] if default_storage.exists("horns/2026") else [])
    make.horn(make.school(slug="vale"), label_code=code)

    with pytest.raises(Refused, match="does not fit"):
        import_school(file=file)

    assert [one.slug for one in School.objects.all()] == ["vale"]
    assert Horn.objects.count() == 1
    assert sorted(default_storage.listdir("horns/2026")[1] if default_storage.exists("horns/2026") else []) == pictures


def test_the_commands_say_what_they_did_and_refuse_with_a_sentence(db, tmp_path, capsys):
    furnish()
    file = tmp_path / "school.zip"
    with pytest.raises(CommandError, match="There is no school at /s/nowhere/"):
        call_command("export_school", "nowhere", str(file))

    call_command("export_school", "hill-road", str(file))
    assert "Only its owner can read it." in capsys.readouterr().out
    assert file.stat().st_mode & 0o077 == 0
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_school", "hill-road", str(file))
    with pytest.raises(CommandError, match="There is a school at /s/hill-road/ already"):
        call_command("import_school", str(file))
    emptied()
    call_command("import_school", str(file))

    assert "Hill Road is open at /s/hill-road/." in capsys.readouterr().out
    assert list(tmp_path.glob(".*")) == []
