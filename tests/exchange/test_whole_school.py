"""A school goes out whole and comes back in without loss."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import shutil
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.models import QuerySet

from fleet.exchange.actions.school_in import import_school
from fleet.exchange.queries.whole_school import tables, without_a_school
from fleet.ground.access import Role
from fleet.lending.models import Agreement, Loan
from fleet.people.models import User
from fleet.record.actions.sealing import seal
from fleet.record.models import Act, Deed
from fleet.record.queries.proving import proof_of
from fleet.register.models import Horn, Photograph
from fleet.signing.models import SignedSheet
from fleet.workshop.models import CheckPhotograph, Invoice, RepairJob
from tests import make
from tests.exchange.whole import emptied, furnish, out, rows_of


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

    back = import_school(file=file, at=make.NOW)

    after = rows_of(back)
    assert after.keys() == before.keys()
    for name, rows in before.items():
        assert after[name] == rows, name
    assert list(User.objects.order_by("email").values("email", "name", "is_active", "created")) == users
    assert {
        f"files/{file.name}": Path(file.path).read_bytes()
        for file in (
            Photograph.objects.get().image,
            CheckPhotograph.objects.get().image,
            SignedSheet.objects.get().file,
            Invoice.objects.get().file,
            Agreement.objects.get().own,
        )
    } == pictures
    # That it came in is the one thing that is new.
    QuerySet(Act).filter(deed=Deed.SCHOOL_BROUGHT_IN)._raw_delete("default")
    assert tables_in(out(back, tmp_path, "again.zip")) == tables_in(file)
    assert list(Horn.objects.having_words("ada quill", school=back)) == list(Horn.objects.at(back).filter(number="H-1"))


def test_rows_of_a_file_that_does_not_yet_name_their_school_are_the_schools(db, tmp_path):
    file, older = out(furnish(), tmp_path), tmp_path / "older.zip"
    new = {"loans-loan": {"school"}, "workshop-repairjob": {"school", "turn", "wants"}}
    before = (Loan.objects.count(), list(RepairJob.objects.order_by("pk").values_list("turn", "wants")))
    emptied()
    with zipfile.ZipFile(file) as archive, zipfile.ZipFile(older, "w") as other:
        parts = {part: archive.read(part) for part in archive.namelist()}
        facts = json.loads(parts["contents.json"])
        for table, columns in new.items():
            name = f"tables/{table}.csv"
            rows = list(csv.reader(io.StringIO(parts[name].decode(), newline="")))
            old, told = [at for at, column in enumerate(rows[0]) if column not in columns], io.StringIO(newline="")
            csv.writer(told).writerows([row[at] for at in old] for row in rows)
            parts[name] = told.getvalue().encode()
            facts["sha256"][name] = hashlib.sha256(parts[name]).hexdigest()
        for part, content in {**parts, "contents.json": json.dumps(facts).encode()}.items():
            other.writestr(part, content)

    back = import_school(file=older, at=make.NOW)

    jobs = RepairJob.objects.at(back).order_by("pk").values_list("turn", "wants")
    assert (Loan.objects.at(back).count(), list(jobs)) == before


def test_a_school_comes_into_a_site_that_has_other_schools_and_some_of_its_people(db, tmp_path, settings):
    school = furnish()
    before, file = rows_of(school), out(school, tmp_path)
    head = User.objects.get(posts__school=school, posts__role="head")
    emptied()
    shutil.rmtree(settings.MEDIA_ROOT)
    elsewhere = make.school(slug="vale")
    known = make.user(email=head.email, name="Known Here")
    make.horn(elsewhere, number="H-1")

    back = import_school(file=file, at=make.NOW)

    assert rows_of(back) == before
    assert back.posts.get(role="head").user == known
    assert User.objects.get(pk=known.pk).name == "Known Here"
    assert Horn.objects.at(elsewhere).count() == 1


def test_the_record_comes_along_and_still_proves_itself_with_other_keys(db, tmp_path):
    school = furnish()
    file, acts = out(school, tmp_path), Act.objects.of(school.pk).count()
    emptied()
    make.horn(elsewhere := make.school(slug="vale"), number="H-1")
    make.pupil(elsewhere)

    back = import_school(file=file, at=make.NOW)

    seal(school=back.pk)
    proof = proof_of(back.pk)
    assert (proof.wrong, proof.acts) == ([], acts + 1)
    changed = Act.objects.get(school=back, deed="horns.changed", told__contains="=1+1")
    assert changed.horn == Horn.objects.get(school=back, number="H-1")
    assert changed.by == User.objects.get(posts__school=back, posts__role="head")
    QuerySet(Act).filter(pk=changed.pk).update(told="[]")
    assert proof_of(back.pk).wrong == [f"Act {changed.number} was changed: what it tells."]


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
    assert ("sqlite_stat1" in connection.introspection.table_names()) is (connection.vendor == "sqlite")

    assert "Hill Road is open at /s/hill-road/." in capsys.readouterr().out
    assert list(tmp_path.glob(".*")) == []
