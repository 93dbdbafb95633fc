"""What a backup of the whole site is: one .zip file with the database, the pictures and a word on itself."""

from __future__ import annotations

import json
import zipfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.core.exceptions import SuspiciousFileOperation
from django.core.files.utils import validate_file_name
from django.db.migrations.loader import MigrationLoader

from fleet.exchange.queries.packing import sum_of
from fleet.ground.refusal import Refused

FORMAT = 1
CONTENTS = "contents.json"
PICTURES = "pictures/"
# The part that is the database, by the engine it is of.
DATABASE = {"sqlite": "horns.sqlite3", "postgresql": "horns.pgdump"}
# Sessions end with a restore; counters of the throttles say nothing afterwards; what waits for the mail server
# goes from here, and its codes are nobody else’s.
LEFT_OUT = ("django_session", "throttle_counters", "mail_outgoing")
DAMAGED = "This is not a file that backup wrote, or it is damaged."


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was looked through: every part is as it was written, and this version of the site can read it."""

    file: Path
    at: datetime
    engine: str
    # Names within the folder of pictures, and their SHA-256.
    pictures: dict[str, str]


def looked_through(file: Path) -> Backup:
    """Opens a backup and reads it from end to end. Raises Refused when it is damaged or of a newer version."""
    try:
        with zipfile.ZipFile(file) as archive:
            facts = json.loads(archive.read(CONTENTS))
            if facts["format"] > FORMAT or not _known(facts["migrations"]):
                raise Refused("This backup is of a newer version of the site. Update the site, then restore it.")
            sums, engine = facts["sha256"], facts["engine"]
            if set(archive.namelist()) != {CONTENTS, *sums} or DATABASE[engine] not in sums:
                raise Refused(DAMAGED)
            if any(sum_of(archive, name) != total for name, total in sums.items()):
                raise Refused(DAMAGED)
            pictures = {name.removeprefix(PICTURES): sums[name] for name in sums if name != DATABASE[engine]}
            for name in pictures:
                validate_file_name(name, allow_relative_path=True)
            return Backup(file, datetime.fromisoformat(facts["at"]), engine, pictures)
    except (zipfile.BadZipFile, KeyError, ValueError, TypeError, EOFError, RuntimeError) as trouble:
        raise Refused(DAMAGED) from trouble
    except SuspiciousFileOperation as trouble:
        raise Refused(DAMAGED) from trouble


def _known(migrations: list[list[str]]) -> bool:
    ours = MigrationLoader(None).disk_migrations
    return {(app, name) for app, name in migrations} <= ours.keys()
