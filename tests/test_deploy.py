"""The kit in `deploy`: what nginx passes on and holds back, a restart that loses nothing, units that systemd takes."""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack, closing
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from queue import Queue

import pytest
from django.core.management import get_commands

from tests.exchange.sites import ROOT, own_environment
from tests.ports import free_port
from tests.proxy import nginx
from tests.test_settings import manage

KIT = ROOT / "deploy"
UNITS = sorted((KIT / "systemd").iterdir())
MEGABYTE = 1024**2

on_unix = pytest.mark.skipif(os.name == "nt", reason="gunicorn, nginx and systemd do not run on Windows")
# In CI they are installed, and what is not tried there is tried nowhere.
with_nginx = pytest.mark.skipif(not shutil.which("nginx") and "CI" not in os.environ, reason="nginx is not here")
with_systemd = pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd is not here")


class Listening(BaseHTTPRequestHandler):
    """Stands for the site and keeps what the proxy tells it."""

    told: list[tuple[str, dict[str, str]]]

    def do_GET(self) -> None:
        self.rfile.read(int(self.headers.get("Content-Length", 0)))
        self.told.append((self.path, dict(self.headers)))
        self.send_response(204)
        self.end_headers()

    do_POST = do_GET

    def log_message(self, *args: object) -> None:
        """Says nothing."""


@pytest.fixture
def listening() -> Iterator[tuple[int, list[tuple[str, dict[str, str]]]]]:
    """The port of a site that only listens, and what it was told."""
    told: list[tuple[str, dict[str, str]]] = []
    kind = type("Listening", (Listening,), {"told": told})
    with ThreadingHTTPServer(("127.0.0.1", 0), kind) as site:
        serving = threading.Thread(target=site.serve_forever)
        serving.start()
        try:
            yield site.server_address[1], told
        finally:
            site.shutdown()
            serving.join()


@on_unix
@with_nginx
def test_nginx_tells_the_site_its_name_and_who_asks_whatever_the_browser_claims(tmp_path, listening):
    site, told = listening
    claimed = {"X-Forwarded-For": "203.0.113.9", "X-Forwarded-Proto": "http"}
    with nginx(tmp_path, site) as proxy:
        proxy.asked("GET", "/calendar/key.ics?q=Anna", **claimed)
        proxy.trusting.set_alpn_protocols(["h2", "http/1.1"])
        with proxy.door() as one:
            spoken = one.selected_alpn_protocol()

    assert spoken == "h2"
    ((path, headers),) = told
    assert path == "/calendar/key.ics?q=Anna"
    assert headers["Host"] == "horns.example.org"
    assert (headers["X-Forwarded-Proto"], headers["X-Forwarded-For"]) == ("https", "127.0.0.1")


@on_unix
@with_nginx
@pytest.mark.parametrize(("size", "files"), [(7 * MEGABYTE, 0), (10 * MEGABYTE, 1)])
def test_nginx_holds_a_recording_in_memory_and_more_than_that_on_its_disk(tmp_path, listening, size, files):
    with nginx(tmp_path, listening[0], level="warn") as proxy:
        assert proxy.asked("POST", "/", bytes(size)).status == 204

    warned = (tmp_path / "horns.log").read_text(encoding="utf-8")
    assert warned.count("is buffered to a temporary file") == files


@on_unix
@with_nginx
@pytest.mark.parametrize(("more", "status", "told_of"), [(0, 204, 1), (1, 413, 0)])
def test_nginx_turns_away_what_is_too_large_before_the_site_hears_of_it(tmp_path, listening, more, status, told_of):
    site, told = listening
    size = 100 * MEGABYTE + more
    with nginx(tmp_path, site) as proxy, proxy.door() as one:
        one.sendall(b"POST / HTTP/1.1\r\nHost: horns.example.org\r\nContent-Length: %d\r\n\r\n" % size)
        if not more:
            one.sendall(bytes(size))
        assert b"HTTP/1.1 %d " % status in one.recv(4096)

    assert len(told) == told_of


@on_unix
@with_nginx
def test_what_is_asked_without_encryption_is_led_to_it(tmp_path, listening):
    site, told = listening
    with nginx(tmp_path, site) as proxy, closing(HTTPConnection("127.0.0.1", proxy.plain, timeout=60)) as one:
        one.request("GET", "/s/vale/horns/?q=Anna", headers={"Host": "horns.example.org"})
        with one.getresponse() as answer:
            there = answer.getheader("Location")

    assert (answer.status, there, told) == (301, "https://horns.example.org/s/vale/horns/?q=Anna", [])


@on_unix
@with_nginx
def test_figures_are_asked_for_from_inside_alone_and_each_request_comes_with_a_number(tmp_path, listening):
    site, told = listening
    with nginx(tmp_path, site) as proxy:
        answers = [
            proxy.asked("GET", path, **{"X-Request-ID": "0123456789"}).status for path in ("/figures/", "/alive/")
        ]

    assert answers == [404, 204]
    assert [len(headers["X-Request-ID"]) for _, headers in told] == [32]


@on_unix
@with_nginx
def test_not_even_what_goes_wrong_puts_into_a_log_of_nginx_what_was_asked(tmp_path):
    with nginx(tmp_path, free_port()) as proxy:
        assert proxy.asked("POST", "/calendar/key.ics?q=Anna", bytes(8 * MEGABYTE)).status == 502

    logs = {path.name: path.read_text(encoding="utf-8") for path in tmp_path.glob("*.log")}
    assert {"horns.log", "nginx.log"} <= set(logs)
    assert not [name for name, said in logs.items() if "Anna" in said or "key.ics" in said]


