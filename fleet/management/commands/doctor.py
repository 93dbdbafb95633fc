"""Tries what the site needs where it stands, and says in sentences what is wrong."""

from __future__ import annotations

import json
import os
import shutil
import stat
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management.base import BaseCommand
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.template.defaultfilters import pluralize
from django.urls import reverse
from django.utils import timezone

from fleet.letters.queries.next import next_letters
from fleet.mail.actions.server import Away, Server
from fleet.mail.queries import gone_wrong, has_server, lying
from fleet.people.models import School
from fleet.record.models import Act, Deed

# Room for a day of photographs and one backup more.
LEAST_FREE = 2 * 1024**3
LONGEST_WITHOUT_BACKUP = timedelta(days=2)
PATIENCE = 10
# Where a server keeps what it starts by itself, among them what deploy/systemd has.
UNITS = Path("/etc/systemd/system")

# What was found: whether it is well, and the sentence.
Found = tuple[bool, str]


class Command(BaseCommand):
    help = "Try settings, data folder, database, address, mail and schedule; say what is wrong and how to mend it."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = 0
        for well, sentence in (
            *of_settings(),
            *of_data(),
            *of_pictures(),
            *of_database(),
            *of_address(),
            *of_issuers(),
            *of_watching(),
            *of_units(UNITS),
            *of_mail(),
        ):
            wrong += not well
            self.stdout.write(f"{'well ' if well else 'WRONG'}  {sentence}")
        if wrong:
            self.stdout.write(f"{wrong} to mend.")
            sys.exit(1)


def of_settings() -> Iterator[Found]:
    file = settings.SETTINGS_FILE
    # So a container says that it is one (systemd.io/CONTAINER_INTERFACE); ours says so by itself.
    if file is None and os.environ.get("container"):  # noqa: SIM112 - its own name
        yield True, "Settings come from the environment of this container, which every command in it is given."
    elif file is None and settings.SITE_ORIGIN:
        where = settings.BASE_DIR / "horn.toml"
        yield False, f"Settings come from the environment; cron and mail aliases carry none: write them into {where}."
    elif file is None:
        yield True, "Settings come from the environment alone."
    elif file.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        yield False, f"Others on this machine may get at the passwords in {file}: chmod 600 {file}"
    else:
        yield True, f"Settings come from {file}, and from the environment before it."
    yield True, f"Times are told in {settings.TIME_ZONE} (HORN_TIME_ZONE), unless a school has a zone of its own."


def of_data() -> Iterator[Found]:
    folder = settings.DATA_DIR
    free = shutil.disk_usage(folder).free
    yield free >= LEAST_FREE, f"{free // 1024**2:,} MB are free where the data lie, in {folder}."
    if folder.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        yield False, f"Others on this machine may look into {folder}: chmod 700 {folder}"


def of_pictures() -> Iterator[Found]:
    where = getattr(default_storage, "bucket_name", "") or "the data folder"
    try:
        name = default_storage.save("doctor/tried.txt", ContentFile(b"tried"))
        with default_storage.open(name) as file:
            whole = file.read() == b"tried"
        default_storage.delete(name)
    except OSError as trouble:
        yield False, f"Pictures cannot be kept in {where}: {trouble}"
        return
    yield whole, f"Pictures are kept in {where}, and come back as they were."


def of_database() -> Iterator[Found]:
    try:
        executor = MigrationExecutor(connection)
        steps = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError as trouble:
        yield False, f"The database does not answer: {trouble}".strip()
        return
    if steps:
        behind = f"{len(steps)} step{pluralize(steps)}"
        yield False, f"The database is {behind} behind this version: run manage.py prepare."
        return
    yield True, f"The database answers, in step with this version ({connection.display_name})."
    yield from of_schedule()


def of_schedule() -> Iterator[Found]:
    schools, now = list(School.objects.order_by("pk")), timezone.now()
    if not schools:
        yield True, "There is no school yet: manage.py begin makes one."
        return
    last = Act.objects.filter(deed=Deed.BACKED_UP).order_by("-at").values_list("at", flat=True).first()
    when = f"The last backup was made on {timezone.localtime(last):%Y-%m-%d}." if last else "No backup was ever made."
    yield last is not None and now - last <= LONGEST_WITHOUT_BACKUP, f"{when} Each night it is manage.py backup."
    if not has_server():
        return
    # What fell due yesterday: of today's letters the hour may not have come.
    late = sum(_left_lying(school, now - timedelta(days=1)) for school in schools)
    if late:
        yield False, f"{late} letter{pluralize(late)} should have gone yesterday: does manage.py remind run each hour?"
    else:
        yield True, "No letter has been left lying."
    if waiting := lying(now):
        codes = "code or notice waits" if waiting == 1 else "codes and notices wait"
        yield False, f"{waiting} {codes} for the mail server: manage.py send_mail says why."
    for became, count in gone_wrong().items():
        yield False, f"{count} of the codes and notices of the last two weeks: {became}."


