"""A mail server of its own on this machine for tests of letters: it keeps what comes and refuses what it is told to."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP


@dataclass
class Postbox:
    """`refuses` maps an address to the server's answer; `while_receiving` runs in a thread of its own."""

    port: int
    arrived: list[EmailMessage] = field(default_factory=list)
    refuses: dict[str, str] = field(default_factory=dict)
    while_receiving: Callable[[], object] | None = None
    hangs_up: bool = False
    answer: str = "250 taken"

    def to(self) -> list[str]:
        return [str(letter["To"]) for letter in self.arrived]

    async def handle_RCPT(self, server: SMTP, session: Any, envelope: Any, address: str, options: Any) -> str:
        if address in self.refuses:
            return self.refuses[address]
        envelope.rcpt_tos.append(address)
        return "250 yes"

    async def handle_DATA(self, server: SMTP, session: Any, envelope: Any) -> str:
        if self.while_receiving is not None:
            # Django keeps its database away from threads that run an event loop, as this one does.
            aside = threading.Thread(target=self.while_receiving)
            aside.start()
            aside.join(30)
        if self.answer.startswith("250"):
            self.arrived.append(message_from_bytes(envelope.content, policy=policy.default))  # type: ignore[arg-type]
        if self.hangs_up:
            server.transport.abort()
        return self.answer


@contextmanager
def open_postbox(port: int) -> Iterator[Postbox]:
    box = Postbox(port)
    controller = Controller(box, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield box
    finally:
        controller.stop()
