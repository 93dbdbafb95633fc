"""A page that keeps and sends words, and a letterbox that answers as it is told."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from typing import Any

from tests.browser.conftest import SLOWER, outbox_comes_to

QUEUE = """(most) => {
    window.told = [];
    window.resting = true;
    window.line = outbox.queue({
        mine: (one) => one.kind === "words",
        body: (batch) => JSON.stringify(batch.map((one) => one.words)),
        most,
        on: {
            sending: () => { resting = false; },
            rest: () => { resting = true; },
            sent: (batch) => { told.push(["sent", ...batch.map((one) => one.words)]); },
            refused: (one) => { told.push(["refused", one.words]); },
            stuck: (became) => {
                told.push([became.how, became.status]);
                outbox.tell(document.querySelector("h1"), became);
            },
        },
    });
}"""


class Letterbox:
    """Stands where the site would: `letters` are those that came, `answer` says what each is answered with.

    No answer at all, None, holds the letter; an empty one is lost on its way back.
    """

    def __init__(self, page: Any) -> None:
        self.letters: list[Any] = []
        self.held: list[Any] = []
        self.answer: Callable[[Any], dict[str, Any] | None] = lambda _letter: {"status": 201, "json": {}}
        page.context.route("**/letterbox/", self._take)

    def _take(self, route: Any) -> None:
        self.letters.append(json.loads(route.request.post_data))
        answer = self.answer(route.request)
        if answer is None:
            self.held.append(route)
        elif not answer:
            route.abort("connectionreset")
        else:
            route.fulfill(**answer)

    def hold(self) -> None:
        self.answer = lambda _letter: None

    def lose(self) -> None:
        self.answer = lambda _letter: {}

    def cut(self) -> None:
        self.lose()
        while self.held:
            self.held.pop().abort("connectionreset")

    def open(self) -> None:
        self.answer = lambda _letter: {"status": 201, "json": {}}
        while self.held:
            self.held.pop().fulfill(status=201, json={})


def add(page: Any, *words: str, **more: Any) -> None:
    for one in words:
        entry = {"kind": "words", "path": "/letterbox/", "words": one, **more}
        # Not waited for: what becomes of it is looked at afterwards.
        page.evaluate("(entry) => { line.add(entry); }", entry)


def sent_in_vain(world: Any, page: Any, first: str, *others: str) -> None:
    """Puts all into the outbox, where they are after one letter, with the first alone, that did not arrive."""
    world.box.hold()
    with page.expect_request("**/letterbox/"):
        add(page, first)
    for one in others:
        page.evaluate("(words) => line.add({ kind: 'words', path: '/letterbox/', words })", one)
    world.box.cut()
    told_so_often(page, 1)
    world.box.letters.clear()


def try_again(page: Any) -> None:
    page.evaluate("window.dispatchEvent(new Event('online'))")


def sent_until(so: Callable[[], bool], *pages: Any, patience: int = 1) -> None:
    """Tries again and again, as somebody who looks now and then, until it has come so; `patience` in minutes."""
    latest = time.monotonic() + 60 * SLOWER * patience
    while not so():
        assert time.monotonic() < latest
        for page in pages:
            try_again(page)
            page.wait_for_timeout(100)


def told(page: Any, *what: Any) -> None:
    """Waits until the page was told this."""
    page.wait_for_function("(what) => told.some((one) => JSON.stringify(one) === what)", arg=packed(what))


def told_so_often(page: Any, times: int) -> None:
    page.wait_for_function("(times) => told.length === times", arg=times)


def time_passes(page: Any, ms: int) -> None:
    """Lets time go on once the outbox rests: only then is planned what it tries again later."""
    page.wait_for_function("() => resting")
    page.clock.run_for(ms)


def packed(what: Any) -> str:
    return json.dumps(list(what), separators=(",", ":"))


def holds(page: Any, *words: str, state: str = "waiting") -> None:
    """Waits until just these words lie in the outbox, in that state."""
    outbox_comes_to(
        page,
        """(all, [words, state]) => {
            const mine = all.filter((one) => one.kind === "words" && one.state === state);
            mine.sort((a, b) => a.order - b.order);
            return JSON.stringify(mine.map((one) => one.words)) === words;
        }""",
        [packed(words), state],
    )
