"""Two gunicorns with a data folder each, as on two machines, on one database and one store of pictures."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass, field
from http.cookiejar import CookieJar, DefaultCookiePolicy
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, Request, build_opener

import pytest
from django.db import connection

from tests.exchange.sites import BEGIN, own_sites
from tests.register.test_photographs import picture
from tests.stores import far_end, said
from tests.test_operating import gunicorn

BEGUN = BEGIN + (
    "call('prepare', verbosity=0); from tests import make\n"
    "from fleet.ground.access import Role; school = make.school(slug='hill-road'); make.horn(school)\n"
    "for n in 'ab': make.staff(Role.HEAD, school, email=f'{n}@example.org', password='five staff lines')\n"
)
PASSWORD = "five staff lines"
SIGN_IN, SIGN_OUT = "/account/sign-in/", "/account/sign-out/"


@dataclass
class Visitor:
    """A browser that the proxy leads now to one machine, now to another."""

    jar: CookieJar = field(default_factory=lambda: CookieJar(DefaultCookiePolicy()))

    def asked(self, port: int, path: str, body: bytes | None = None, kind: str = "") -> tuple[int, str, bytes]:
        headers = {"Content-Type": kind} if kind else {}
        try:
            opener = build_opener(HTTPCookieProcessor(self.jar))
            with opener.open(Request(f"http://127.0.0.1:{port}{path}", body, headers), timeout=60) as answer:
                return answer.status, answer.url, answer.read()
        except HTTPError as answer:
            return answer.code, answer.url, answer.read()

    def proof(self, port: int, path: str) -> str:
        answer = self.asked(port, path)
        found = re.search(rb'name="csrfmiddlewaretoken" value="(\w+)"', answer[2])
        assert found, answer
        return found[1].decode()

    def sends(self, shown: int, sent: int, path: str, **words: str) -> tuple[int, str, bytes]:
        proof = self.proof(shown, path)
        return self.asked(sent, path, urlencode({"csrfmiddlewaretoken": proof, **words}).encode())


@pytest.mark.django_db
@pytest.mark.postgres
@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite is for one machine")
def test_two_machines_on_one_database_and_one_store_share_sessions_throttles_and_pictures(tmp_path):
    with far_end() as store, own_sites(tmp_path) as made:
        one, other = made(), made()
        one.python(BEGUN)
        shutil.copytree(one.data / "static", other.data / "static")
        shared = {"DATABASE_URL": one.address, "HORN_SECRET": "of both machines " * 4, **said(store)}
        few = ("--workers", "1")
        with gunicorn(one.data, *few, **shared) as (_, here), gunicorn(other.data, *few, **shared) as (_, there):
            head = Visitor()
            # The form comes from one and goes to the other; who is signed in at one is signed in at both.
            assert head.sends(here, there, SIGN_IN, login="a@example.org", password=PASSWORD)[1].endswith(
                "/s/hill-road/"
            )
            assert head.asked(here, "/s/hill-road/horns/")[0] == 200

            # A photograph that one machine took in, the other shows; and to nobody else.
            form = "/s/hill-road/horns/1/photographs/new/"
            body = (
                b'--X\r\nContent-Disposition: form-data; name="csrfmiddlewaretoken"\r\n\r\n%s\r\n'
                b'--X\r\nContent-Disposition: form-data; name="picture"; filename="x.jpg"\r\n'
                b"Content-Type: image/jpeg\r\n\r\n%s\r\n--X--\r\n"
            ) % (head.proof(here, form).encode(), picture())
            assert head.asked(here, form, body, "multipart/form-data; boundary=X")[0] == 200
            photograph = "/s/hill-road/photographs/1/"
            shown = [head.asked(port, photograph) for port in (here, there)]
            assert shown[0][2] == shown[1][2]
            assert shown[1][2].startswith(b"\xff\xd8")
            assert SIGN_IN in Visitor().asked(there, photograph)[1]
            assert not [path for site in (one, other) for path in site.data.rglob("pictures/**/*") if path.is_file()]

            # Five wrong passwords, wherever they are tried.
            guesser = Visitor()
            tries = [
                guesser.sends(port, port, SIGN_IN, login="b@example.org", password="wrong")[2]
                for port in (here, there) * 3
            ]
            assert [b"Too many tries" in answer for answer in tries] == [False] * 5 + [True]

            # Ended at one, over at both.
            head.sends(there, there, SIGN_OUT)
            assert SIGN_IN in head.asked(here, "/s/hill-road/horns/")[1]
