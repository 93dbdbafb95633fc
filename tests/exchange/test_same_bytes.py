"""A whole school gives the same files, byte by byte, on every engine and however its rows lie in the database.

Kept is one school's file. Each engine takes it in and writes it again. HORN_STANDING=keep writes it anew, from a
school with a row in every table: when a table says something new, or a loan sheet is drawn in another way.
"""

from __future__ import annotations

import os
import re
import shutil
import zipfile
import zlib
from pathlib import Path

import pytest
from django.db.models import F, QuerySet

from fleet.exchange.actions.school_in import import_school
from fleet.exchange.queries.school_out import export_school
from fleet.exchange.queries.whole_school import tables
from fleet.people.models import School
from fleet.record.models import Act, Chain, Deed
from tests import make
from tests.exchange.whole import emptied, furnish, out

KEPT = Path(__file__).parent.parent / "fixtures" / "school.zip"
STREAM = re.compile(rb"stream\r?\n(.*?)\r?\nendstream", re.DOTALL)


def unpacked(print_: bytes) -> bytes:
    """A print without its packing, which is another where Python was built with another zlib."""
    return b"\n".join(zlib.decompress(found[1]) for found in STREAM.finditer(print_))


def parts(file: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(file) as archive:
        found = {name: archive.read(name) for name in archive.namelist()}
    return {name: unpacked(content) if name.endswith(".pdf") else content for name, content in found.items()}


@pytest.fixture
def came_in(db, tmp_path, settings) -> School:
    """The kept school, as it was: that it came in is the one thing that is new."""
    if os.environ.get("HORN_STANDING") == "keep":
        shutil.copy(out(furnish(), tmp_path), KEPT)
        emptied()
        shutil.rmtree(settings.MEDIA_ROOT)
    school = import_school(file=KEPT, at=make.NOW)
    QuerySet(Act).filter(deed=Deed.SCHOOL_BROUGHT_IN)._raw_delete("default")
    return school


def moved_about() -> None:
    """Every row written again, the last first: PostgreSQL then finds them in another order, unless it is told which."""
    for table in tables():
        rows = QuerySet(table.model)
        column = table.columns[0].attname
        for key in rows.order_by("-pk").values_list("pk", flat=True):
            rows.filter(pk=key).update(**{column: F(column)})


def test_the_kept_school_has_a_row_in_every_table(came_in):
    assert [table.name for table in tables() if not table.rows_of(came_in).exists()] == []
    assert Chain.objects.filter(school=came_in).exists()


def test_a_school_gives_the_same_bytes_on_this_engine_as_on_the_one_that_wrote_the_kept_file(came_in, tmp_path):
    again, kept = parts(out(came_in, tmp_path)), parts(KEPT)

    assert again.keys() == kept.keys()
    assert [name for name in kept if again[name] != kept[name]] == []


def test_rows_that_were_written_again_in_another_order_change_no_byte(came_in, tmp_path):
    before = out(came_in, tmp_path)
    moved_about()

    assert out(came_in, tmp_path, "again.zip").read_bytes() == before.read_bytes()


def test_another_moment_changes_nothing_but_what_says_so(came_in, tmp_path):
    before, later = out(came_in, tmp_path), tmp_path / "later.zip"
    export_school(school=came_in, to=later, at=make.NOW.replace(day=15))

    assert [name for name, content in parts(later).items() if content != parts(before)[name]] == [
        "READ ME.txt",
        "contents.json",
    ]