class Held:
    """The site behind a socket that another holds for it, as systemd does: who asks while nobody serves waits there."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self.door = socket.create_server(("127.0.0.1", 0), backlog=128)
        self.port: int = self.door.getsockname()[1]

    def start(self) -> subprocess.Popen[str]:
        # The number of the process is told by the process itself, since gunicorn takes no other's socket.
        take = (
            f"import os, sys; os.dup2({self.door.fileno()}, 3);"
            "os.environ.update(LISTEN_FDS='1', LISTEN_PID=str(os.getpid()));"
            "os.execv(sys.executable, [sys.executable, '-m', 'gunicorn', *sys.argv[1:]])"
        )
        words = ["--config", str(KIT / "gunicorn.conf.py"), "--workers", "1", "--timeout", "0"]
        given = own_environment(self.data, PYTHONPATH=str(ROOT), HORN_SITE="https://horns.example.org")
        site = subprocess.Popen(
            [sys.executable, "-c", take, *words],
            cwd=ROOT,
            env=given,
            stderr=subprocess.PIPE,
            text=True,
            pass_fds=[self.door.fileno()],
        )
        assert any("Booting worker" in line for line in site.stderr or ())
        return site

    @staticmethod
    def stop(site: subprocess.Popen[str]) -> None:
        site.terminate()
        site.communicate()


@pytest.fixture
def held(tmp_path) -> Iterator[Held]:
    site = Held(tmp_path / "data")
    with site.door:
        yield site


@on_unix
@with_nginx
def test_the_site_behind_nginx_knows_its_name_and_that_it_is_encrypted(tmp_path, held):
    assert manage("prepare", data=held.data).returncode == 0
    site = held.start()
    try:
        with nginx(tmp_path, held.port) as proxy:
            answer = proxy.asked("GET", "/account/sign-in/")
            stranger = proxy.asked("GET", "/account/sign-in/", Host="other.example.org")
    finally:
        held.stop(site)

    assert answer.status == 200
    assert answer.told["Set-Cookie"].startswith("__Host-horn_csrf=")
    assert answer.told["Strict-Transport-Security"] == "max-age=31536000"
    assert stranger.status == 400


@on_unix
@with_nginx
def test_four_slow_uploads_wait_in_nginx_and_hold_nobody_up(tmp_path, held):
    site = held.start()
    try:
        with nginx(tmp_path, held.port) as proxy, ExitStack() as slow:
            for _ in range(4):
                slow.enter_context(proxy.door()).sendall(
                    b"POST / HTTP/1.1\r\nHost: horns.example.org\r\nContent-Length: 3000000\r\n\r\nx"
                )
            assert proxy.asked("GET", "/alive/").words == b"alive\n"
    finally:
        held.stop(site)


@on_unix
@with_nginx
def test_a_restart_behind_the_socket_loses_no_request(tmp_path, held):
    answers: Queue[tuple[int, bytes]] = Queue()
    done = threading.Event()
    site = held.start()
    with nginx(tmp_path, held.port) as proxy:

        def ask() -> None:
            while not done.is_set():
                answer = proxy.asked("GET", "/alive/")
                answers.put((answer.status, answer.words))

        asking = [threading.Thread(target=ask) for _ in range(4)]
        for one in asking:
            one.start()
        try:
            came = [answers.get(timeout=60) for _ in range(20)]
            for _ in range(2):
                held.stop(site)
                site = held.start()
                came += [answers.get(timeout=60) for _ in range(20)]
        finally:
            done.set()
            for one in asking:
                one.join()
            held.stop(site)

    assert {*came, *answers.queue} == {(200, b"alive\n")}


@on_unix
@with_systemd
def test_systemd_takes_the_units(tmp_path):
    for unit in UNITS:
        words = unit.read_text(encoding="utf-8").replace(
            "/srv/horn-cupboard/.venv/bin", str(Path(sys.executable).parent)
        )
        (tmp_path / unit.name).write_text(words, encoding="utf-8")
    done = subprocess.run(
        ["systemd-analyze", "verify", *map(str, sorted(tmp_path.iterdir()))],
        capture_output=True,
        text=True,
        check=False,
    )

    assert (done.returncode, done.stderr) == (0, "")


def test_the_units_run_commands_that_there_are_and_each_timer_has_its_service():
    said = "".join(unit.read_text(encoding="utf-8") for unit in UNITS)

    assert sorted(re.findall(r"manage\.py (\w+)", said)) == ["backup", "forget", "remind", "send_mail"]
    assert {"backup", "forget", "remind", "send_mail"} <= set(get_commands())
    timed = {unit.stem for unit in UNITS if unit.suffix == ".timer"}
    assert (
        timed
        == {"horns-mail", "horns-night", "horns-remind"}
        < {unit.stem for unit in UNITS if unit.suffix == ".service"}
    )


def test_what_the_container_file_copies_is_all_the_site_needs(tmp_path, settings):
    file = (KIT / "Containerfile").read_text(encoding="utf-8")
    copied = [line.split()[1] for line in file.splitlines() if line.startswith("COPY")]
    for name in copied:
        place = tmp_path / "site" / name
        place.parent.mkdir(parents=True, exist_ok=True)
        (shutil.copytree if (ROOT / name).is_dir() else shutil.copy)(ROOT / name, place)

    done = subprocess.run(
        [sys.executable, "manage.py", "prepare"],
        cwd=tmp_path / "site",
        env=own_environment(tmp_path / "data", HORN_SITE="https://horns.example.org"),
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stderr
    # What stands beside the code and is missed by nobody until somebody reads German.
    assert {Path(one).relative_to(ROOT).parts[0] for one in settings.LOCALE_PATHS} <= {*copied}
    assert re.findall(r"^(?:USER .*|RUN .*--require-hashes)", file, re.MULTILINE)[-1] == "USER horns"
