"""The doctor tries what the site needs where it stands, and says in sentences what is wrong."""

from __future__ import annotations

import os
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.utils import timezone

from fleet.environment import Issuer
from fleet.exchange.actions.site_recorded import record_backup
from fleet.ground.access import Role
from fleet.management.commands import doctor
from fleet.management.commands.doctor import (
    of_address,
    of_data,
    of_database,
    of_issuers,
    of_mail,
    of_settings,
    of_units,
    of_watching,
)
from tests import make
from tests.mail.postbox import open_postbox
from tests.ports import free_port


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "horn.toml"
    path.touch(0o600)
    return path


def test_the_doctor_asks_a_site_that_others_come_to_for_a_file_and_for_closing_it(settings, file, monkeypatch):
    monkeypatch.delenv("container", raising=False)
    settings.SETTINGS_FILE, settings.SITE_ORIGIN = None, ""
    assert next(of_settings()) == (True, "Settings come from the environment alone.")
    settings.SITE_ORIGIN = "https://horns.example.org"
    well, sentence = next(of_settings())
    assert (well, "write them into" in sentence) == (False, True)
    settings.SETTINGS_FILE = file
    assert next(of_settings()) == (True, f"Settings come from {file}, and from the environment before it.")


def test_the_doctor_finds_it_well_that_a_container_has_its_settings_from_its_environment(settings, monkeypatch):
    settings.SETTINGS_FILE, settings.SITE_ORIGIN = None, "https://horns.example.org"
    file = (settings.BASE_DIR / "deploy/Containerfile").read_text(encoding="utf-8")
    for said in re.findall(r"(\w+)=(\S+)", re.search(r"^ENV (.+)$", file, re.M)[1]):
        monkeypatch.setenv(*said)

    said = "Settings come from the environment of this container, which every command in it is given."
    assert next(of_settings()) == (True, said)


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps permissions in another way")
def test_the_doctor_sees_what_others_on_the_machine_may_read(settings, file, tmp_path):
    settings.SETTINGS_FILE, settings.DATA_DIR = file, tmp_path
    tmp_path.chmod(0o700)
    assert [well for well, _ in of_data()] == [True]
    file.chmod(0o640)
    tmp_path.chmod(0o750)

    assert [said for well, said in (*of_settings(), *of_data()) if not well] == [
        f"Others on this machine may get at the passwords in {file}: chmod 600 {file}",
        f"Others on this machine may look into {tmp_path}: chmod 700 {tmp_path}",
    ]


@pytest.mark.parametrize(("more", "well"), [(0, True), (1, False)])
def test_the_doctor_wants_room_on_the_disk(monkeypatch, settings, tmp_path, more, well):
    settings.DATA_DIR = tmp_path
    monkeypatch.setattr(doctor, "LEAST_FREE", doctor.shutil.disk_usage(tmp_path).free // 2 * 2 ** (2 * more))

    assert next(of_data())[0] is well


@pytest.mark.django_db
@pytest.mark.parametrize(("days", "well"), [(None, False), (2, True), (2.01, False)])
def test_the_doctor_asks_for_a_backup_of_the_last_two_days(days, well, monkeypatch):
    now = timezone.now()
    monkeypatch.setattr(timezone, "now", lambda: now)
    assert [said for said, _ in of_database()] == [True, True]
    make.school()
    if days is not None:
        record_backup(file=Path("horns.zip"), at=now - timedelta(days=days))

    assert [said for said, _ in of_database()] == [True, well]


@pytest.mark.django_db
def test_the_doctor_sees_letters_that_nobody_sends(settings):
    school = make.school()
    record_backup(file=Path("horns.zip"), at=timezone.now())
    settings.EMAIL_BACKEND = "fleet.mail.actions.queueing.Queue"
    pupil = make.pupil(school, make.guardian(school, email="ada@example.org"))
    today = timezone.localdate()
    make.loan(
        make.horn(school), pupil, make.staff(Role.HEAD, school), issued_on=today - timedelta(days=90), due_on=today
    )

    assert [well for well, _ in of_database()] == [True, True, False]
    assert "1 letter should have gone" in list(of_database())[-1][1]


@pytest.mark.django_db
def test_the_doctor_says_that_the_database_is_behind_or_away():
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'sessions'")
    assert list(of_database()) == [(False, "The database is 1 step behind this version: run manage.py prepare.")]

    def away(*args, **more):
        raise DatabaseError("away")

    with connection.execute_wrapper(away):
        assert list(of_database()) == [(False, "The database does not answer: away")]


@contextmanager
def answering(code: int, words: str = "") -> Iterator[str]:
    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(code)
            if code == 301:
                self.send_header("Location", self.path)
            self.end_headers()
            self.wfile.write(words.replace("SITE", f"http://{self.headers['Host']}").encode())

        def log_message(self, *args: object) -> None:
            pass

    with HTTPServer(("127.0.0.1", 0), Answer) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (200, "answers (by 200)"),
        (301, "leads back to itself: the proxy must pass X-Forwarded-Proto"),
        (400, "does not know its own name: the proxy must pass Host"),
        (502, "answers by 502"),
    ],
)
def test_the_doctor_asks_the_site_by_its_own_address(settings, code, said):
    with answering(code) as settings.SITE_ORIGIN:
        settings.SITE_IS_HTTPS = True
        assert list(of_address()) == [(code == 200, f"{settings.SITE_ORIGIN} {said}.")]


