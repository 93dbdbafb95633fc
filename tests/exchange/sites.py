"""Sites with a database and a data folder of their own, run in other processes, which may be killed on the way."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote
from uuid import uuid4

import psycopg
from django.db import connection

ROOT = Path(__file__).resolve().parents[2]
BEGIN = "import sys, django; django.setup(); from django.core.management import call_command as call\n"
FURNISH = (
    BEGIN
    + "call('migrate', verbosity=0); call('createcachetable'); from tests.exchange.whole import furnish; furnish()\n"
)
ROWS = BEGIN + (
    "import json; from tests.exchange.whole import rows_of; from fleet.people.models import School\n"
    "print(json.dumps([rows_of(one) for one in School.objects.order_by('pk')], default=str))\n"
)
LAST_ACTS = BEGIN + (
    "from fleet.record.models import Act, Chain\n"
    "for end in Chain.objects.exclude(school=None):\n"
    "    act = Act.objects.get(school=end.school, number=end.number)\n"
    "    print(act.deed, 'by', act.by_name or 'nobody', 'of', act.lines[0][1])\n"
)
# Runs the code ACT again and again in a process of its own, killed at its first step, at its second and so on until one
# comes to its end. A step is whatever Python tells its auditors of that touches the folder, a database or a program.
# After each the code AFTER runs in a process of its own, and says a word: a line each.
KILLED_AT_EACH_STEP = """
import os, signal, sys, traceback, django
django.setup()
folder, act, after = sys.argv[1:]
STEPS = {'open', 'os.rename', 'os.remove', 'os.mkdir', 'sqlite3.connect', 'subprocess.Popen'}
def in_its_own(act):
    pid = os.fork()
    if pid == 0:
        try:
            act()
            sys.stdout.flush()
            os._exit(0)
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(3)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
def killed_at(last):
    left = [last]
    def watch(event, told):
        if event in STEPS and (event == 'subprocess.Popen' or any(folder in str(one) for one in told)):
            left[0] -= 1
            if left[0] == 0:
                os.kill(os.getpid(), signal.SIGKILL)
    sys.addaudithook(watch)
    exec(act, {})
step = 0
while True:
    step += 1
    code = in_its_own(lambda: killed_at(step))
    assert code in (0, -signal.SIGKILL), code
    assert in_its_own(lambda: exec(after, {'done': code == 0})) == 0
    if code == 0:
        break
"""


def own_environment(data: Path, **more: str) -> dict[str, str]:
    """What a process of its own is given: its data folder and `more`, and nothing of the site that tests it."""
    # The browser tests allow what a server must not; that they ran before in this process may not matter there.
    ours = {"DATABASE_URL", "DJANGO_SETTINGS_MODULE", "DJANGO_ALLOW_ASYNC_UNSAFE", "HORN_SITE"}
    kept = {name: value for name, value in os.environ.items() if name not in ours}
    return {**kept, "HORN_DATA": str(data), **more}


class Site:
    def __init__(self, folder: Path, address: str) -> None:
        self.data, self.address = folder / "data", address
        self.data.mkdir(parents=True, exist_ok=True)

    def _started(self, words: list[str], **more: Any) -> subprocess.CompletedProcess[str]:
        given = own_environment(self.data, PYTHONPATH=str(ROOT), DJANGO_SETTINGS_MODULE="fleet.settings")
        if self.address:
            given["DATABASE_URL"] = self.address
        command = [sys.executable, "-X", "utf8", *words]
        return subprocess.run(
            command, env=given, capture_output=True, text=True, encoding="utf-8", check=False, timeout=600, **more
        )

    def manage(self, *words: str, refused: bool = False, **more: Any) -> str:
        """What the command says; where it is to be refused, its one sentence."""
        done = self._started([str(ROOT / "manage.py"), *words], **more)
        assert done.returncode == refused, done.stdout + done.stderr
        assert "Traceback" not in done.stderr
        return done.stderr.strip() if refused else done.stdout

    def python(self, code: str, *words: str, **more: Any) -> str:
        done = self._started(["-c", code, *words], **more)
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def rows(self) -> Any:
        return json.loads(self.python(ROWS))

    def last_acts(self) -> list[str]:
        """The last act on the record of each school: the deed, by whom, and the first thing it tells."""
        return self.python(LAST_ACTS).splitlines()

    def pictures(self) -> dict[str, bytes]:
        folder = self.data / "pictures"
        return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}

    def killed_at_each_step(self, act: str, *, after: str) -> list[str]:
        """What AFTER said after each kill, and last after the run that came to its end."""
        return self.python(KILLED_AT_EACH_STEP, str(self.data), act, after).splitlines()


def but_for_the_record(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The rows of each school without its record, which tells of backup and restore."""
    return [{table: many for table, many in one.items() if not table.startswith("record-")} for one in rows]


@contextmanager
def own_sites(folder: Path) -> Iterator[Callable[..., Site]]:
    """Makes sites on the engine that is being tried: empty ones, or like another that nobody is using."""
    with ExitStack() as later:

        def made(like: Site | None = None) -> Site:
            name = f"site_{uuid4().hex}"
            if like is not None:
                shutil.copytree(like.data, folder / name / "data")
            if connection.vendor == "sqlite":
                return Site(folder / name, "")
            template = like.address.rpartition("/")[2] if like else "template0"
            return Site(folder / name, later.enter_context(_database(name, template)))

        yield made


@contextmanager
def _database(name: str, template: str) -> Iterator[str]:
    to = {key: value for key, value in connection.get_connection_params().items() if key in {"host", "port", "user"}}
    to |= {"password": connection.settings_dict["PASSWORD"] or None, "autocommit": True}
    with psycopg.connect(dbname=connection.settings_dict["NAME"], **to) as server:
        server.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
    try:
        yield address_of(name)
    finally:
        with psycopg.connect(dbname=connection.settings_dict["NAME"], **to) as server:
            server.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


def address_of(name: str) -> str:
    """Where another process finds the database of this name, on the engine that is being tried."""
    if connection.vendor == "sqlite":
        return f"sqlite:///{name}"
    said = {key: quote(str(value or ""), safe="") for key, value in connection.settings_dict.items()}
    who = f"{said['USER']}:{said['PASSWORD']}@" if said["USER"] else ""
    return f"postgres://{who}{said['HOST']}{said['PORT'] and ':'}{said['PORT']}/{name}"