def _left_lying(school: School, at: datetime) -> int:
    with timezone.override(school.zone):
        return next_letters(school, at).now


def of_address() -> Iterator[Found]:
    site = f"{settings.SITE_ORIGIN}{settings.SITE_PATH}"
    if not site:
        yield True, "The site is served to this computer alone; HORN_SITE names its address for others."
        return
    if not settings.SITE_IS_HTTPS:
        yield False, f"{site} is not on https: passwords would go in the clear."
    yield _asked(site)
    for host in settings.OTHER_HOSTS:
        yield _asked(site.replace(settings.SITE_HOST, host, 1))


def _asked(site: str) -> Found:
    try:
        # What is asked here is the site's own address, which may only be http or https.
        with urlopen(Request(f"{site}/account/sign-in/"), timeout=PATIENCE) as answer:  # noqa: S310
            return True, f"{site} answers (by {answer.status})."
    except HTTPError as trouble:
        why = {
            301: "leads back to itself: the proxy must pass X-Forwarded-Proto",
            400: "does not know its own name: the proxy must pass Host",
        }.get(trouble.code, f"answers by {trouble.code}")
        return False, f"{site} {why}."
    except OSError as trouble:
        return False, f"{site} cannot be reached from here: {getattr(trouble, 'reason', trouble)}."


def of_issuers() -> Iterator[Found]:
    """Whether each issuer of accounts says of itself what signing in by it needs (OpenID Connect Discovery 1.0)."""
    for one in settings.ISSUERS:
        try:
            # The settings take nothing but https, and http to this machine.
            with urlopen(f"{one.address}/.well-known/openid-configuration", timeout=PATIENCE) as answer:  # noqa: S310
                told = json.load(answer)
            lacks = [name for name in ("authorization_endpoint", "token_endpoint", "jwks_uri") if not told.get(name)]
        except (OSError, ValueError, AttributeError) as trouble:
            yield False, f"{one.name} cannot be asked at {one.address}: {getattr(trouble, 'reason', trouble)}."
            continue
        if told.get("issuer") != one.address:
            yield False, f"{one.name} calls itself {told.get('issuer')}: HORN_ISSUER_{one.key.upper()}_ADDRESS is that."
        elif lacks:
            yield False, f"{one.name} says nothing of {', '.join(lacks)}."
        else:
            back = f"{settings.SITE_ORIGIN}{reverse('account_by_issuer_back', args=[one.key])}"
            yield True, f"{one.name} answers, for staff at {' and '.join(one.domains)}; it must know {back}"


def of_watching() -> Iterator[Found]:
    """What nobody has to set: said, so that it is known."""
    hook = "HORN_ERROR_HOOK hears of errors" if settings.ERROR_HOOK else "nobody is told of errors (HORN_ERROR_HOOK)"
    figures = "has its key" if settings.FIGURES_KEY else "is closed (HORN_FIGURES_KEY)"
    yield True, f"What happens is written down as {settings.LOG_AS}; {hook}; /figures/ {figures}."
    if settings.SITE_ORIGIN:
        yield True, f"A way in is to be told to {settings.SECURITY_CONTACT or 'nobody (HORN_SECURITY_CONTACT)'}."


def of_units(folder: Path) -> Iterator[Found]:
    """Whether all that deploy/systemd has is there and wanted, where any of it is."""
    # A container has none of it.
    ours = {path.name: path for path in (settings.BASE_DIR / "deploy/systemd").glob("*")}
    there = [name for name in ours if (folder / name).exists()]
    if not there:
        return
    missing = sorted({*ours} - {*there})
    asleep = [name for name in sorted(there) if name.endswith(".timer") and not _is_wanted(folder, name)]
    if missing:
        yield False, f"Of deploy/systemd {', '.join(missing)} did not come to {folder}."
    if asleep:
        yield False, f"Never started by themselves: systemctl enable --now {' '.join(asleep)}"
    if not missing and not asleep:
        yield True, f"All of deploy/systemd is in {folder} and started by itself."


def _is_wanted(folder: Path, timer: str) -> bool:
    return (folder / "timers.target.wants" / timer).is_symlink()


def of_mail() -> Iterator[Found]:
    if not has_server():
        yield not settings.SITE_ORIGIN, "No mail server is set (HORN_MAIL_HOST): letters and codes go to the terminal."
        return
    where, server = f"{settings.EMAIL_HOST}:{settings.EMAIL_PORT}", Server()
    try:
        server.reach()
    except Away as trouble:
        yield False, f"The mail server {where} does not let us in: {trouble}"
        return
    server.close()
    yield True, f"The mail server {where} lets us in; letters come from {settings.DEFAULT_FROM_EMAIL}."
