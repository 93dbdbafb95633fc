"""A whole school from the file `school_out` wrote, into an empty site or beside other schools: all of it or nothing."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterator
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any

from django.contrib.auth.hashers import make_password
from django.core.exceptions import SuspiciousFileOperation, ValidationError
from django.core.files import File
from django.core.files.storage import default_storage
from django.core.files.utils import validate_file_name
from django.db import DataError, IntegrityError, models, transaction
from django.db.models import QuerySet

from fleet.exchange.queries.packing import sum_of
from fleet.exchange.queries.whole_school import ACCOUNT, FORMAT, KEY, Table, read, references, tables
from fleet.exchange.reading.cells import plain
from fleet.ground.refusal import Refused
from fleet.people.actions.accounts import name_is_new
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep_all
from fleet.register.models import Horn

CHUNK = 500
NOT_OURS = "This is not a file that export_school wrote, or it is damaged."
DAMAGED = (
    zipfile.BadZipFile,
    csv.Error,
    KeyError,
    ValueError,
    StopIteration,
    ValidationError,
    DataError,
    SuspiciousFileOperation,
)


def import_school(
    *, file: Path, at: datetime, slug: str = "", another: bool = False, say: Callable[[str], None] = lambda words: None
) -> School:
    """Brings a school back in, under the address it had or the part of one given as `slug`.

    Raises Refused when the file is not whole, the address is taken, or a school of that name is here and it is not said
    that this is `another`.
    """
    kept: list[str] = []
    try:
        with zipfile.ZipFile(file) as archive, transaction.atomic():
            school = _School(archive, kept, say).take_in(slug, another)
            record(deed=Deed.SCHOOL_BROUGHT_IN, school=school, by=None, at=at)
            return school
    except BaseException as trouble:
        for name in kept:
            default_storage.delete(name)
        if isinstance(trouble, Refused) or not isinstance(trouble, Exception):
            raise
        if isinstance(trouble, IntegrityError) and "label_code" in str(trouble):
            raise Refused(
                "This file does not fit what is here already: labels of its horns are in use. Is the school here under "
                "another address?"
            ) from trouble
        if isinstance(trouble, IntegrityError):
            raise Refused(f"A row of this file does not fit what is here already: {trouble}.") from trouble
        if isinstance(trouble, DAMAGED):
            raise Refused(NOT_OURS) from trouble
        raise


class _School:
    """The taking in, with what it has to remember on the way: which row became which."""

    def __init__(self, archive: zipfile.ZipFile, kept: list[str], say: Callable[[str], None]) -> None:
        self.archive, self.kept, self.say = archive, kept, say
        self.facts = json.loads(archive.read("contents.json"))
        if self.facts.get("format") != FORMAT:
            raise Refused("This file was written by another version of the site; use that version to bring it in.")
        self.keys: dict[type[models.Model], dict[str, Any]] = {}
        self.later: dict[models.Field[Any, Any], list[tuple[Any, str]]] = {}

    def take_in(self, slug: str, another: bool) -> School:
        slug = slug or self.facts["school"]
        if School.objects.filter(slug=slug).exists():
            raise Refused(
                f"There is a school at /s/{slug}/ already. A school is brought into a site that has it not, or under "
                "another address with --at."
            )
        for name, total in self.facts["sha256"].items():
            if sum_of(self.archive, name) != total:
                raise Refused(NOT_OURS)
        self.school = next(self._rows("people-school")) | {"slug": slug}
        if not another:
            name_is_new(plain(self.school["name"]))
        self._accounts()
        for table in tables():
            count = self._table(table)
            if count != self.facts["rows"].get(table.name, 0):
                raise Refused(NOT_OURS)
            self.say(f"{table.name}: {count}")
        self._what_points_ahead()
        school = School.objects.get(slug=slug)
        keep_all(Horn.objects.at(school).values_list("pk", flat=True))
        return school

    def _rows(self, name: str) -> Iterator[dict[str, str]]:
        part = f"tables/{name}.csv"
        if part not in self.archive.namelist():
            # A table that came to be after the file was written.
            return
        csv.field_size_limit(100_000_000)
        with self.archive.open(part) as opened:
            yield from csv.DictReader(io.TextIOWrapper(opened, "utf-8", newline=""), strict=True)

    def _accounts(self) -> None:
        """People who have an account here keep it as it is; the others get one without a password."""
        here = {user.email: user for user in User.objects.all()} if User.objects.count() < 10_000 else {}
        self.keys[User] = {}
        for row in self._rows("people-user"):
            values = {name: read(User._meta.get_field(name), row[name]) for name in ACCOUNT}  # type: ignore[arg-type]
            user = here.get(values["email"]) or User.objects.of_address(values["email"])
            if user is None:
                user = User.objects.create(password=make_password(None), **values)
                # The column fills itself when a row is made.
                User.objects.filter(pk=user.pk).update(created=values["created"])
            self.keys[User][row[KEY]] = user.pk

    def _table(self, table: Table) -> int:
        rows = self._rows(table.name)
        mine = self.keys.setdefault(table.model, {})
        count = 0
        while chunk := list(islice(rows, CHUNK)):
            made = [self._made(table, self.school if table.model is School else row) for row in chunk]
            QuerySet[Any](table.model).bulk_create(made)
            for row, one in zip(chunk, made, strict=True):
                mine[row[KEY]] = one.pk
            count += len(chunk)
        return count

    def _made(self, table: Table, row: dict[str, str]) -> models.Model:
        made = table.model()
        for field in table.columns:
            other = references(field)
            if field.name not in row:
                if other is School:
                    # A table that has come to say of which school its rows are since the file was written.
                    setattr(made, field.attname, self.keys[School][self.school[KEY]])
                continue
            value = row[field.name]
            if other is None:
                kept = read(field, value)
                if isinstance(field, models.FileField) and kept:
                    kept = self._picture(str(kept))
                setattr(made, field.attname, kept)
            elif value.isdigit():
                if other is table.model or other not in self.keys:
                    self.later.setdefault(field, []).append((made, value))
                else:
                    setattr(made, field.attname, self.keys[other][value])
        # What a table has come to say since the file was written follows from what the row says.
        if hasattr(made, "complete"):
            made.complete()
        return made

    def _what_points_ahead(self) -> None:
        """References to rows that were not there yet when theirs was made."""
        for field, waiting in self.later.items():
            other: Any = references(field)
            for made, key in waiting:
                setattr(made, field.attname, self.keys[other][key])
            rows = [made for made, _ in waiting]
            QuerySet[Any](field.model).bulk_update(rows, [field.name], batch_size=200)

    def _picture(self, name: str) -> str:
        """Keeps a picture and says what it is called here. One that the other site had lost stays lost."""
        validate_file_name(name, allow_relative_path=True)
        part = f"files/{name}"
        if part not in self.archive.namelist():
            if default_storage.exists(name):
                # Somebody else's: the row would show it, and take it along when it is removed.
                raise Refused(NOT_OURS)
            return name
        with self.archive.open(part) as opened:
            saved = default_storage.save(name, File(opened, name=name))
        self.kept.append(saved)
        return saved
