"""Ports of this machine for servers that tests start."""

from __future__ import annotations

import socket
from random import SystemRandom

# Below what Linux, Windows and macOS give to whoever calls (from 32,768 on): a port that was only looked at could be
# given away to a call of another test before its server has it.
PORTS = range(20_000, 32_000)


def free_port() -> int:
    """One that nobody listens at."""
    while True:
        # No test's seed: each of several workers would look at the same ports.
        port = SystemRandom().choice(PORTS)
        with socket.socket() as one:
            try:
                one.bind(("127.0.0.1", port))
            except OSError:
                continue
        return port
