"""What every answer carries, what a site on https says besides, what is written down, and what the code never does."""

from __future__ import annotations

import ast
import gzip
import json
import logging
import re
from datetime import UTC, datetime
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from fleet.ground.access import Role
from fleet.policies import POLICIES
from tests import make
from tests.house import ROOT, modules
from tests.people.entrance import by_password, teacher
from tests.test_settings import manage

# Prints the headers of a page asked for on either way, and every cookie that the site can set.
ON_HTTPS = """
import json; from django.contrib.messages import SUCCESS; from django.http import HttpResponse
from django.test import Client, RequestFactory
from fleet.messages import InCookie; from fleet.people.queries.known_devices import remember
from django.conf import settings as s
host = {"HTTP_HOST": "horns.example.org"}
plain = Client().get("/account/sign-in/", **host)
page = Client().post("/alive/", HTTP_X_FORWARDED_PROTO="https", **host)
set_by_us = HttpResponse(); request = RequestFactory().get("/")
remember(request, set_by_us, "a@example.org")
told = InCookie(request); told.add(SUCCESS, "Kept."); told.update(set_by_us)
cookies = {name: [one["secure"], one["httponly"], one["samesite"], one["path"], one["domain"]]
           for name, one in set_by_us.cookies.items()}
for kind in ("SESSION", "CSRF"):
    name, *flags = (getattr(s, f"{kind}_COOKIE_{x}") for x in "NAME SECURE HTTPONLY SAMESITE PATH DOMAIN".split())
    cookies[name] = [*flags[:-1], flags[-1] or ""]
print(json.dumps([plain.status_code, plain.url, s.SECURE_REDIRECT_EXEMPT, dict(page.headers), cookies]))
"""


def test_a_site_on_https_is_on_https_only_and_its_cookies_are_of_this_host_alone(tmp_path):
    answer = manage("shell", "-v", "0", "-c", ON_HTTPS, data=tmp_path, HORN_SITE="https://horns.example.org")

    assert answer.returncode == 0, answer.stderr
    status, leads_to, for_programs, headers, cookies = json.loads(answer.stdout.splitlines()[-1])
    assert (status, leads_to) == (301, "https://horns.example.org/account/sign-in/")
    assert for_programs == ["^calendar/"]
    assert headers["Strict-Transport-Security"] == "max-age=31536000"
    assert sorted(cookies) == ["__Host-horn_csrf", "__Host-horn_known", "__Host-horn_session", "__Host-messages"]
    assert set(map(tuple, cookies.values())) == {(True, True, "Lax", "/", "")}


@pytest.mark.django_db
@pytest.mark.parametrize("asked", ["a page", "nowhere", "a file", "another host", "a post without proof", "alive"])
def test_every_answer_carries_the_policies(asked, settings):
    settings.WHITENOISE_USE_FINDERS = True
    client = Client(enforce_csrf_checks=True, headers={"Origin": "https://elsewhere.example.org"})

    answer = {
        "a page": lambda: client.get("/account/sign-in/"),
        "nowhere": lambda: client.get("/nowhere/"),
        "a file": lambda: client.get("/static/fleet/outbox.js"),
        "another host": lambda: client.get("/alive/", headers={"Host": "elsewhere.example.org"}),
        "a post without proof": lambda: client.post("/account/sign-in/", {}),
        "alive": lambda: client.get("/alive/"),
    }[asked]()

    assert answer.status_code == 200 or asked != "a file"
    answer.close()
    assert {name: answer.headers.get(name) for name in POLICIES} == POLICIES
    assert "Access-Control-Allow-Origin" not in answer.headers
    kind = answer.headers["Content-Type"].replace('"', "")
    assert "charset=utf-8" in kind if kind.startswith("text/") else kind
    policy = POLICIES["Content-Security-Policy"]
    assert {"object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"} <= set(policy.split("; "))
    assert "unsafe" not in policy


@pytest.mark.django_db
def test_no_page_for_somebody_signed_in_stays_in_the_browser(as_):
    school = make.school()

    answer = as_(make.staff(Role.TEACHER, school)).get(f"/s/{school.slug}/pupils/")

    assert answer.headers["Cache-Control"] == "private, no-store"


