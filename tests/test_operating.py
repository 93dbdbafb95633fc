"""What whoever runs the site leans on: one settings file, watchdogs, the way gunicorn is set."""

from __future__ import annotations

import json
import logging
import os
import re
import runpy
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from urllib.robotparser import RobotFileParser

import pytest
from django.db import DatabaseError, connection

from fleet import environment as env
from tests.exchange.sites import ROOT, own_environment
from tests.ports import free_port
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
    listed = set()
    for first, *others in (re.findall(r"`(\w+)`", row) for row in rows):
        listed |= {first, *(first.rpartition("_")[0] + other for other in others)}
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


PROXYS = ("HTTP_X_FORWARDED_PROTO", "https")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("believed", "host", "status"),
    [(PROXYS, "horns.example.org", 200), (None, "horns.example.org", 301), (PROXYS, "127.0.0.1:8001", 400)],
)
def test_that_it_was_https_is_believed_of_a_proxy_alone_and_tells_nothing_of_the_name(
    client, settings, believed, host, status
):
    settings.ALLOWED_HOSTS, settings.SECURE_SSL_REDIRECT = ["horns.example.org"], True
    settings.SECURE_PROXY_SSL_HEADER = believed

    said = {"Host": host, "X-Forwarded-Proto": "https"}
    answer = client.get("/account/sign-in/", headers=said)
    assert (answer.status_code, client.get("/alive/", headers=said).status_code) == (status, 200)


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


@pytest.mark.django_db
def test_a_site_whose_styles_were_not_gathered_is_not_ready(client, settings, tmp_path):
    settings.STATIC_ROOT = tmp_path
    gathered = "whitenoise.storage.CompressedManifestStaticFilesStorage"
    settings.STORAGES = {**settings.STORAGES, "staticfiles": {"BACKEND": gathered}}

    answer = client.get("/ready/")
    assert (answer.status_code, b"manage.py prepare" in answer.content) == (503, True)

    manifest = {"version": "1.1", "paths": {"fleet/icon.svg": "fleet/icon.svg"}, "hash": ""}
    (tmp_path / "staticfiles.json").write_text(json.dumps(manifest), encoding="utf-8")
    settings.STORAGES = {**settings.STORAGES}
    assert client.get("/ready/").content == b"ready\n"


@contextmanager
def gunicorn(data: Path, *more: str, **said: str) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """The site as `deploy` has it served, once it takes requests: its first process, and the port."""
    port = free_port()
    words = ["--config", str(ROOT / "deploy/gunicorn.conf.py"), "--bind", f"127.0.0.1:{port}", "--timeout", "0", *more]
    given = own_environment(data, PYTHONPATH=str(ROOT), **said)
    command = [sys.executable, "-m", "gunicorn", *words]
    with subprocess.Popen(command, cwd=ROOT, env=given, stderr=subprocess.PIPE, text=True) as site:
        try:
            assert any("Booting worker" in json.loads(line)["said"] for line in site.stderr or ())
            yield site, port
        finally:
            site.terminate()
            assert site.stderr is not None
            site.stderr.read()


def asked(port: int) -> bytes:
    with socket.create_connection(("127.0.0.1", port), timeout=60) as one:
        one.sendall(b"GET /alive/ HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        return b"".join(iter(lambda: one.recv(4096), b""))


on_unix = pytest.mark.skipif(os.name == "nt", reason="gunicorn does not run on Windows")


@on_unix
def test_slow_uploads_do_not_keep_others_from_the_site_that_gunicorn_serves(tmp_path):
    # With its cookie, so that the proof is looked for in the form, which has not come yet.
    upload = (
        b"POST /account/sign-in/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100000\r\nCookie: horn_csrf=%s\r\n"
        b"Content-Type: application/x-www-form-urlencoded\r\n\r\nlogin="
    )
    with gunicorn(tmp_path, "--workers", "1") as (_, port), ExitStack() as slow:
        for _ in range(4):
            slow.enter_context(socket.create_connection(("127.0.0.1", port))).sendall(upload % (b"a" * 32))

        assert b"alive" in asked(port)
        slow.close()


@on_unix
def test_a_reload_of_gunicorn_loses_no_request_and_lets_the_old_go_on_until_the_new_serve(tmp_path):
    with gunicorn(tmp_path, "--workers", "1") as (site, port):
        reloaded, lost, answered = threading.Event(), [], 0
        assert b"alive" in asked(port)
        told: list[str] = []

        def reload() -> None:
            site.send_signal(signal.Signals["SIGHUP"])
            for line in site.stderr or ():
                told.extend(re.findall(r"Worker (?:serves|exiting) \(pid: \d+", line))
                if "exiting" in line:
                    break
            reloaded.set()

        reloading = threading.Thread(target=reload)
        reloading.start()
        while not reloaded.is_set() or answered < 20:
            answer = asked(port)
            answered += 1
            if b"alive" not in answer:
                lost.append(answer)
        reloading.join()

    assert lost == []
    (*served, (old, _)) = [(pid, what) for what, pid in (one.split(" (pid: ") for one in told)]
    assert any(pid != old for pid, _ in served), told


@on_unix
def test_gunicorns_own_lines_tell_what_broke_and_where_and_not_what_was_asked_for(tmp_path):
    form = runpy.run_path(str(ROOT / "deploy/gunicorn.conf.py"))["InJson"]()
    try:
        raise ValueError("Anna Quill")
    except ValueError as trouble:
        broke = (type(trouble), trouble, trouble.__traceback__)
    said = ("Error handling request %s", ("/s/vale/horns/?q=Anna",), broke)
    told = form.format(logging.LogRecord("gunicorn.error", logging.ERROR, __file__, 1, *said))

    assert "Anna" not in told
    line = json.loads(told)
    assert (line["level"], line["said"], line["trouble"][0]) == ("error", said[0], "builtins.ValueError")
    assert line["trouble"][1].startswith(f"{__file__}:")
