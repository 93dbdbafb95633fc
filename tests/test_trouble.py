"""Disk full, read-only, database away: what people read then, and that the page appears whatever else is broken."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from io import BytesIO
from typing import Any
from wsgiref.util import setup_testing_defaults

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.staticfiles.storage import staticfiles_storage
from django.core.cache import cache
from django.core.management import call_command
from django.db import DatabaseError, connection, connections

from fleet.ground.access import Role
from fleet.trouble import AWAY, BROKE, BUSY, FULL, READ_ONLY, page, trouble_of
from fleet.wsgi import application
from tests import make
from tests.browser_client import Browser

SIGNED_IN = {"Cookie": "horn_session=abcdefgh"}
SQLITE = connection.vendor == "sqlite"


@pytest.fixture
def client() -> Browser:
    """A stranger's browser, which is answered as by a server when something breaks."""
    return Browser(raise_request_exception=False)


@pytest.fixture
def signed_in(db: None) -> Browser:
    browser = Browser(raise_request_exception=False)
    browser.force_login(make.staff(Role.HEAD, make.school(slug="hill")))
    return browser


@pytest.fixture
def counters(db: None, settings: Any) -> Iterator[None]:
    """The counters of the throttles in the database, as in use."""
    from fleet import settings as in_use

    mine, settings.CACHES = settings.CACHES, in_use.CACHES
    call_command("createcachetable", verbosity=0)
    yield
    settings.CACHES = mine


@pytest.fixture
def read_only(db: None) -> Iterator[None]:
    # What waits to be checked at the end of the transaction asks for locks, which are writes.
    connection.check_constraints()
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only=ON" if SQLITE else "SET TRANSACTION READ ONLY")
    yield
    if SQLITE:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA query_only=OFF")


@pytest.fixture
def full(db: None) -> Iterator[None]:
    """No page more for the database. PostgreSQL has no such switch."""
    if not SQLITE:
        pytest.skip("only SQLite can be told how large it may grow")
    with connection.cursor() as cursor:
        (before,) = cursor.execute("PRAGMA max_page_count").fetchone()
        (pages,) = cursor.execute("PRAGMA page_count").fetchone()
        cursor.execute("PRAGMA freelist_count")
        cursor.execute(f"PRAGMA max_page_count={pages}")
    yield
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA max_page_count={before}")


def unreachable() -> Any:
    """A connection to where no database is."""
    away: Any = connections.create_connection("default")
    away.settings_dict = {**away.settings_dict, "HOST": "127.0.0.1", "PORT": "1", "NAME": "nowhere"}
    if SQLITE:
        away.settings_dict["NAME"] = os.path.join(os.sep, "no", "such", "folder", "horns.sqlite3")
    return away


@pytest.fixture
def away(db: None) -> Iterator[None]:
    mine = connections["default"]
    connections["default"] = unreachable()
    yield
    connections["default"] = mine


@pytest.fixture
def nothing_works(settings: Any) -> None:
    """A file is missing from the list of static files; and forms are to be smaller than any."""
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.ManifestStaticFilesStorage"},
    }
    with pytest.raises(ValueError, match="Missing staticfiles manifest entry"):
        staticfiles_storage.url("fleet/cupboard.css")
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 10


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_a_database_that_does_not_answer_is_said_so(client, away):
    answer = client.get("/", headers=SIGNED_IN)

    assert (answer.status_code, "The records cannot be reached" in words(answer)) == (503, True)
    assert "What was saved before is safe." in words(answer)
    assert answer.headers["Retry-After"] == "60"


def test_signing_in_while_the_database_is_away_is_no_too_many_tries(client, counters, away):
    answer = client.post("/account/sign-in/", {"login": "a@example.org", "password": "five staff lines"})

    assert (answer.status_code, "The records cannot be reached" in words(answer)) == (503, True)


def test_signing_in_on_a_read_only_database_is_no_too_many_tries(client, counters, read_only):
    answer = client.post("/account/sign-in/", {"login": "a@example.org", "password": "five staff lines"})

    assert answer.status_code == 503
    assert "Nothing can be saved at the moment" in words(answer)
    assert "Too many tries" not in words(answer)


def test_a_full_disk_is_said_so_with_what_is_safe(signed_in, full):
    # There may be room left in a page that is begun already.
    places = ({"room": f"{n} " + "x" * 30, "shelf": "y" * 30} for n in range(200))
    answer = next(one for said in places if (one := signed_in.post("/s/hill/places/new/", said)).status_code != 302)

    assert answer.status_code == 507
    assert "The disk is full" in words(answer)
    assert "What was saved before is safe. Your last step was not saved, or not all of it." in words(answer)


def test_what_is_sent_to_a_read_only_database_is_not_saved_and_says_so(signed_in, read_only):
    answer = signed_in.post("/s/hill/places/new/", {"room": "Attic"})

    assert (answer.status_code, "Nothing can be saved at the moment" in words(answer)) == (503, True)


def test_reading_goes_on_while_nothing_can_be_saved(signed_in, read_only):
    assert "last_used" not in signed_in.session  # so that it is to be stamped as used

    assert signed_in.get("/s/hill/horns/").status_code == 200