@pytest.mark.django_db
def test_pages_go_compressed_and_no_two_of_the_same_size_while_files_go_as_they_are(as_):
    school = make.school()
    browser = as_(make.staff(Role.HEAD, school))
    for _ in range(30):
        make.horn(school)
    asked = {"Accept-Encoding": "gzip, br"}

    plain = browser.get(f"/s/{school.slug}/horns/")
    pages = [browser.get(f"/s/{school.slug}/horns/", headers=asked) for _ in range(8)]
    file = browser.get(f"/s/{school.slug}/exchange/horns/?as=csv", headers=asked)
    kept = browser.get(f"/s/{school.slug}/along/kept.json", headers=asked)

    assert "Content-Encoding" not in plain.headers
    assert {page.headers["Content-Encoding"] for page in pages} == {"gzip"}
    assert "Accept-Encoding" in pages[0].headers["Vary"]
    assert gzip.decompress(pages[0].content).endswith(plain.content[-100:])
    assert len(pages[0].content) < len(plain.content) / 3
    assert len({len(page.content) for page in pages}) > 1
    assert file.headers["Content-Type"].startswith("text/csv")
    assert "Content-Encoding" not in file.headers
    assert kept.headers["Content-Encoding"] == "gzip"


@pytest.mark.django_db
@pytest.mark.parametrize("address", ["/alive/", "/account/sign-in/", "/static/fleet/outbox.js", "/nowhere/"])
def test_nothing_that_was_sent_is_handed_back_as_a_trace(client, address):
    answer = client.generic("TRACE", address, headers={"X-Told": "between us"})

    assert b"between us" not in b"".join(answer)
    assert not answer.headers["Content-Type"].startswith("message/http")


@pytest.mark.django_db
@pytest.mark.parametrize(
    "address",
    [
        "/.git/config",
        "/.git/",
        "/static/",
        "/static/fleet/",
        "/static/../data/secret",
        "/static/%2e%2e/data/secret",
        "/data/secret",
        "/pictures/",
        "/media/",
        "/fleet/settings.py",
        "/SECURITY.md",
        "/admin/",
    ],
)
def test_nothing_of_the_sites_folders_is_handed_out(client, address):
    assert client.get(address).status_code == 404


@pytest.mark.django_db
def test_who_is_refused_a_page_or_a_row_is_written_down_by_number_and_page(as_, caplog):
    school, other = make.school(), make.school()
    person = make.staff(Role.TECHNICIAN, school)
    client = as_(person)
    client.get(f"/s/{school.slug}/pupils/?q=Somebody")
    client.post(f"/s/{other.slug}/settings/", {"name": "Taken"})
    client.get(f"/s/{school.slug}/horns/7/")
    as_(None).get("/calendar/no-such-secret.ics")
    client.get("/nowhere/")

    told = [one.getMessage() for one in caplog.records if one.name == "fleet"]
    assert told == [
        f"Account {person.pk}: GET people:pupils was answered 403",
        f"Account {person.pk}: POST people:settings was answered 404",
        f"Account {person.pk}: GET desk:horn was answered 404",
        "Account None: GET calendar-feed was answered 404",
    ]


@pytest.mark.django_db
def test_a_password_that_is_not_looked_at_any_more_is_written_down_without_what_was_typed(client, caplog):
    person = teacher()
    for _ in range(6):
        by_password(client, person.email, "wrong as can be")

    told = [one.getMessage() for one in caplog.records if one.name == "fleet.people"]
    assert told == [f"Too many wrong passwords for account {person.pk}: this one was not looked at"]


@pytest.mark.django_db
def test_no_address_makes_a_line_of_its_own_in_what_is_written_down(client, caplog):
    client.get("/nowhere/%0A2026-11-27%20Account%207%20signed%20in")

    assert [one.getMessage().splitlines() for one in caplog.records if "nowhere" in one.getMessage()] == [
        ["Not Found: /nowhere/\\n2026-11-27 Account 7 signed in"]
    ]


def test_what_is_written_down_carries_its_moment_with_the_offset():
    written = logging.Formatter(style="{", **_as_arguments(settings.LOGGING["formatters"]["plain"]))
    record = logging.LogRecord("x", logging.WARNING, "", 0, "Said", (), None)

    moment = datetime.fromisoformat(written.format(record).split(" ")[0])

    assert moment.tzinfo is not None
    assert moment.astimezone(UTC).timestamp() == int(record.created)


def _as_arguments(said: dict[str, str]) -> dict[str, str]:
    return {"fmt": said["format"], "datefmt": said["datefmt"]}


