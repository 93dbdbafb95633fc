"""A real nginx before a site, as `deploy/nginx.conf` sets it."""

from __future__ import annotations

import socket
import ssl
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from http.client import HTTPSConnection
from pathlib import Path
from types import SimpleNamespace

from tests.exchange.sites import ROOT
from tests.ports import free_port


class Proxy:
    """A real nginx that reads our block, on ports of its own and with a certificate of a minute."""

    def __init__(self, folder: Path, site: int, level: str) -> None:
        self.folder, self.plain, self.encrypted = folder, free_port(), free_port()
        key, certificate = folder / "key.pem", folder / "certificate.pem"
        asks = [
            "openssl",
            "req",
            "-x509",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-days",
            "1",
            "-subj",
            "/CN=horns.example.org",
        ]
        subprocess.run([*asks, "-keyout", str(key), "-out", str(certificate)], check=True, capture_output=True)
        self.trusting = ssl.create_default_context(cafile=certificate)
        self.trusting.check_hostname = False
        block = (ROOT / "deploy/nginx.conf").read_text(encoding="utf-8")
        for ours, here in {
            "listen 80;": f"listen 127.0.0.1:{self.plain};",
            "listen 443 ssl": f"listen 127.0.0.1:{self.encrypted} ssl",
            "/etc/letsencrypt/live/horns.example.org/fullchain.pem": str(certificate),
            "/etc/letsencrypt/live/horns.example.org/privkey.pem": str(key),
            "/var/log/nginx/horns.log crit": f"{folder / 'horns.log'} {level}",
            "127.0.0.1:8001": f"127.0.0.1:{site}",
        }.items():
            assert block.count(ours) == 1, ours
            block = block.replace(ours, here)
        rooms = "".join(
            f"{one}_temp_path {folder / one};" for one in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        )
        self.file = folder / "nginx.conf"
        self.file.write_text(
            f"daemon off; master_process off; pid {folder / 'pid'}; error_log {folder / 'nginx.log'}; events {{}}\n"
            f"http {{ access_log off; {rooms}\n{block}}}\n",
            encoding="utf-8",
        )

    def asked(self, method: str, path: str, body: bytes | None = None, **headers: str) -> SimpleNamespace:
        """What is answered to somebody who calls the site by its name, read to the end."""
        with closing(HTTPSConnection("127.0.0.1", self.encrypted, timeout=60, context=self.trusting)) as one:
            one.request(method, path, body, {"Host": "horns.example.org", **headers})
            with one.getresponse() as answer:
                return SimpleNamespace(status=answer.status, told=answer.headers, words=answer.read())

    @contextmanager
    def door(self) -> Iterator[ssl.SSLSocket]:
        plain = socket.create_connection(("127.0.0.1", self.encrypted), timeout=60)
        with self.trusting.wrap_socket(plain) as one:
            yield one


@contextmanager
def nginx(folder: Path, site: int, level: str = "crit") -> Iterator[Proxy]:
    proxy = Proxy(folder, site, level)
    words = ["nginx", "-p", str(folder), "-e", str(folder / "nginx.log"), "-c", str(proxy.file)]
    with subprocess.Popen(words, stderr=subprocess.DEVNULL) as running:
        try:
            while True:
                assert running.poll() is None, (folder / "nginx.log").read_text(encoding="utf-8")
                try:
                    socket.create_connection(("127.0.0.1", proxy.encrypted)).close()
                    break
                except ConnectionRefusedError:
                    continue
            yield proxy
        finally:
            running.terminate()
