"""What the cupboard taken along takes: room on a phone, bytes over the wire when it is first taken, and how long a step
of the walk lasts there.

A school of 500 horns, half of them out, each twentieth broken, all in counts that go on. Room is the sum of what is
kept, as it lies there; the wire the same, compressed as the site and the store of its styles do it, and the worker. A
step is from the tap until the next page is laid out: script, style and layout by the clock of the thread, times six for
a processor so much slower, of each step the least of some rounds. A browser that is itself slowed down (`--slowed`)
tells the same where the machine is quiet, and on a busy one how busy it is. Walks are of a full double that answers as
it should, and of answers at random, which fit nothing and are the longest to reason about. The peer is the same step on
the site's own page, without any wire between.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import statistics
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from gzip import compress
from html import unescape
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import find
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.management.base import BaseCommand
from django.db import connections
from django.test import Client
from django.test.testcases import LiveServerThread

from fleet.counting.actions.counts import begin
from fleet.ground.access import Role
from fleet.register.models import Place
from identify.core.reasoning.scales import scales
from tests import make
from tests.bench.own_database import own_database, without_manifest
from tests.bench.pace import pace
from tests.bench.pages import school_of
from tests.bench.walks import Staff
from tests.conftest import chromium_path
from tests.doors import World

MOST_KEPT, MOST_WIRE, LONGEST, SLOWER = 3_000_000, 300_000, 50, 6
ROUNDS, AT_RANDOM, STEPS = 5, 6, 14
SHOWN = """() => { const asked = document.getElementById("question")?.textContent;
    const all = [...document.querySelectorAll("template[data-short]")];
    const asks = (one) => one.content.querySelector("h1").textContent;
    return all.find((one) => asks(one) === asked)?.id.slice("question-".length); }"""
ANSWERS = """() => [...document.querySelectorAll("[data-shown] [data-answer]")].map((one) => one.dataset.answer)"""
# Asked how high it is, a page is laid out at once; what is left then is paint, and the wait for the screen.
STEP = """(answer) => {
    const button = document.querySelector(`[data-shown] [data-answer="${answer}"]`), begun = performance.now();
    button.click();
    return document.body.offsetHeight && performance.now() - begun;
}"""
CLOCKS = {"ScriptDuration", "LayoutDuration", "RecalcStyleDuration"}
LOADED = "() => performance.getEntriesByType('navigation')[0].loadEventEnd"


class Command(BaseCommand):
    help = "Room, wire and steps of the cupboard taken along. Exits 1 when one is too large or too slow."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=500, help="horns of the school (20 to 5,000)")
        parser.add_argument("--slowed", action="store_true", help="by a browser slowed down, on a quiet machine")

    def handle(self, *args: Any, horns: int, slowed: bool, **options: Any) -> None:
        with own_database(), without_manifest(ALLOWED_HOSTS=["*"]):
            world = school_of(min(max(horns, 20), 5_000))
            places = list(Place.objects.filter(school=world.school).exclude(pk=world.place.pk))
            begin(school=world.school, places=places, by=world.people[Role.HEAD], at=make.NOW)
            client = Client(headers={"accept-encoding": "gzip"})
            client.force_login(world.people[Role.HEAD], backend="fleet.people.queries.signed_in.Accounts")
            kept, wire = sizes(client, world)
            steps, peers = steps_of(client, world, slowed=slowed)
        worst, slower = max(steps), pace()
        self.stdout.write(
            f"{horns} horns: {kept / 1e6:.2f} MB kept, {wire / 1e3:.0f} kB over the wire. {len(steps)} steps, "
            f"{SLOWER} times slower: {statistics.median(steps):.0f} ms, at most {worst:.0f}; "
            f"on the site's own page {statistics.median(peers):.0f} ms; at the pace of the aims at most "
            f"{worst / slower:.0f} ms, wanted {LONGEST}.\n"
        )
        missed = kept > MOST_KEPT or wire > MOST_WIRE or worst > LONGEST * slower
        self.stdout.write("MISSED\n" if missed else "Reached\n")
        sys.exit(int(missed))


def sizes(client: Client, world: World) -> tuple[int, int]:
    """Bytes that lie on a phone, and that go over the wire to it."""
    plain = Client(headers={"accept-encoding": "identity"})
    plain.cookies = client.cookies
    said = re.search(r'<script id="parts"[^>]*>(.*?)</script>', plain.get(world.address("along:along")).text, re.S)
    assert said
    kept, wire = 0, 0
    for part in json.loads(unescape(said[1])):
        if part.startswith(settings.STATIC_URL):
            file = Path(str(find(part.removeprefix(settings.STATIC_URL)))).read_bytes()
            kept, wire = kept + len(file), wire + len(compress(file, 9))
        else:
            kept, wire = kept + len(plain.get(part).content), wire + len(client.get(part).content)
    # Once for the school and once for its labels, each with the outbox.
    outbox = Path(str(find("fleet/outbox.js"))).read_bytes()
    return kept, wire + 2 * (len(client.get(world.address("along:worker")).content) + len(compress(outbox, 9)))


@contextmanager
def served() -> Iterator[str]:
    """Where the site answers, while it is served."""
    site = LiveServerThread("localhost", StaticFilesHandler)
    site.daemon = True
    site.start()
    site.is_ready.wait()
    try:
        yield f"http://localhost:{site.port}"
    finally:
        site.terminate()
        connections.close_all()


def steps_of(client: Client, world: World, *, slowed: bool) -> tuple[list[float], list[float]]:
    """Milliseconds of each step on the kept page, and of those of the first walk on the site's own."""
    from playwright.sync_api import sync_playwright

    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    staff = Staff(scales())
    double = next(place for place, one in enumerate(staff.on.every) if one.key == ("double-full", "F"))
    with served() as site, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium_path(), args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 390, "height": 844})
        page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": site}])
        clock = page.context.new_cdp_session(page)
        clock.send("Performance.enable", {"timeDomain": "threadTicks"})
        if slowed:
            clock.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})

        def worked() -> float:
            told = clock.send("Performance.getMetrics")["metrics"]
            return 1e3 * SLOWER * sum(one["value"] for one in told if one["name"] in CLOCKS)

        page.goto(f"{site}{world.address('along:cupboard')}")
        page.get_by_role("heading", name="Without a connection").wait_for()
        taken: dict[tuple[int, int], float] = {}
        asked = []
        for _ in range(ROUNDS):
            for walk in range(AT_RANDOM + 1):
                chance, note = random.Random(walk), None
                page.get_by_role("link", name="Horn Cupboard").first.click()
                page.get_by_role("link", name="Identify a horn").click()
                for step in range(STEPS):
                    if (key := page.evaluate(SHOWN)) is None:
                        break
                    answers = page.evaluate(ANSWERS) if walk else sorted(staff.right(double, key, note))
                    answer = chance.choice(answers)
                    note = answer if key == "test_note" else note
                    before = worked()
                    seen = page.evaluate(STEP, answer)
                    took = seen if slowed else worked() - before
                    taken[walk, step] = min(took, taken.get((walk, step), took))
                    if not walk:
                        asked.append(page.url)
        peers = []
        for address in dict.fromkeys(asked):
            page.goto(address)
            peers.append(page.evaluate(LOADED) * (1 if slowed else SLOWER))
        browser.close()
    return list(taken.values()), peers