# Who may speak to another machine, or start a program: the port of this computer, the mail, PostgreSQL's own programs.
REACHING_OUT = {
    "socket": {"fleet.management.commands.serve"},
    "subprocess": {"fleet.exchange.queries.site_out", "fleet.exchange.actions.site_in"},
    "smtplib": {"fleet.mail.actions.server"},
    "storages.backends.s3": {"fleet.ground.files.shared"},
    # It asks the site's own address, as the settings have it, when whoever runs the site says so.
    "urllib.request": {"fleet.management.commands.doctor"},
    # It reads what our own engraver wrote; what comes in is read by defusedxml, or by expat without entities.
    "xml.etree.ElementTree": {"identify.core.drawing.engraving", "identify.core.drawing.notation"},
}
NEVER = {
    "urllib3",
    "http.client",
    "requests",
    "httpx",
    "aiohttp",
    "ftplib",
    "telnetlib",
    "xmlrpc",
} | {*("asyncio", "pickle", "marshal", "shelve", "yaml", "os.system")}


def reached_in(tree: ast.AST) -> set[str]:
    """Which of them are imported, in whichever way, or called by their whole name."""
    named = {ast.unparse(one) for one in ast.walk(tree) if isinstance(one, ast.Attribute)}
    for one in ast.walk(tree):
        if isinstance(one, ast.Import):
            named |= {name.name for name in one.names}
        elif isinstance(one, ast.ImportFrom):
            named |= {str(one.module), *(f"{one.module}.{name.name}" for name in one.names)}
    return named & (NEVER | set(REACHING_OUT))


def test_only_the_named_files_reach_out_of_the_site_and_none_unpacks_objects():
    found: dict[str, set[str]] = {}
    for name, module in modules().items():
        for reached in reached_in(module.tree):
            found.setdefault(reached, set()).add(name)

    assert found == REACHING_OUT
    assert reached_in(ast.parse("from urllib import request\nimport os\nos.system('x')")) == {
        "urllib.request",
        "os.system",
    }


RUNS = {"eval", "exec", "compile", "__import__"}


def test_no_code_is_run_that_was_put_together():
    called = [
        (name, node.func.id)
        for name, module in modules().items()
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in RUNS
    ]

    assert called == []


def test_every_form_names_the_fields_it_takes():
    """Each `Meta` of a form lists them, so that a new column is in no form by itself."""
    taken = [
        (name, ast.unparse(one))
        for name, module in modules().items()
        if ".forms" in name
        for meta in ast.walk(module.tree)
        if isinstance(meta, ast.ClassDef) and meta.name == "Meta"
        for one in meta.body
        if isinstance(one, ast.Assign) and ast.unparse(one.targets[0]) in {"fields", "exclude"}
    ]

    assert len(taken) > 3
    assert [one for one in taken if not one[1].startswith(("fields = [", "fields = ("))] == []


SCRIPTS = sorted(path for folder in ("fleet", "identify") for path in (ROOT / folder / "static").rglob("*.js"))
# What would make a page or a program of words; `document.write` shows a whole page of our own, `count.js` empties what
# an older version left in the browser, and `tap.js` speaks to the page that it belongs to. What lies in a tab alone,
# and goes with it, is what was typed and not yet answered, and which walk of the outbox it is.
DANGEROUS = re.compile(
    r"\b(innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval|Function|postMessage|localStorage|sessionStorage"
    r"|__proto__|document\.cookie)\b"
)
SAID = {
    ("kept-check.js", "document.write"),
    ("count.js", "localStorage"),
    ("tap.js", "postMessage"),
    ("typed.js", "sessionStorage"),
    ("kept-check.js", "sessionStorage"),
    ("kept-walk.js", "sessionStorage"),
}


def test_scripts_write_words_as_words_and_keep_nothing_for_good_but_in_the_outbox():
    assert len(SCRIPTS) > 5
    found = {(path.name, word) for path in SCRIPTS for word in DANGEROUS.findall(path.read_text(encoding="utf-8"))}

    assert found == SAID
    assert not any("localStorage.setItem" in path.read_text(encoding="utf-8") for path in SCRIPTS)


def test_passwords_are_kept_as_django_keeps_them_and_no_more_weakly():
    from fleet import settings as ours

    given: dict[str, Any] = vars(ours)
    assert "PASSWORD_HASHERS" not in given
    assert "SESSION_SERIALIZER" not in given
