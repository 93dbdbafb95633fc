"""How long a worker takes from its start to its first page, and what it holds at rest, beside a bare Django site.

Each is begun some times in a process of its own, as gunicorn begins a worker, in turns; its first page is the one to
sign in on, the bare site's a line of text with sessions, accounts and messages behind it. Seconds are those of the
process's processor, so that a busy machine counts little, the least of the rounds; megabytes those it holds (VmRSS),
before any page. Linux alone says them.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from typing import Any

from django.core.management.base import BaseCommand
from django.urls import reverse

from tests.bench.served.site import ROOT

MOST_SECONDS, MOST_MB = 0.5, 70.0
OURS = "from fleet.wsgi import application"
BARE = """
from django.conf import settings
from django.http import HttpResponse
from django.urls import path
urlpatterns = [path("<path:any>", lambda request, any: HttpResponse(f"{request.user} is here"))]
parts = ["django.contrib." + name for name in ("auth", "contenttypes", "messages", "sessions", "staticfiles")]
middleware = ["security.SecurityMiddleware", "common.CommonMiddleware", "csrf.CsrfViewMiddleware"]
settings.configure(
    SECRET_KEY="x" * 50, ALLOWED_HOSTS=["127.0.0.1"], ROOT_URLCONF=__name__, INSTALLED_APPS=parts,
    MIDDLEWARE=["django.contrib.sessions.middleware.SessionMiddleware", *("django.middleware." + m for m in middleware),
        "django.contrib.auth.middleware.AuthenticationMiddleware",
        "django.contrib.messages.middleware.MessageMiddleware"],
    DATABASES={"default": {"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}},
    TEMPLATES=[{"BACKEND": "django.template.backends.django.DjangoTemplates", "APP_DIRS": True}],
)
from django.core.wsgi import get_wsgi_application
application = get_wsgi_application()
from django.urls import get_resolver
get_resolver().url_patterns
"""
ASKED = """
import sys, time
from io import BytesIO
with open("/proc/self/status") as lines:
    held = next(int(line.split()[1]) for line in lines if line.startswith("VmRSS"))
answers = []
environ = {
    "REQUEST_METHOD": "GET", "PATH_INFO": sys.argv[1], "SERVER_NAME": "127.0.0.1", "SERVER_PORT": "80",
    "SERVER_PROTOCOL": "HTTP/1.1", "wsgi.url_scheme": "http", "wsgi.input": BytesIO(), "wsgi.errors": sys.stderr,
    "wsgi.version": (1, 0), "wsgi.multithread": True, "wsgi.multiprocess": True, "wsgi.run_once": False,
}
page = b"".join(application(environ, lambda status, headers, *more: answers.append(status)))
print(answers[0][:3], time.process_time(), held)
"""


class Command(BaseCommand):
    help = "Time a worker's start and its first page, and what it holds. Exits 1 when either is over its aim."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--rounds", type=int, default=7, help="how often each is begun (3 to 50)")

    def handle(self, *args: Any, rounds: int, **options: Any) -> None:
        rounds = min(max(rounds, 3), 50)
        sites = {"ours": OURS, "a bare site": BARE}
        told: dict[str, list[tuple[float, float]]] = {name: [] for name in sites}
        with tempfile.TemporaryDirectory(prefix="horn-bench-") as folder:
            # Code is compiled once, by the first round, which does not count.
            given = {**os.environ, "HORN_DATA": folder, "PYTHONDONTWRITEBYTECODE": ""}
            subprocess.run(
                [sys.executable, "manage.py", "prepare"], cwd=ROOT, env=given, check=True, capture_output=True
            )
            for turn in range(-1, rounds):
                for name, begin in sites.items():
                    command = [sys.executable, "-c", begin + ASKED, reverse("account_login")]
                    said = subprocess.run(command, cwd=ROOT, env=given, check=True, capture_output=True, text=True)
                    status, took, held = said.stdout.split()
                    if status != "200":
                        raise RuntimeError(f"{name} answered {status}.")
                    told[name] += [(float(took), int(held) / 1024)] if turn >= 0 else []
        least = {name: (min(s for s, _ in rows), min(mb for _, mb in rows)) for name, rows in told.items()}
        for name, (seconds, mb) in least.items():
            self.stdout.write(f"{name:12}{seconds:6.2f} s to the first page, {mb:5.1f} MB at rest\n")
        (seconds, mb), (bare, bare_mb) = least["ours"], least["a bare site"]
        good = seconds <= MOST_SECONDS and mb <= MOST_MB
        self.stdout.write(
            f"{'Reached' if good else 'MISSED'}: {seconds / bare:.1f} times a bare site's start and {mb - bare_mb:.0f} "
            f"MB more; wanted {MOST_SECONDS} s and {MOST_MB:.0f} MB.\n"
        )
        if not good:
            sys.exit(1)
