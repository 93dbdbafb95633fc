"""Runs the site on this computer, for one school or for a look around."""

from __future__ import annotations

import errno
import signal
import socket
import threading
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from fleet import environment


class Command(BaseCommand):
    help = "Prepare the data, load the invented demo school when there is nothing yet and no HORN_SITE, and serve."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=None, help="default: HORN_PORT, else 8000")
        parser.add_argument("--no-demo", action="store_true", help="leave an empty database empty")

    def handle(self, *args: Any, **options: Any) -> None:
        port = options["port"] or environment.whole("HORN_PORT", 8000, 1, 65535)
        listener = self._listener(port)
        call_command("prepare")
        # Its passwords are known to everybody: none of it where others come in.
        if not options["no_demo"] and not settings.SITE_ORIGIN:
            call_command("demo", only_when_empty=True)
        folded()
        self._say_where(port)
        # A stop from outside ends it as Ctrl-C does.
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        self._serve(listener)

    def _listener(self, port: int) -> socket.socket:
        """The open port, taken before anything else so that a port in use costs no waiting."""
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind(("127.0.0.1", port))
            listener.listen(64)
        except OSError as trouble:
            listener.close()
            if trouble.errno in {errno.EADDRINUSE, errno.EACCES} or getattr(trouble, "winerror", 0) in {
                10013,
                10048,
            }:
                raise CommandError(
                    f"Port {port} is taken or not allowed. Choose another: HORN_PORT=8001 make run"
                ) from trouble
            raise CommandError(f"Port {port} cannot be opened: {trouble.strerror}.") from trouble
        return listener

    def _say_where(self, port: int) -> None:
        from fleet.desk.actions.demo import SIGN_INS, demo_is_here
        from fleet.exchange.actions.daily_backups import KEPT

        self.stdout.write(f"\nHorn Cupboard is at http://127.0.0.1:{port}  (stop it with Ctrl-C)")
        if demo_is_here():
            self.stdout.write("\nThe demo school's sign-ins, all invented:")
            for what, email, password in SIGN_INS:
                self.stdout.write(f"  {what:<16} {email:<32} {password}")
            self.stdout.write("  A guardian may also ask for a code on the sign-in page; the letter appears below.\n")
        self.stdout.write(f"Data: {settings.DATA_DIR}, with a backup of each of the last {KEPT} days in backups/\n")
        self.stdout.flush()

    def _serve(self, listener: socket.socket) -> None:
        from waitress import create_server

        from fleet.management.daily import each_day, each_moment
        from fleet.wsgi import application

        server = create_server(
            application,
            sockets=[listener],
            # More would only take turns at one interpreter and at SQLite's one lock, and all wait longer. A slow upload
            # holds none: what is sent is read before a thread has it.
            threads=4,
            ident="",
            clear_untrusted_proxy_headers=True,
            # No recording that is listened to (6 MB at most) is laid down in a temporary file; nothing is taken without
            # end, and few enough at once that memory stays bounded.
            inbuf_overflow=7 * 1024 * 1024,
            max_request_body_size=256 * 1024 * 1024,
            # A phone keeps up to six open: about forty phones.
            connection_limit=250,
        )
        over = threading.Event()
        daily = threading.Thread(target=each_day, args=(over, self._say), daemon=True)
        daily.start()
        threading.Thread(target=each_moment, args=(over,), daemon=True).start()
        try:
            server.run()
        except KeyboardInterrupt:
            pass
        finally:
            over.set()
            server.close()
            daily.join(timeout=5)
            folded()

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()


def folded() -> None:
    """Folds into SQLite's file what was written beside it, so that the file alone is whole; closes the connection."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
