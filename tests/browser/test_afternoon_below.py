"""An afternoon below: horns walked, registered, checked, photographed, three places counted by two devices, no
connection; then a site that is killed again and again while both send. Afterwards each act is there once, with the
device's time beside the site's.

`HORN_BELOW=30 pytest tests/browser/test_afternoon_below.py` takes so many horns.
"""

from __future__ import annotations

import os
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import expect

from fleet.counting.actions.counts import begin
from fleet.counting.models import Sighting
from fleet.ground.access import Role
from fleet.record.models import Act
from fleet.register.models import Horn, Identification, Photograph
from fleet.workshop.models import ConditionCheck
from tests import make
from tests.browser.outbox.letterbox import sent_until
from tests.browser.outbox.mortal import Mortal, mortal
from tests.browser.test_acts_along import camera, unfold
from tests.browser.test_taken_along import heading, take_along, walked
from tests.browser_client import Browser

pytestmark = [
    pytest.mark.browser,
    pytest.mark.journey,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(os.name == "nt", reason="Windows ends a program in another way"),
]
HORNS = int(os.environ.get("HORN_BELOW", "2"))
# In minutes: the more horns, the more there is to send.
PATIENCE = max(1, HORNS // 6)
LATER = timedelta(hours=2)
# How the site dies, and at which letter of that life.
DEATHS = [("midway", 2), ("answered", 3)] * PATIENCE


@pytest.fixture
def world(open_as, tmp_path):
    class World:
        school = make.school()
        teacher, colleague = make.staff(Role.TEACHER, school), make.staff(Role.TECHNICIAN, school)

        def __init__(self, site: Mortal) -> None:
            self.site, self.home = site, f"{site.address}/s/{self.school.slug}/"

        def device(self, who: Any) -> Any:
            """Somebody's phone, by a clock of its own, with the cupboard taken along and the connection gone."""
            self.page = open_as(None, width=390)
            self.page.clock.install(time="2031-05-05T08:00:00")
            client = Browser()
            client.come_as(who)
            cookie = client.cookies[settings.SESSION_COOKIE_NAME]
            self.page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": self.site.address}])
            take_along(self)
            self.page.context.set_offline(True)
            return self.page

    with mortal(tmp_path) as site:
        yield World(site)


def count_there(page: Any, address: str, horns: list[Horn]) -> None:
    page.goto(address)
    for horn in horns:
        row = page.locator(".shelf li", has_text=horn.number)
        row.get_by_role("button", name="Seen").click()
        expect(row.get_by_text("✓ kept, not sent yet")).to_be_visible()


def test_of_an_afternoon_below_each_act_is_there_once_and_tells_when_it_was_done(world):
    places = [make.place(world.school, room=room, shelf="") for room in ("Attic", "Cellar", "Hall")]
    there = [make.horn(world.school, number=f"HN-00{n:02}", place=places[n % 3]) for n in range(1, 7)]
    count = begin(school=world.school, places=places, by=world.teacher, at=timezone.now() - 2 * LATER)
    first, second = world.device(world.teacher), world.device(world.colleague)
    # Below there is nothing to reach: a browser told that it has no connection lets a request through now and then.
    world.site.kill()
    for n in range(1, HORNS + 1):
        first.goto(world.home)
        walked(first)
        first.get_by_label("Place").select_option("Cellar")
        first.get_by_role("button", name="As a new horn").click()
        first.get_by_role("link", name=f"Go on with new horn {n}").click()
        first.get_by_role("link", name="Something is wrong: check it").click()
        unfold(first, "Valves")
        first.get_by_role("checkbox", name="rotor leaking").check()
        first.get_by_label("light wear").check()
        first.get_by_role("button", name="Save the check").click()
        expect(first.get_by_text(f"Kept on this device: Check of new horn {n}.")).to_be_visible()
        first.get_by_label("Photograph it").set_input_files(camera(300))
        expect(first.get_by_text(f"Kept on this device: Photograph of new horn {n}.")).to_be_visible()
    # Of three places each device counts two: one is counted by both.
    for page, two in ((first, (0, 1)), (second, (1, 2))):
        for place in two:
            mine = [horn for horn in there if horn.place == places[place]]
            count_there(page, f"{world.home}counts/{count.pk}/shelf/?place={places[place].pk}", mine)
        page.clock.fast_forward("02:00:00")
        page.goto(world.home)
        heading(page, "Without a connection")

    # The site is killed while they send: in the middle of what it writes, and when all is kept and nobody is told.
    for page in (first, second):
        page.context.set_offline(False)
    for when, letter in DEATHS:
        world.site.begin(when, letter)
        sent_until(lambda: world.site.killed, first, second, patience=PATIENCE)
    waiting = "outbox.all().then((all) => all.length)"
    assert any(page.evaluate(waiting) for page in (first, second))
    world.site.begin()
    sent_until(lambda: not any(page.evaluate(waiting) for page in (first, second)), first, second, patience=PATIENCE)

    new = Horn.objects.exclude(pk__in=[horn.pk for horn in there])
    made = [(horn.identifications.count(), horn.checks.count(), horn.photographs.count()) for horn in new]
    assert made == [(1, 1, 1)] * HORNS
    assert {horn.place for horn in new} == {places[1]}
    seen = Sighting.objects.filter(line__count=count).standing()
    assert {one.line.horn_id for one in seen} == {horn.pk for horn in there}
    assert seen.values("line", "by").distinct().count() == seen.count() == 8
    checks = [(one.at, one.received_at) for one in ConditionCheck.objects.all()]
    counted = [(one.seen_at, one.received_at) for one in seen]
    deeds = [(Identification, "horns.identified"), (Photograph, "horns.photograph-added")]
    told = [
        (kind.objects.get(horn=act.horn_id).at, act.at) for kind, deed in deeds for act in Act.objects.filter(deed=deed)
    ]
    assert len(told) == 2 * HORNS
    for done, received in (*checks, *counted, *told):
        assert LATER <= received - done < 2 * LATER
