from __future__ import annotations

import logging
from collections.abc import Iterator
from io import StringIO
from typing import Any

import pytest

from fleet.watch.lines import InJson, InWords


@pytest.fixture
def written() -> Iterator[dict[str, StringIO]]:
    """What a server and a terminal write down, by the name of the form, at the level of a server."""
    streams: dict[str, StringIO] = {"json": StringIO(), "plain": StringIO()}
    forms: dict[str, Any] = {"json": InJson(), "plain": InWords("{asctime} {levelname} {name}: {message}", style="{")}
    root, fleet = logging.getLogger(), logging.getLogger("fleet")
    handlers = []
    for name, stream in streams.items():
        handler = logging.StreamHandler(stream)
        handler.setFormatter(forms[name])
        handlers.append(handler)
        root.addHandler(handler)
    before = fleet.level
    fleet.setLevel(logging.INFO)
    yield streams
    fleet.setLevel(before)
    for handler in handlers:
        root.removeHandler(handler)
