"""What whoever runs the site leans on: one settings file, the doctor, watchdogs, the way gunicorn is set."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from urllib.robotparser import RobotFileParser

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.utils import timezone

from fleet import environment as env
from fleet.exchange.actions.site_recorded import record_backup
from fleet.ground.access import Role
from fleet.management.commands import doctor
from fleet.management.commands.doctor import of_address, of_data, of_database, of_mail, of_settings
from tests import make
from tests.exchange.sites import ROOT, own_environment
from tests.letters.postbox import free_port, open_postbox
from tests.test_settings import manage


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "horn.toml"
    path.write_text('HORN_SITE = "https://horns.example.org"\nHORN_MAIL_PORT = 2525\n', encoding="utf-8")
    path.chmod(0o600)
    return path


@pytest.mark.parametrize("named", [True, False])
def test_what_the_environment_does_not_say_stands_in_the_file(monkeypatch, file, named):
    monkeypatch.setattr(os, "environ", {"HORN_MAIL_PORT": "587", **({"HORN_SETTINGS": str(file)} if named else {})})

    assert env.from_file(file.with_name("other.toml") if named else file) == file
    assert (env.text("HORN_SITE"), env.text("HORN_MAIL_PORT")) == ("https://horns.example.org", "587")


def test_without_a_file_the_environment_is_all_there_is(monkeypatch, tmp_path):
    monkeypatch.setattr(os, "environ", {})

    assert env.from_file(tmp_path / "horn.toml") is None
    assert os.environ == {}


@pytest.mark.parametrize(
    ("says", "sentence"),
    [
        ('HORN_STIE = "x"', "HORN_STIE is no setting; README lists them."),
        ("HORN_BEHIND_PROXY = true", "HORN_BEHIND_PROXY must be a text in quotation marks or a whole number."),
        ("HORN_MAIL_PORT = 25.5", "HORN_MAIL_PORT must be a text in quotation marks or a whole number."),
        ("HORN_SITE = https", "cannot be read"),
        (None, "cannot be read"),
    ],
)
def test_a_file_that_cannot_be_meant_is_refused_with_a_sentence(monkeypatch, file, says, sentence):
    monkeypatch.setattr(os, "environ", {"HORN_SETTINGS": str(file)})
    if says is None:
        file.unlink()
    else:
        file.write_text(says, encoding="utf-8")

    with pytest.raises(env.Nonsense, match=sentence):
        env.from_file(file)


def test_the_file_may_say_what_readme_lists_and_every_command_reads_it(tmp_path, file):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    rows = [line.split("|")[1] for line in readme.splitlines() if line.startswith(("| `HORN_", "| `DATABASE_"))]
    words = [word.strip("` ") for row in rows for word in row.split()]
    listed = {f"HORN_MAIL{word}" if word.startswith("_") else word for word in words}
    assert listed - {"HORN_SETTINGS"} == env.NAMES

    file.write_text('HORN_TIME_ZONE = "Moon/Crater"\n', encoding="utf-8")
    answer = manage("remind", data=tmp_path, HORN_SETTINGS=str(file))
    assert (answer.returncode, len(answer.stderr.splitlines())) == (2, 1)
    assert "HORN_TIME_ZONE is 'Moon/Crater', which is no time zone" in answer.stderr


@pytest.mark.parametrize(("port", "ssl", "tls"), [("465", True, False), ("587", False, True), ("25", False, True)])
def test_on_port_465_letters_are_encrypted_from_the_first_word(tmp_path, port, ssl, tls):
    # RFC 8314, section 3.3: implicit TLS on 465, STARTTLS on the others.
    said = manage("diffsettings", "--all", data=tmp_path, HORN_MAIL_HOST="mail.example.org", HORN_MAIL_PORT=port).stdout

    assert f"EMAIL_USE_SSL = {ssl}\n" in said
    assert f"EMAIL_USE_TLS = {tls}\n" in said


@pytest.mark.django_db
def test_watchdogs_are_answered_whatever_they_call_the_site(client):
    for path, words in (("/alive/", b"alive\n"), ("/ready/", b"ready\n")):
        answer = client.get(path, headers={"Host": "10.0.0.7"})
        assert (answer.status_code, answer.content, answer["Cache-Control"]) == (200, words, "no-store")
        assert client.post(path, headers={"Host": "10.0.0.7"}).status_code == 400


@pytest.mark.django_db
def test_search_engines_are_asked_to_stay_out(client):
    # RFC 9309, section 2.2.2: one rule for all of them, and everything lies under /.
    answer = client.get("/robots.txt")

    assert (answer["Content-Type"], answer.content) == ("text/plain; charset=utf-8", b"User-agent: *\nDisallow: /\n")
    rules = RobotFileParser()
    rules.parse(answer.content.decode().splitlines())
    assert not rules.can_fetch("AnyBot", "https://horns.example.org/account/sign-in/")


@pytest.mark.django_db
def test_a_site_whose_database_does_not_answer_is_alive_and_not_ready(client):
    def away(*args, **more):
        raise DatabaseError("away")

    with connection.execute_wrapper(away):
        assert client.get("/alive/").status_code == 200
        answer = client.get("/ready/")
    assert (answer.status_code, answer.content) == (503, b"the database does not answer\n")


# The doctor


def test_the_doctor_asks_a_site_that_others_come_to_for_a_file_and_for_closing_it(settings, file):
    settings.SETTINGS_FILE, settings.SITE_ORIGIN = None, ""
    assert next(of_settings()) == (True, "Settings come from the environment alone.")
    settings.SITE_ORIGIN = "https://horns.example.org"
    well, sentence = next(of_settings())
    assert (well, "write them into" in sentence) == (False, True)
    settings.SETTINGS_FILE = file
    assert next(of_settings()) == (True, f"Settings come from {file}, and from the environment before it.")


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
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    pupil = make.pupil(school, make.guardian(school, email="ada@example.org"))
    today = timezone.localdate()
    make.loan(
        make.horn(school), pupil, make.staff(Role.HEAD, school), issued_on=today - timedelta(days=90), due_on=today
    )

    assert [well for well, _ in of_database()] == [True, True, False]
    assert "1 letters should have gone" in list(of_database())[-1][1]


@pytest.mark.django_db
def test_the_doctor_says_that_the_database_is_behind_or_away():
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM django_migrations WHERE app = 'loans' AND name LIKE '0017%'")
    assert list(of_database()) == [(False, "The database is 1 steps behind this version: run manage.py prepare.")]

    def away(*args, **more):
        raise DatabaseError("away")

    with connection.execute_wrapper(away):
        assert list(of_database()) == [(False, "The database does not answer: away")]


@contextmanager
def answering(code: int) -> Iterator[str]:
    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(code)
            if code == 301:
                self.send_header("Location", self.path)
            self.end_headers()

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
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
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


@pytest.mark.skipif(os.name == "nt", reason="gunicorn does not run on Windows")
@pytest.mark.either_engine
def test_slow_uploads_do_not_keep_others_from_the_site_that_gunicorn_serves(tmp_path):
    port = free_port()
    words = [
        "--config",
        str(ROOT / "deploy/gunicorn.conf.py"),
        "--bind",
        f"127.0.0.1:{port}",
        "--workers",
        "1",
        "--timeout",
        "0",
    ]
    command = [sys.executable, "-m", "gunicorn", *words]
    given = own_environment(tmp_path, PYTHONPATH=str(ROOT))
    with (
        subprocess.Popen(command, cwd=ROOT, env=given, stderr=subprocess.PIPE, text=True) as site,
        ExitStack() as all_,
    ):
        try:
            assert any("Booting worker" in line for line in site.stderr)
            # With its cookie, so that the proof is looked for in the form, which has not come yet.
            cookie = b"Cookie: horn_csrf=" + b"a" * 32
            for _ in range(4):
                slow = all_.enter_context(socket.create_connection(("127.0.0.1", port)))
                slow.sendall(
                    b"POST /account/sign-in/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100000\r\n"
                    b"Content-Type: application/x-www-form-urlencoded\r\n" + cookie + b"\r\n\r\nlogin="
                )
            asked = all_.enter_context(socket.create_connection(("127.0.0.1", port), timeout=60))
            asked.sendall(b"GET /alive/ HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
            assert b"alive" in b"".join(iter(lambda: asked.recv(4096), b""))
        finally:
            site.kill()
