"""The site in a process of its own, on the database of the tests, that can be killed and begun anew at one address."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import connection

from tests.exchange.sites import ROOT, address_of, own_environment

# Serves until it is killed: from outside, or by itself at the letter of that number. "midway" is when the first row of
# what was sent is written and not yet committed (where it writes none, of the next letter), "answered" when all is kept
# and the answer is not yet on its way.
SERVE = """
import os, signal, sys, django
django.setup()
from django.conf import settings
from django.db import connection
from waitress import create_server
settings.WHITENOISE_USE_FINDERS = True
from fleet.wsgi import application
port, when, left = int(sys.argv[1]), sys.argv[2], [int(sys.argv[3])]
def die():
    os.kill(os.getpid(), signal.SIGKILL)
def dying(execute, sql, *told):
    done = execute(sql, *told)
    if sql.startswith('INSERT'):
        die()
    return done
def mortal(environ, start_response):
    letter = environ['REQUEST_METHOD'] == 'POST'
    left[0] -= letter
    if not (when and letter and left[0] <= 0):
        return application(environ, start_response)
    if when == 'midway':
        with connection.execute_wrapper(dying):
            return application(environ, start_response)
    application(environ, start_response)
    die()
server = create_server(mortal, host='127.0.0.1', port=port)
print('here', flush=True)
server.run()
"""


class Mortal:
    def __init__(self, data: Path) -> None:
        self.port = 0
        self._hold()
        self.port = self.held.getsockname()[1]
        self.address = f"http://localhost:{self.port}"
        more = {"PYTHONPATH": str(ROOT), "DJANGO_SETTINGS_MODULE": "tests.settings", "HORN_SECRET": settings.SECRET_KEY}
        self.given = own_environment(data, DATABASE_URL=address_of(str(connection.settings_dict["NAME"])), **more)
        self.begin()

    def _hold(self) -> None:
        """The port is ours while nobody serves there: whoever connects is refused, and no other program gets it."""
        self.held = socket.socket()
        self.held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self.held.bind(("127.0.0.1", self.port))

    def begin(self, when: str = "", letter: int = 0) -> None:
        self.held.close()
        words = [sys.executable, "-c", SERVE, str(self.port), when, str(letter)]
        self.site = subprocess.Popen(words, env=self.given, cwd=ROOT, stdout=subprocess.PIPE, text=True)
        assert self.site.stdout is not None
        assert self.site.stdout.readline() == "here\n"

    @property
    def killed(self) -> bool:
        """Whether it has died by now, of nothing else."""
        if self.site.poll() is None:
            return False
        self._over()
        assert self.site.returncode == -signal.Signals["SIGKILL"]
        return True

    def kill(self) -> None:
        self.site.kill()
        self._over()

    def _over(self) -> None:
        self.site.wait()
        assert self.site.stdout is not None
        self.site.stdout.close()
        self._hold()


@contextmanager
def mortal(data: Path) -> Iterator[Mortal]:
    site = Mortal(data)
    try:
        yield site
    finally:
        site.kill()
        site.held.close()
