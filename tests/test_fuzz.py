"""Whatever is sent to whichever address by whomever: the site answers, and nothing breaks on its side.

The same requests in every run; `start.py fuzz 100000` tries others, many more, and a second number repeats them.
"""

from __future__ import annotations

import os
import re
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlencode

import pytest
from django.conf import settings as site
from django.db import connection, transaction
from django.urls import reverse
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from fleet.ground.access import OPEN, OWN_ACCOUNT, Role
from tests import make
from tests.browser_client import Browser, let_go
from tests.doors import ADDRESSES, STAFF_ROLES, World

# What is odd in a request hangs on no engine, but for a few values that a database refuses: fewer on the second one.
USUAL = "1000" if connection.vendor == "sqlite" else "500"
REQUESTS = int(os.environ.get("HORN_FUZZ", USUAL))
SEED = int(os.environ.get("HORN_FUZZ_SEED", "0"))
# Each part with a school and a seed of its own, so that a request in thousands is met again without those before it.
PART = 500

ROOT = Path(__file__).resolve().parent.parent
# What the pages read of an address, by its word in the code, and what no page reads.
ASKED = sorted(
    {
        name
        for folder in ("fleet", "identify")
        for file in (ROOT / folder).rglob("*.py")
        for name in re.findall(r'(?:GET|query|said)\.(?:get|getlist)\("([^"]+)"', file.read_text(encoding="utf-8"))
    }
    | {"page", "sort", "per_page", "q", "next", "nobody-reads-this"}
)
ODD = (
    "", " ", "\0", "a\0b", "0", "-1", "1", "2", "7", "1e400", "NaN", "inf", "٣", "²", "1.5", "1,5", "0x10", "9" * 25,
    "2147483648", "9223372036854775808", "-9223372036854775809", "2026-02-30", "2026-09-14", "0001-01-01", "9999-12-31",
    "10000-01-01", "24:00", "on", "yes", "None", "[]", "{}", "'", '"><b>', "%", "%00", "%ff", "\\", "../../x",
    "http://[::1", "//[x", "javascript:x", "/s/", "a@b", "a@example.org", "a@example.org\nBcc: b@example.org",
    "x" * 5000, "ß" * 130, "İ", "\u202e", "\ufeff", "\U0001f3ba", "é", "e\u0301", "\ud7ff", "\r\n", "\x1b",
    "1.2.3", "1.1", "1..1", "=1+1", "-", ".", "*", "OR", 'a"b', "NEAR(", "horns", "pupils", "head", "service",
    "withdrawn", "double-full", "F", "ask", "go",
)  # fmt: skip
WORDS = st.one_of(st.sampled_from(ODD), st.sampled_from(ODD), st.text(max_size=30))
HEADERS = {
    "HX-Boosted": ["true"],
    "X-Sent-By": ["outbox", ""],
    "Accept-Language": ["de", "x" * 4000, "*;q=z"],
    "Referer": ["http://[::1", "http://testserver/"],
    "If-Modified-Since": ["Thu, 99 Foo 9999", "Mon, 14 Sep 2026 10:30:00 GMT"],
    "If-None-Match": ["*", '"x', "W/"],
    "Range": ["bytes=0-", "bytes=9-1", "bytes=99999999999999999999-"],
    "Host": ["testserver", "[::1", "a b", "x" * 300],
    "Cookie": ["messages=x", "messages=W1tdXQ:1", "horn_csrf=%", "horn_session=\xff", "a=" + "x" * 4000],
    "X-Forwarded-For": ["x", "1.2.3.4, [::1", "::1%eth0"],
    "X-Forwarded-Proto": ["https", "x"],
    "Accept": ["", "application/json", "*/*;q=z"],
    "Content-Encoding": ["gzip"],
}
BODIES = ("form", "form", "form", "parts", "json", "none", "junk")
KINDS = (
    "application/json",
    "text/plain",
    "application/x-www-form-urlencoded",
    "multipart/form-data",
    "a/b; c",
    "",
    ";",
)
FILES = (
    b"",
    b"\0" * 40,
    b"%PDF-1.4",
    b"\x89PNG\r\n\x1a\n",
    b"PK\x03\x04xx",
    b"a;b;c\n1;2",
    b"RIFF0000WAVEfmt ",
    b"\xff\xd8\xff",
)


class Sent(BytesIO):
    """A file under any name, `.` and `..` too, as a browser of somebody's own may send it."""

    def __init__(self, content: bytes, name: str) -> None:
        super().__init__(content)
        self.name = name


class Asked(NamedTuple):
    name: str
    who: str
    way: str
    pk: str
    query: list[tuple[str, str]]
    # The page a part is asked from by script; "" for a page that is asked for whole.
    asked_from: str
    headers: list[tuple[str, str]]
    body: str
    kind: str
    # What becomes of the fields of the page's own form, one after another; "=" leaves one as it stands.
    fields: list[str]
    file: bytes


