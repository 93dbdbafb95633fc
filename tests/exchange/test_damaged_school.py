"""A file of a school that is damaged, forged or does not fit brings in nothing."""

from __future__ import annotations

import hashlib
import json
import shutil
import zipfile
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection

from fleet.exchange.actions.school_in import import_school
from fleet.ground.refusal import Refused
from fleet.people.models import School, User
from fleet.register.models import Horn, Photograph
from tests import make
from tests.exchange.whole import emptied, furnish, out


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
            import_school(file=one, at=make.NOW)
    with pytest.raises(Refused, match="another version"):
        import_school(file=changed(file, "contents.json", json.dumps({**facts, "format": 99}).encode()), at=make.NOW)
    assert not School.objects.exists()
    assert not User.objects.exists()


def with_its_picture_called(file: Path, name: str, *, content: bytes | None) -> Path:
    """The school's file, its sums right, whose horn's photograph has that name, and that file too where it is given."""
    other = file.with_name("called.zip")
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(other, "w") as new:
        parts = {part: old.read(part) for part in old.namelist()}
        facts = json.loads(parts.pop("contents.json"))
        was = next(part for part in parts if part.startswith("files/horns/"))
        table = "tables/register-photograph.csv"
        parts[table] = parts[table].replace(was.removeprefix("files/").encode(), name.encode())
        del parts[was], facts["sha256"][was]
        if content is not None:
            parts[f"files/{name}"] = content
        facts["sha256"] = {part: hashlib.sha256(parts[part]).hexdigest() for part in [*facts["sha256"], *parts]}
        for part, one in {**parts, "contents.json": json.dumps(facts).encode()}.items():
            new.writestr(part, one)
    return other


@pytest.mark.parametrize("name", ["../secret", "/etc/secret", "horns/../../secret", "..\\secret", ".."])
@pytest.mark.parametrize("content", [b"let me in", None])
def test_a_picture_named_to_lie_elsewhere_brings_in_nothing(db, tmp_path, settings, name, content):
    file = out(furnish(), tmp_path)
    emptied()
    shutil.rmtree(settings.MEDIA_ROOT)
    there = sorted(tmp_path.rglob("*"))

    with pytest.raises(Refused, match="damaged"):
        import_school(file=with_its_picture_called(file, name, content=content), at=make.NOW)

    assert not School.objects.exists()
    left = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert set(left) - set(there) == {tmp_path / "called.zip"}


def test_a_picture_that_is_not_in_the_file_is_not_taken_from_another_school(db, tmp_path):
    file = out(furnish(), tmp_path)
    emptied()
    theirs = default_storage.save("horns/2026/theirs.jpg", ContentFile(b"of another school"))

    with pytest.raises(Refused, match="damaged"):
        import_school(file=with_its_picture_called(file, theirs, content=None), at=make.NOW)
    assert default_storage.exists(theirs)

    back = import_school(file=with_its_picture_called(file, "horns/2026/gone.jpg", content=None), at=make.NOW)
    assert Photograph.objects.get(horn__school=back).image.name == "horns/2026/gone.jpg"


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite takes words of any length")
def test_a_cell_too_long_for_its_column_brings_in_nothing(db, tmp_path):
    file = out(furnish(), tmp_path)
    emptied()

    with pytest.raises(Refused, match="damaged"):
        import_school(file=with_its_picture_called(file, "x" * 240, content=None), at=make.NOW)
    assert not School.objects.exists()


def test_a_school_that_does_not_fit_leaves_no_row_and_no_picture(db, tmp_path):
    school = furnish()
    file = out(school, tmp_path)
    code = Horn.objects.at(school).order_by("-pk")[0].label_code
    emptied()
    pictures = sorted(default_storage.listdir("horns/2026")[1] if default_storage.exists("horns/2026") else [])
    make.horn(make.school(slug="vale"), label_code=code)

    with pytest.raises(Refused, match="does not fit"):
        import_school(file=file, at=make.NOW)

    assert [one.slug for one in School.objects.all()] == ["vale"]
    assert Horn.objects.count() == 1
    assert sorted(default_storage.listdir("horns/2026")[1] if default_storage.exists("horns/2026") else []) == pictures