def test_the_doctor_says_that_an_address_is_open_or_nowhere(settings):
    settings.SITE_ORIGIN, settings.SITE_IS_HTTPS = f"http://127.0.0.1:{free_port()}", False

    (clear, passwords), (there, away) = of_address()
    assert (clear, "passwords would go in the clear" in passwords) == (False, True)
    assert (there, "cannot be reached from here" in away) == (False, True)
    settings.SITE_ORIGIN = ""
    assert [well for well, _ in of_address()] == [True]


def test_the_doctor_knocks_at_the_mail_server(settings):
    settings.EMAIL_BACKEND = "fleet.mail.actions.queueing.Queue"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_USE_TLS = "127.0.0.1", free_port(), False
    [(well, said)] = of_mail()
    assert (well, "does not let us in" in said) == (False, True)
    with open_postbox(settings.EMAIL_PORT):
        assert [well for well, _ in of_mail()] == [True]

    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    for origin, well in (("", True), ("https://horns.example.org", False)):
        settings.SITE_ORIGIN = origin
        assert [one for one, _ in of_mail()] == [well]


@pytest.mark.django_db
def test_the_doctor_ends_as_one_who_found_something(capsys, settings, tmp_path):
    settings.SETTINGS_FILE, settings.SITE_ORIGIN, settings.DATA_DIR = None, "", tmp_path
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    tmp_path.chmod(0o700)
    call_command("doctor")
    assert "WRONG" not in capsys.readouterr().out
    make.school()

    with pytest.raises(SystemExit) as ended:
        call_command("doctor")

    said = capsys.readouterr().out.splitlines()
    assert ended.value.code == 1
    assert (said[-1], [line for line in said if line.startswith("WRONG")]) == (
        "1 to mend.",
        ["WRONG  No backup was ever made. Each night it is manage.py backup."],
    )


def test_the_doctor_asks_under_every_name_of_the_host(settings):
    settings.SITE_ORIGIN, settings.SITE_HOST = f"http://127.0.0.1:{free_port()}", "127.0.0.1"
    settings.OTHER_HOSTS = ["localhost"]

    said = [sentence for _, sentence in of_address()]

    assert [one.split(" ")[0] for one in said[1:]] == [
        settings.SITE_ORIGIN,
        f"http://localhost:{settings.SITE_ORIGIN[17:]}",
    ]


def test_the_doctor_says_how_errors_are_heard_of_and_who_may_read_the_figures(settings):
    settings.SITE_ORIGIN, settings.LOG_AS = "https://horns.example.org", "json"
    assert [said for _, said in of_watching()] == [
        "What happens is written down as json; nobody is told of errors (HORN_ERROR_HOOK); /figures/ is closed "
        "(HORN_FIGURES_KEY).",
        "A way in is to be told to nobody (HORN_SECURITY_CONTACT).",
    ]


def test_the_doctor_looks_whether_all_units_came_and_are_started(tmp_path, settings):
    assert list(of_units(tmp_path)) == []
    units = [path.name for path in (settings.BASE_DIR / "deploy/systemd").iterdir()]
    for name in units:
        (tmp_path / name).write_text("", encoding="utf-8")
    (tmp_path / "horns-mail.timer").unlink()
    missing, asleep = of_units(tmp_path)
    assert (missing[0], asleep[0]) == (False, False)
    assert missing[1].startswith("Of deploy/systemd horns-mail.timer did not come")
    assert asleep[1].endswith("systemctl enable --now horns-night.timer horns-remind.timer")

    (tmp_path / "horns-mail.timer").write_text("", encoding="utf-8")
    wanted = tmp_path / "timers.target.wants"
    wanted.mkdir()
    for name in units:
        if name.endswith(".timer"):
            (wanted / name).symlink_to(tmp_path / name)
    [(well, _)] = of_units(tmp_path)
    assert well
    # As in a container, which has no units of ours to compare with.
    settings.BASE_DIR = tmp_path
    assert list(of_units(tmp_path)) == []


ENDS = '"authorization_endpoint": "x", "token_endpoint": "x", "jwks_uri": "x"'


@pytest.mark.parametrize(
    ("told", "well", "said"),
    [
        (f'{{"issuer": "SITE", {ENDS}}}', True, "County answers, for staff at a.org; it must know https://horns.exam"),
        (f'{{"issuer": "SITE/other", {ENDS}}}', False, "County calls itself http://127.0.0.1"),
        ('{"issuer": "SITE", "jwks_uri": "x"}', False, "says nothing of authorization_endpoint, token_endpoint."),
        ("[]", False, "County cannot be asked at http://127.0.0.1"),
        ("<html>", False, "County cannot be asked at http://127.0.0.1"),
        ("", False, "County cannot be asked at http://127.0.0.1"),
    ],
)
def test_the_doctor_asks_an_issuer_of_accounts_what_it_says_of_itself(settings, told, well, said):
    settings.SITE_ORIGIN = "https://horns.example.org"
    with answering(200 if told else 404, told) as site:
        settings.ISSUERS = [Issuer("county", "County", site, "us", "x", ("a.org",))]
        ((found, sentence),) = of_issuers()

    assert (found, said in sentence) == (well, True), sentence