ASKING = st.builds(
    Asked,
    name=st.sampled_from(sorted(ADDRESSES)),
    who=st.sampled_from([*STAFF_ROLES, Role.HEAD, Role.HEAD, Role.GUARDIAN, Role.NOBODY]).map(str),
    way=st.sampled_from(["GET", "POST", "POST", "POST", "HEAD", "PUT", "DELETE", "OPTIONS"]),
    pk=st.sampled_from(["=", "=", "=", "=", "=", "0", "9" * 25, "9223372036854775808", "1"]),
    query=st.lists(st.tuples(st.sampled_from(ASKED), WORDS), max_size=3),
    asked_from=st.sampled_from(["", "", "http://testserver/s/", "http://[::1", "//[x"]),
    headers=st.lists(st.sampled_from([(name, one) for name, all_ in HEADERS.items() for one in all_]), max_size=2),
    body=st.sampled_from(BODIES),
    kind=st.sampled_from(KINDS),
    fields=st.lists(st.one_of(st.just("="), st.just("="), WORDS), max_size=12),
    file=st.sampled_from(FILES),
)


class Fields(HTMLParser):
    """The fields of a page's forms with what stands in them."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if tag in {"input", "select", "textarea", "button"} and said.get("name"):
            self.found.append((str(said["name"]), said.get("value") or "", said.get("type") == "file"))


class Visitors:
    """A browser for each of those who may come, and what the forms of the pages ask for."""

    def __init__(self, world: World) -> None:
        self.world = world
        people = {**world.people, Role.GUARDIAN: world.guardian.user}
        self.sessions = {str(role): self._session(person) for role, person in people.items()}
        self.forms: dict[str, list[tuple[str, str, bool]]] = {}

    @staticmethod
    def _session(person: Any) -> str:
        browser = Browser()
        browser.come_as(person)
        return str(browser.session.session_key)

    def browser(self, who: str) -> Browser:
        browser = Browser()
        if who in self.sessions:
            browser.cookies[site.SESSION_COOKIE_NAME] = self.sessions[who]
        return browser

    def address(self, asked: Asked) -> str:
        if asked.name in OPEN | OWN_ACCOUNT:
            made_up = {"uidb36": "1", "key": "x", "secret": "x", "pk": "1"}
            return reverse(asked.name, kwargs={one: made_up[one] for one in ADDRESSES[asked.name]})
        address = self.world.address(asked.name)
        return address if asked.pk == "=" else re.sub(r"/\d+(?=[/.]|$)", f"/{asked.pk}", address)

    def fields_of(self, address: str) -> list[tuple[str, str, bool]]:
        if address not in self.forms:
            page, who = Fields(), str(Role.GUARDIAN if address.startswith("/family/") else Role.HEAD)
            answer = self.browser(who).get(address)
            if answer.headers.get("Content-Type", "").startswith("text/html"):
                page.feed(answer.content.decode())
            self.forms[address] = list(dict.fromkeys(page.found))
        return self.forms[address]

    def ask(self, asked: Asked) -> int:
        address = self.address(asked)
        query = {"QUERY_STRING": _encoded(asked.query)} if asked.query else {}
        headers = {"HX-Request": "true", "HX-Current-URL": asked.asked_from} if asked.asked_from else {}
        how = {"headers": {**headers, **dict(asked.headers)}, **query}
        browser = self.browser(asked.who)
        if asked.way in {"GET", "HEAD", "OPTIONS"} or asked.body == "none":
            return int(browser.generic(asked.way, address, **how).status_code)
        if asked.body in {"json", "junk"}:
            body = b'{"a": [1, {"b": null}]}' if asked.body == "json" else asked.file + b"\xff\xfe&=%&a=%zz"
            kind = "application/json" if asked.body == "json" else asked.kind
            return int(browser.generic(asked.way, address, body, kind, **how).status_code)
        said: dict[str, Any] = {}
        for place, (name, value, is_file) in enumerate(self.fields_of(address)):
            new = asked.fields[place % len(asked.fields)] if asked.fields else "="
            if is_file:
                said[name] = Sent(asked.file, new[:40].replace("\0", "") or "x")
            elif isinstance(all_ := said.setdefault(name, []), list):
                # Beside a file of the same name, as two forms of one page may ask for, a field is left out.
                all_.append(value if new == "=" else new)
        if asked.way == "POST" and asked.body == "parts":
            return int(browser.post(address, said, **how).status_code)
        pairs = [(name, one) for name, all_ in said.items() if isinstance(all_, list) for one in all_]
        kind = "application/x-www-form-urlencoded"
        return int(browser.generic(asked.way, address, _encoded(pairs), kind, **how).status_code)


def _encoded(pairs: list[tuple[str, str]]) -> str:
    return urlencode([(name, one.encode("utf-8", "surrogatepass")) for name, one in pairs])


def parts() -> list[Any]:
    return [pytest.param(at, min(PART, REQUESTS - at), id=f"from-{at}") for at in range(0, REQUESTS, PART)]


@pytest.mark.django_db
@pytest.mark.parametrize(("first", "requests"), parts())
def test_nothing_that_is_sent_breaks_the_site(monkeypatch: pytest.MonkeyPatch, first: int, requests: int) -> None:
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    visitors = Visitors(World())

    @seed(SEED + first)
    @settings(
        max_examples=requests,
        deadline=None,
        database=None,
        report_multiple_bugs=False,
        phases=[Phase.generate, Phase.shrink],
        suppress_health_check=list(HealthCheck),
    )
    @given(asked=ASKING)
    def sent(asked: Asked) -> None:
        with transaction.atomic():
            status = visitors.ask(asked)
            let_go()
            transaction.set_rollback(True)
        # 501: a method that there is none of.
        assert status < 500 or status == 501, (asked, status)

    sent()
