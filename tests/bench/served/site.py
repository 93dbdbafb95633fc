"""The site of a benchmark's own database, served as README and `deploy` have it served, and who is signed in there."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from http.client import HTTPConnection, HTTPException
from pathlib import Path

from django.conf import settings
from django.db import connection

from fleet.people.models import User
from tests.browser_client import Browser
from tests.ports import free_port

ROOT = Path(__file__).resolve().parents[3]


def signed_in(user: User) -> dict[str, str]:
    browser = Browser()
    browser.come_as(user)
    return {name: one.value for name, one in browser.cookies.items()}


def prepared(folder: Path) -> dict[str, str]:
    """The environment in which the site's own commands work on the benchmark's database, its styles gathered."""
    said = connection.settings_dict
    if connection.vendor == "sqlite":
        address = f"sqlite:///{said['NAME']}"
    else:
        who = f"{said['USER']}:{said['PASSWORD']}@{said['HOST'] or 'localhost'}:{said['PORT'] or 5432}"
        address = f"postgres://{who}/{said['NAME']}"
    given = {
        **os.environ,
        "HORN_DATA": str(folder),
        "DATABASE_URL": address,
        "HORN_SECRET": settings.SECRET_KEY,
    }
    subprocess.run([sys.executable, "manage.py", "prepare"], cwd=ROOT, env=given, check=True, capture_output=True)
    return given


@contextmanager
def served(folder: Path) -> Iterator[list[int]]:
    """The ports at which the site of the benchmark's own database is served, until it is over."""
    given, instances = prepared(folder), 1 if connection.vendor == "sqlite" else 2
    ports = [free_port() for _ in range(instances)]
    with ExitStack() as running:
        for port in ports:
            words = ["manage.py", "serve", "--no-demo", "--port", str(port)]
            if connection.vendor == "postgresql":
                words = ["-m", "gunicorn", "--config", "deploy/gunicorn.conf.py", "--bind", f"127.0.0.1:{port}"]
            quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
            site = running.enter_context(
                subprocess.Popen([sys.executable, *words], cwd=ROOT, env=given, **quiet)  # type: ignore[call-overload]
            )
            running.callback(site.terminate)
            answers(port)
        yield ports


def answers(port: int) -> None:
    """Waits until the site answers, half a minute at most: gunicorn lets in before a worker has read the site."""
    until = time.monotonic() + 30
    while True:
        line = HTTPConnection("127.0.0.1", port, timeout=30)
        try:
            line.request("GET", "/alive/")
            line.getresponse().read()
            return
        except (OSError, HTTPException):
            if time.monotonic() > until:
                raise
            time.sleep(0.1)
        finally:
            line.close()
