"""How much longer this machine takes than the one on which the aims in seconds were set, told by a peer: a bare Django
site, begun in a process of its own. There its first page was ready after 0.19 s of the processor (least of seven, on
three nights at rest 0.18 to 0.20)."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping

from django.urls import reverse

from tests.bench.served.site import ROOT

BARE_SECONDS = 0.19
ROUNDS = 5
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
held = 0
if sys.platform == "linux":
    with open("/proc/self/status", encoding="ascii") as lines:
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


def begun(site: str = BARE, given: Mapping[str, str] = os.environ) -> tuple[float, float]:
    """(seconds of the processor to its first page, MB held before it) of a site that this code begins. What it holds
    Linux alone says, 0 another system."""
    command = [sys.executable, "-c", site + ASKED, reverse("account_login")]
    said = subprocess.run(command, cwd=ROOT, env={**given}, check=True, capture_output=True, text=True)
    status, took, held = said.stdout.split()
    if status != "200":
        raise RuntimeError(f"It answered {status}.")
    return float(took), int(held) / 1024


def times_slower(bare: float) -> float:
    """Of a machine that begins a bare site in so many seconds. A faster one is not asked for more."""
    return max(1.0, bare / BARE_SECONDS)


def pace() -> float:
    """How many times as long this machine takes now, the least of some rounds."""
    return times_slower(min(begun()[0] for _ in range(ROUNDS)))
