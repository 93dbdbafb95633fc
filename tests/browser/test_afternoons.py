"""Afternoons in the cellar, a connection that comes and goes at random: nothing lost, nothing twice.

`HORN_AFTERNOONS=200 HORN_AFTERNOONS_SEED=7 pytest tests/browser/test_afternoons.py` lives through so many.
"""

from __future__ import annotations

import os
import random
import time
from collections import Counter
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

import pytest
from django.utils import timezone

from fleet.counting.actions.counts import begin
from fleet.counting.models import Sighting
from fleet.ground.access import Role
from fleet.register.models import Horn, Identification
from tests import make
from tests.browser.conftest import OUTBOX, SLOWER
from tests.browser.test_taken_along import take_along
from tests.register.test_identified import FULL_DOUBLE_IN_BB, FULL_DOUBLE_IN_F

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
AFTERNOONS = int(os.environ.get("HORN_AFTERNOONS", "1"))
SEED = int(os.environ.get("HORN_AFTERNOONS_SEED", "3"))
ACTS = 8
PUT = "(entries) => Promise.all(entries.map(outbox.put))"
WALKS = ((FULL_DOUBLE_IN_BB, "double-full|Bb"), (FULL_DOUBLE_IN_F, "double-full|F"))


class Connection:
    """What becomes of each letter: it comes through, is lost on its way there or back, or something else answers."""

    def __init__(self, chance: random.Random) -> None:
        self.chance, self.met = chance, Counter[str]()

    def carry(self, route: Any) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        met = self.chance.choice(["through", "through", "lost", "answer lost", "away", "guest network"])
        self.met[met] += 1
        if met == "through":
            route.continue_()
        elif met == "lost":
            route.abort()
        elif met == "answer lost":
            route.fetch()
            route.abort()
        elif met == "away":
            route.fulfill(status=502, body="Bad Gateway")
        else:
            route.fulfill(status=200, content_type="text/html", body="<h1>Welcome to our guest network</h1>")


def acts(world: Any, chance: random.Random, horns: list[Horn]) -> list[dict[str, Any]]:
    """Entries as the kept page makes them: new horns, findings on registered ones, taps of a count."""
    made = []
    for n in range(ACTS):
        do = chance.choice(["new", "on-horn", "tap"])
        key = str(UUID(int=chance.getrandbits(128), version=4))
        if do == "tap":
            horn = chance.choice(horns)
            tap = {"horn": horn.pk, "number": "", "note": "", "place": world.place.pk, "label": horn.number}
            made.append({"kind": "tap", "key": key, "path": world.send, **tap})
            continue
        walk, kind = chance.choice(WALKS)
        fields = [["kind", kind], ["sent_as", key]]
        if do == "new":
            fields += [["act", "as-new"], ["number", "HN-0100"], ["suggested", "HN-0100"], ["place", ""]]
        else:
            fields += [["act", "on-horn"], ["horn_number", chance.choice(horns).number]]
        path = f"{world.home}horns/identified/?{urlencode(walk)}"
        made.append({"kind": "form", "key": f"walk {key}", "path": path, "name": f"walk {n}", "fields": fields})
    return made


@pytest.fixture
def world(open_as):
    class World:
        school = make.school()
        teacher = make.staff(Role.TEACHER, school)
        place = make.place(school)
        page = open_as(teacher, width=390)
        home = f"/s/{school.slug}/"

    return World


def test_of_afternoons_with_a_connection_that_comes_and_goes_nothing_is_lost_or_there_twice(world):
    chance = random.Random(SEED)
    horns = [make.horn(world.school, number=f"HN-000{n}", build="", place=world.place) for n in range(4)]
    count = begin(school=world.school, places=[world.place], by=world.teacher, at=timezone.now())
    world.send = f"{world.home}counts/{count.pk}/sent/"
    page = take_along(world)
    connection = Connection(chance)
    page.goto(f"{world.home}along/cupboard/")
    page.context.route("**/horns/identified/**", connection.carry)
    page.context.route("**/sent/", connection.carry)
    done: list[dict[str, Any]] = []
    for _ in range(AFTERNOONS):
        done += (mine := acts(world, chance, horns))
        page.evaluate(PUT, mine)
        # Opened again, the page finds them and sends what it finds.
        page.reload()

        latest = time.monotonic() + 120 * SLOWER
        while page.evaluate(f"async () => (await {OUTBOX}).length"):
            assert time.monotonic() < latest, (connection.met, page.evaluate(OUTBOX))
            # Each time the connection is back what waits is tried; the letter before has been answered by then or not.
            page.evaluate("new Promise((done) => { window.dispatchEvent(new Event('online')); setTimeout(done, 50); })")

    walks = [dict(one["fields"]) for one in done if one["kind"] == "form"]
    kept = Identification.objects.values_list("sent_as", flat=True)
    assert sorted(map(str, kept)) == sorted(one["sent_as"] for one in walks)
    assert Horn.objects.count() == len(horns) + sum(one["act"] == "as-new" for one in walks)
    tapped = [one["horn"] for one in done if one["kind"] == "tap"]
    seen = Sighting.objects.filter(line__count=count).standing().values_list("line__horn", flat=True)
    assert sorted(seen) == sorted(tapped)
    assert set(connection.met) == {"through", "lost", "answer lost", "away", "guest network"}
