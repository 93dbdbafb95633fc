"""How soon a page is painted by a slow phone on a slow line, in Debian's Chromium.

The line is 400 kilobits a second each way with 400 ms to the site and back, the processor a quarter of the one whose
seconds are asked for (`tests/bench/pace.py`): common practice for "slow 3G", no source. Seconds are those of the clock,
from the tap to the first words on the screen (First Contentful Paint, W3C Paint Timing), the middle one of the rounds:
the first time, with nothing kept by the browser, and the next, when it has the styles and scripts. Beside them the
least there can be: one answer of one word.

The browser's own slow line has each request wait, and counts nothing for finding and opening a connection: a phone that
opens its first one to the site waits for that besides, whatever the site sends.
"""

from __future__ import annotations

import argparse
import sys
from statistics import median
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand
from playwright.sync_api import Page, sync_playwright

from fleet.ground.access import Role
from tests.bench.own_database import own_database
from tests.bench.pace import pace
from tests.bench.pages import school_of
from tests.bench.served.site import served, signed_in
from tests.conftest import chromium_path

LINE = {"offline": False, "latency": 400, "downloadThroughput": 50_000, "uploadThroughput": 50_000}
SLOWER = 4
# Seconds asked for, the first time.
AIMS = {"walk step": 1.5, "list of horns": 2.0}
PAINT = "performance.getEntriesByName('first-contentful-paint')[0]"


class Command(BaseCommand):
    help = "Paint a step of the walk and the list of horns on a slow phone. Exits 1 when one comes later than asked."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=400)
        parser.add_argument("--rounds", type=int, default=5)

    def handle(self, *args: Any, horns: int, rounds: int, **options: Any) -> None:
        with own_database() as folder:
            call_command("createcachetable", verbosity=0)
            world = school_of(max(horns, 400))
            cookies = signed_in(world.people[Role.HEAD])
            here = f"/s/{world.school.slug}"
            pages = {
                "one word": "/robots.txt",
                "walk step": f"{here}/identify/?valves=3",
                "list of horns": f"{here}/horns/",
            }
            with served(folder) as (port, *_):
                slower = pace()
                all_painted = {
                    what: on_a_slow_phone(port, path, cookies, rounds, slower) for what, path in pages.items()
                }
        self.stdout.write("seconds to the first paint: the first time, the next time, kilobytes the first time\n")
        missed = []
        for what, (first, again, size) in all_painted.items():
            late = first > AIMS.get(what, first)
            missed += [what] * late
            aim = f"  asked {AIMS[what]:.1f}{', MISSED' if late else ''}" if what in AIMS else ""
            self.stdout.write(f"  {what:16}{first:8.2f}{again:8.2f}{size / 1e3:8.1f}{aim}\n")
        if missed:
            sys.exit(1)


def on_a_slow_phone(
    port: int, path: str, cookies: dict[str, str], rounds: int, slower: float
) -> tuple[float, float, int]:
    """(seconds the first time, seconds the next time, bytes over the wire the first time); `slower` is this machine's
    pace."""
    site, firsts, nexts, size = f"http://127.0.0.1:{port}", [], [], 0
    slowed = {"rate": max(1, SLOWER / slower)}
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=["--no-sandbox"])
        for _ in range(rounds):
            context = browser.new_context(viewport={"width": 390, "height": 844}, service_workers="block")
            context.add_cookies([{"name": name, "value": value, "url": site} for name, value in cookies.items()])
            page = context.new_page()
            tools = context.new_cdp_session(page)
            tools.send("Network.enable")
            tools.send("Network.emulateNetworkConditions", LINE)
            tools.send("Emulation.setCPUThrottlingRate", slowed)
            came: list[float] = []
            tools.on("Network.loadingFinished", lambda told, came=came: came.append(told["encodedDataLength"]))
            page.goto(site + path)
            firsts.append(painted(page))
            size = int(sum(came))
            page.goto(site + path)
            nexts.append(painted(page))
            context.close()
        browser.close()
    return median(firsts), median(nexts), size


def painted(page: Page) -> float:
    """Seconds from the tap; a page without parts is there before it is painted."""
    return float(page.wait_for_function(PAINT).evaluate("paint => paint.startTime / 1000"))
