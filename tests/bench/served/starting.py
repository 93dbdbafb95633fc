"""How long a worker takes from its start to its first page, and what it holds at rest, beside a bare Django site.

Each is begun some times in a process of its own, as gunicorn begins a worker, in turns; its first page is the one to
sign in on, the bare site's a line of text with sessions, accounts and messages behind it. Seconds are those of the
process's processor, the least of the rounds, at the pace of the aims (`tests/bench/pace.py`); megabytes those it holds
(VmRSS), before any page.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from typing import Any

from django.core.management.base import BaseCommand

from tests.bench.pace import BARE, begun, times_slower
from tests.bench.served.site import ROOT

MOST_SECONDS, MOST_MB = 0.5, 70.0
OURS = "from fleet.wsgi import application"


class Command(BaseCommand):
    help = "Time a worker's start and its first page, and what it holds. Exits 1 when either is over its aim."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--rounds", type=int, default=7, help="how often each is begun (3 to 50)")

    def handle(self, *args: Any, rounds: int, **options: Any) -> None:
        rounds = min(max(rounds, 3), 50)
        sites = {"ours": OURS, "a bare site": BARE}
        told: dict[str, list[tuple[float, float]]] = {name: [] for name in sites}
        with tempfile.TemporaryDirectory(prefix="horn-bench-") as folder:
            # Code is compiled once, by the first round, which does not count.
            given = {**os.environ, "HORN_DATA": folder, "PYTHONDONTWRITEBYTECODE": ""}
            subprocess.run(
                [sys.executable, "manage.py", "prepare"], cwd=ROOT, env=given, check=True, capture_output=True
            )
            for turn in range(-1, rounds):
                for name, site in sites.items():
                    took = begun(site, given)
                    told[name] += [took] if turn >= 0 else []
        least = {name: (min(s for s, _ in rows), min(mb for _, mb in rows)) for name, rows in told.items()}
        for name, (seconds, mb) in least.items():
            self.stdout.write(f"{name:12}{seconds:6.2f} s to the first page, {mb:5.1f} MB at rest\n")
        (seconds, mb), (bare, bare_mb) = least["ours"], least["a bare site"]
        slower = times_slower(bare)
        good = seconds <= MOST_SECONDS * slower and mb <= MOST_MB
        self.stdout.write(
            f"{'Reached' if good else 'MISSED'}: {seconds / bare:.1f} times a bare site's start and {mb - bare_mb:.0f}"
            f" MB more; at the pace of the aims {seconds / slower:.2f} s; wanted {MOST_SECONDS} s and {MOST_MB:g} MB.\n"
        )
        if not good:
            sys.exit(1)
