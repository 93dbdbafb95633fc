from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.conf import settings
from playwright.sync_api import expect

from fleet.people.models import User
from tests.browser_client import Browser

# The rules of WCAG up to 2.2, levels A and AA.
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]

SLOWER = max(1, float(os.environ.get("HORN_TEST_SLOW", "1")))
PATIENCE = 15_000 * SLOWER
expect.set_options(timeout=PATIENCE)
# What is said of something that waits for a connection.
KEPT = "No connection: it is sent as soon as there is one. Until then it is kept in this browser."
# A promise of all that lies in the browser's outbox, for `page.evaluate`.
OUTBOX = """new Promise((done) => {
    const opening = indexedDB.open("horn-cupboard");
    opening.onsuccess = () => {
        const asked = opening.result.transaction("entries").objectStore("entries").getAll();
        asked.onsuccess = () => { opening.result.close(); done(asked.result); };
    };
})"""
# A promise that every worker of the site's pages has begun to act.
BEGUN = """async () => {
    for (const { installing, waiting, active } of await navigator.serviceWorker.getRegistrations()) {
        const worker = installing || waiting || active;
        while (!["activated", "redundant"].includes(worker.state)) {
            await new Promise((done) => { worker.onstatechange = done; });
        }
    }
}"""


def outbox_comes_to(page: Any, test: str, arg: Any = None) -> None:
    """Waits until `test`, a function of JavaScript of all entries and `arg`, is true of what lies in the outbox.

    `page.wait_for_function` takes a promise for true before it has ended, so it does not wait for one; and the page's
    own clock may stand still.
    """
    latest = time.monotonic() + 15 * SLOWER
    while not page.evaluate(f"async (arg) => ({test})(await {OUTBOX}, arg)", arg):
        if time.monotonic() > latest:
            pytest.fail(f"The outbox did not come to it: {page.evaluate(OUTBOX)}")


def connected(page: Any) -> None:
    """The connection is back, and the page hears of it, which one that is slowed does not always by itself."""
    page.context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")


def slowed(page: Any) -> Any:
    """The page on a processor HORN_TEST_SLOW times slower, where that is set: finds tests that do not wait."""
    if SLOWER > 1:
        page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.set_default_timeout(PATIENCE)
    return page


@pytest.fixture
def open_as(chromium: Any, live_server: Any) -> Iterator[Callable[..., Any]]:
    """`open_as(user, width=390)` gives a page of a fresh browser in which that person has signed in."""
    contexts = []

    def enter(user: User | None, *, width: int = 1280, height: int = 900, script: bool = True) -> Any:
        context = chromium.new_context(
            base_url=live_server.url,
            viewport={"width": width, "height": height},
            java_script_enabled=script,
        )
        contexts.append(context)
        if user is not None:
            client = Browser()
            client.come_as(user)
            cookie = client.cookies[settings.SESSION_COOKIE_NAME]
            context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
        return slowed(context.new_page())

    yield enter
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def axe() -> Callable[[Any], list[str]]:
    """What the accessibility engine finds wrong with a page, as one line a finding.

    In the light alone: in the dark only the colours are others, and tests/test_look.py reckons every pair of them."""
    from axe_playwright_python.sync_playwright import Axe

    engine = Axe().axe_script
    rules = {"type": "tag", "values": AXE_TAGS}
    # Its own way to run it puts the engine in anew each time and sends back what is right of a page, too.
    run = "(run) => axe.run({runOnly: run, resultTypes: ['violations']}).then((told) => told.violations)"

    def examine(page: Any) -> list[str]:
        if not page.evaluate("'axe' in window"):
            # Handed over once: from the next page on it is there by itself.
            page.add_init_script(engine)
            page.evaluate(engine)
        return [
            f"{violation['id']}: {node['html'][:120]}"
            for violation in page.evaluate(run, rules)
            for node in violation["nodes"]
        ]

    return examine