def test_the_counters_take_a_number_and_refuse_a_second_as_before(counters):
    assert cache.add("one", 1) is True
    assert cache.add("one", 2) is False
    cache.set("one", 3)
    assert cache.get("one") == 3


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (errno.ENOSPC, FULL),
        (errno.EDQUOT, FULL),
        (errno.EROFS, READ_ONLY),
        (errno.EACCES, READ_ONLY),
        (errno.ENOENT, BROKE),
    ],
)
def test_a_file_that_cannot_be_written_is_told_apart_from_a_fault_of_ours(number, told):
    behind = ValueError("the picture")
    behind.__context__ = OSError(number, os.strerror(number))

    assert trouble_of(behind) is told


@pytest.mark.django_db
@pytest.mark.skipif(SQLITE, reason="the codes of PostgreSQL")
@pytest.mark.parametrize(
    ("state", "told"),
    [("53100", FULL), ("25006", READ_ONLY), ("40P01", BUSY), ("55P03", BUSY), ("57P01", AWAY), ("53300", AWAY),
     ("42P01", BROKE), ("23505", BROKE)],
)  # fmt: skip
def test_what_postgresql_says_is_told_apart(state, told):
    with pytest.raises(DatabaseError) as caught, connection.cursor() as cursor:
        cursor.execute(f"DO $$ BEGIN RAISE EXCEPTION 'x' USING ERRCODE = '{state}'; END $$")

    assert trouble_of(caught.value) is told


@pytest.mark.django_db
def test_a_database_that_is_not_there_is_away():
    with pytest.raises(DatabaseError) as caught:
        unreachable().ensure_connection()

    assert trouble_of(caught.value) is AWAY


@pytest.mark.django_db
def test_a_table_that_is_not_there_is_a_fault_of_ours():
    with pytest.raises(DatabaseError) as caught, connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM no_such_table")

    assert trouble_of(caught.value) is BROKE


def test_the_page_that_says_something_broke_needs_no_list_of_static_files(client, db, nothing_works):
    answer = client.get("/account/sign-in/")

    assert answer.status_code == 500
    assert "Something broke on our side" in words(answer)


def test_nor_any_template(client, db, settings):
    ours = settings.TEMPLATES[0]
    settings.TEMPLATES = [{**ours, "OPTIONS": {**ours["OPTIONS"], "loaders": []}}]

    answer = client.get("/account/sign-in/")

    assert (answer.status_code, "Something broke on our side" in words(answer)) == (500, True)


def test_a_form_that_cannot_be_read_gets_its_page_without_them_too(client, db, nothing_works):
    answer = client.post("/account/sign-in/", {"login": "a" * 50})

    assert (answer.status_code, "That could not be read" in words(answer)) == (400, True)


def test_a_page_for_trouble_keeps_the_sites_policies(client, away):
    answer = client.get("/", headers=SIGNED_IN)

    assert "default-src 'self'" in answer.headers["Content-Security-Policy"]
    assert "style=" not in words(answer)
    assert "<style" not in words(answer)


HERE = "/s/hill/horns/?q=a"


@pytest.mark.parametrize("said", ["http://[::1", "http://[", "//[x", "http://testserver]/", "\udcff"])
def test_a_part_asked_for_from_an_address_that_is_none_leads_to_signing_in(client, db, said):
    make.school(slug="hill")

    answer = client.get(HERE, headers={"HX-Request": "true", "HX-Current-URL": said})

    assert (answer.status_code, answer.headers["HX-Redirect"]) == (200, "/account/sign-in/?next=/")


def asked(content_type: str, way: str = "POST", path: str = "/alive/") -> tuple[str, str]:
    """Status and words that the site answers a server with."""
    environ: dict[str, Any] = {"REQUEST_METHOD": way, "PATH_INFO": path, "QUERY_STRING": "q=%ff%e4"}
    setup_testing_defaults(environ)
    body = "room=Attic".encode("utf-16")
    environ |= {"CONTENT_TYPE": content_type, "CONTENT_LENGTH": str(len(body)), "wsgi.input": BytesIO(body)}
    started: list[str] = []
    answer = application(environ, lambda status, headers: started.append(status))
    return started[0], b"".join(answer).decode()


@pytest.mark.django_db
@pytest.mark.parametrize("letters", ["utf-16", "UTF-32", "latin-1", "utf-7", "idna", "base64", "rot13", "no-such"])
@pytest.mark.parametrize(
    "shape", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/plain"]
)
@pytest.mark.parametrize("way", ["POST", "GET"])
def test_a_form_in_other_letters_is_refused_in_plain_words(way, shape, letters):
    status, page = asked(f"{shape}; charset={letters}", way)

    assert (status, "That could not be read" in page) == ("400 Bad Request", True)


def test_a_kind_of_form_that_cannot_be_read_itself_is_refused_as_well():
    assert asked("text/plain; a*=no-such''x")[0] == "400 Bad Request"


@pytest.mark.django_db
@pytest.mark.parametrize("letters", ["; charset=utf-8", "; charset=UTF-8", '; charset="utf-8"', ""])
def test_a_form_in_the_letters_of_our_pages_is_read(letters):
    assert asked(f"application/x-www-form-urlencoded{letters}", "GET")[0] == "200 OK"


def test_the_page_of_an_error_saves_no_session_and_needs_none(rf):
    request = rf.get("/")
    assert page(request, BROKE).status_code == BROKE.status

    request.session = SessionStore()
    request.session["begun"] = "and not to be saved"
    page(request, BROKE)

    assert request.session.modified is False
