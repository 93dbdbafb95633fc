"""What goes wrong between a cellar and the site: each has a sentence on the kept page; nothing is lost or twice there.

A browser context of these tests is a private window already.
"""

from __future__ import annotations

import socket
import threading
import time
from contextlib import closing, suppress
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import expect

from fleet.counting.actions.counts import begin
from fleet.counting.models import Sighting
from fleet.ground.access import Role
from fleet.workshop.models import ConditionCheck
from tests import make
from tests.browser.conftest import PATIENCE, outbox_comes_to
from tests.browser.outbox.letterbox import try_again
from tests.browser.test_taken_along import heading, take_along
from tests.browser_client import Browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
EMPTY = "(all) => all.length === 0"
KEEPS_NOTHING = "IDBFactory.prototype.open = () => { throw new Error('denied'); };"
IS_FULL = "IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };"


def make_horns(school: Any, place: Any) -> list[Any]:
    return [make.horn(school, number=f"HN-000{n}", place=place) for n in (1, 2, 3)]


@pytest.fixture
def world(open_as):
    class World:
        school = make.school()
        teacher = make.staff(Role.TEACHER, school)
        place = make.place(school, room="Cellar", shelf="")
        horns = make_horns(school, place)
        horn = horns[0]
        page = open_as(teacher, width=390)
        home = f"/s/{school.slug}/"

        def away(self) -> Any:
            page = take_along(self)
            page.context.set_offline(True)
            return page

        def looked_over(self, horn: Any = None) -> None:
            horn = horn or self.horn
            self.page.goto(f"{self.home}horns/{horn.pk}/")
            heading(self.page, horn.number)
            self.page.get_by_role("button", name="All fine, light wear").click()

    return World()


class Wire:
    """Between a browser and the site; where it is `torn`, the answer to what is sent breaks off at its beginning."""

    def __init__(self, to: str) -> None:
        self.to, self.torn = (urlsplit(to).hostname, urlsplit(to).port), False
        self.ears = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://localhost:{self.ears.getsockname()[1]}"
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        with suppress(OSError):
            while True:
                caller, _ = self.ears.accept()
                threading.Thread(target=self._carry, args=(caller,), daemon=True).start()

    def _carry(self, caller: socket.socket) -> None:
        with closing(caller), closing(socket.create_connection(self.to)) as site, suppress(OSError):
            posted = threading.Event()

            def there() -> None:
                with suppress(OSError):
                    while said := caller.recv(65536):
                        if said.startswith(b"POST"):
                            posted.set()
                        site.sendall(said)
                    site.shutdown(socket.SHUT_WR)

            threading.Thread(target=there, daemon=True).start()
            while said := site.recv(65536):
                if self.torn and posted.is_set():
                    caller.sendall(said[:60])
                    # Closed alone it would stay open as long as the other thread listens to it.
                    caller.shutdown(socket.SHUT_RDWR)
                    return
                caller.sendall(said)


def test_whatever_answers_in_the_sites_place_is_told_and_the_act_waits(world):
    page = world.away()
    world.looked_over()
    guest = {"status": 200, "content_type": "text/html", "body": "<h1>Welcome to our guest network</h1>"}
    gone = {"status": 404, "content_type": "text/html", "body": "The site was made anew meanwhile"}
    answers = [guest]
    page.context.route("**/check/", lambda route: route.fulfill(**answers[-1]))
    page.context.set_offline(False)
    expect(page.get_by_text("Something else answered in the site’s place, as a guest network does")).to_be_visible()
    answers.append(gone)
    try_again(page)
    expect(page.get_by_text("The site could not take it (404).")).to_be_visible()
    expect(page.get_by_text("1 act waits to be sent.")).to_be_visible()

    page.context.unroute("**/check/")
    try_again(page)

    outbox_comes_to(page, EMPTY)
    assert ConditionCheck.objects.count() == 1


def test_an_answer_that_breaks_off_half_way_makes_no_second_check(world, live_server, open_as):
    wire = Wire(live_server.url)
    world.page = page = open_as(None, width=390)
    client = Browser()
    client.come_as(world.teacher)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": wire.address}])
    world.home = wire.address + world.home
    world.away()
    world.looked_over()
    wire.torn = True
    page.context.set_offline(False)
    try_again(page)
    while not ConditionCheck.objects.exists():
        page.wait_for_timeout(50)
    assert page.evaluate("outbox.all().then((all) => all.length)") == 1

    wire.torn = False
    try_again(page)

    outbox_comes_to(page, EMPTY)
    assert ConditionCheck.objects.count() == 1
    wire.ears.close()


def test_who_was_signed_out_is_led_to_sign_in_and_what_waits_is_sent_then(world, live_server):
    page = world.away()
    world.looked_over()
    [kept] = [one for one in page.context.cookies() if one["name"] == settings.SESSION_COOKIE_NAME]
    page.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    page.context.set_offline(False)
    expect(page.get_by_text("You were signed out.")).to_be_visible()
    signs_in = page.get_by_role("link", name="Sign in to send it")
    assert signs_in.get_attribute("href").endswith(f"/account/sign-in/?next={world.home}")
    assert ConditionCheck.objects.count() == 0

    page.context.add_cookies([{"name": kept["name"], "value": kept["value"], "url": live_server.url}])
    signs_in.click()

    heading(page, "Today")
    outbox_comes_to(page, EMPTY)
    assert ConditionCheck.objects.count() == 1


@pytest.mark.parametrize("refuses", [KEEPS_NOTHING, IS_FULL], ids=["denied", "full"])
def test_a_device_that_keeps_nothing_more_says_to_leave_the_page_open(world, refuses):
    page = world.away()
    page.add_init_script(refuses)
    world.looked_over()
    expect(page.get_by_text("Kept only while this page is open: Check of HN-0001.")).to_be_visible()
    expect(page.get_by_text("This device keeps nothing more: leave this page open until all is sent.")).to_be_visible()

    page.context.set_offline(False)

    page.get_by_text("All fine").first.wait_for()
    expect(page.get_by_text("acts wait")).to_have_count(0)
    while page.evaluate("outbox.onlyHere()"):
        page.wait_for_timeout(50)
    assert ConditionCheck.objects.count() == 1


def test_a_device_without_room_or_worker_says_so_and_all_works_as_without_it(world):
    page = world.page
    page.add_init_script("Cache.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };")
    page.goto(f"{world.home}along/")
    page.get_by_role("button", name="Take it along").click()
    expect(page.get_by_text("is there a connection, and room on this device?")).to_be_visible(timeout=60_000)

    page.add_init_script("delete Navigator.prototype.serviceWorker;")
    page.goto(f"{world.home}along/")
    expect(page.get_by_text("This browser keeps nothing for where there is no connection")).to_be_visible()
    page.goto(f"{world.home}horns/{world.horn.pk}/check/")
    page.get_by_role("button", name="All fine, light wear: save").click()
    page.wait_for_url(f"**/horns/{world.horn.pk}/")
    assert ConditionCheck.objects.count() == 1


def test_a_clock_that_is_years_wrong_changes_neither_when_a_horn_was_looked_over_nor_what_is_kept(world):
    page = world.page
    page.clock.install(time="2040-01-01T12:00:00")
    world.away()
    world.looked_over()
    expect(page.get_by_text("1 act waits to be sent.")).to_be_visible()
    page.clock.fast_forward("01:00:00")
    page.goto(f"{world.home}horns/")
    heading(page, "Without a connection")

    page.context.set_offline(False)
    try_again(page)

    outbox_comes_to(page, EMPTY)
    check = ConditionCheck.objects.get()
    ago = (check.received_at - check.at).total_seconds()
    assert 3600 <= ago < 3700
    assert abs((timezone.now() - check.received_at).total_seconds()) < 300


def test_a_site_that_was_made_anew_meanwhile_takes_what_waits_and_the_kept_page_stays_one_piece(world):
    page = world.away()
    world.looked_over()
    kept = "async (home) => (await caches.match(`${home}along/kept.json`)).json()"
    another = {**page.evaluate(kept, world.home), "drawn_with": ["another.js"]}
    page.context.route("**/along/kept.json", lambda route: route.fulfill(json=another))

    with page.expect_response("**/along/kept.json"):
        page.context.set_offline(False)

    outbox_comes_to(page, EMPTY)
    page.get_by_role("link", name="All horns").click()
    expect(page.get_by_text("HN-0001 is checked")).to_be_visible()
    assert page.evaluate(kept, world.home)["drawn_with"] != ["another.js"]


def test_two_devices_at_one_count_count_each_horn_once(world, open_as):
    count = begin(school=world.school, places=[world.place], by=world.teacher, at=timezone.now())
    first = world.away()
    world.page = second = open_as(world.teacher, width=390)
    world.away()
    for page, seen in ((first, (0, 1)), (second, (1, 2))):
        page.goto(f"{world.home}counts/{count.pk}/shelf/?place={world.place.pk}")
        for row in seen:
            page.locator(".shelf li").nth(row).get_by_role("button", name="Seen").click()
        expect(page.get_by_text("2 acts wait to be sent.")).to_be_visible()

    for page in (first, second):
        page.context.set_offline(False)
    for page in (first, second):
        outbox_comes_to(page, EMPTY)

    seen = Sighting.objects.filter(line__count=count).standing().values_list("line__horn", flat=True)
    assert sorted(set(seen)) == [horn.pk for horn in world.horns]
    assert sorted(seen).count(world.horns[1].pk) <= 2
    assert count.lines.filter(sightings__isnull=False).distinct().count() == 3


def test_a_label_read_by_the_phones_own_camera_opens_its_horn_without_a_connection(world):
    page = world.away()

    page.goto(f"/h/{world.horn.label_code}/")

    heading(page, "HN-0001")
    assert page.url.endswith(f"{world.home}horns/{world.horn.pk}/")
    with pytest.raises(Exception, match="ERR_"):
        page.goto("/h/ABCDEFGH/")


def test_what_waits_is_sent_while_every_page_is_closed(world):
    page = world.away()
    world.looked_over()
    expect(page.get_by_text("1 act waits to be sent.")).to_be_visible()
    browser = page.context.new_cdp_session(page)
    found: list[dict[str, Any]] = []
    browser.on("ServiceWorker.workerRegistrationUpdated", lambda told: found.extend(told["registrations"]))
    browser.send("ServiceWorker.enable")
    page.goto("about:blank")
    page.context.set_offline(False)
    while not (mine := [one for one in found if one["scopeURL"].endswith(world.home)]):
        page.wait_for_timeout(50)
    told = {"registrationId": mine[-1]["registrationId"], "tag": "outbox", "lastChance": False}
    origin = f"{urlsplit(mine[-1]['scopeURL']).scheme}://{urlsplit(mine[-1]['scopeURL']).netloc}"

    browser.send("ServiceWorker.dispatchSyncEvent", {"origin": origin, **told})

    latest = time.monotonic() + PATIENCE / 1000
    while not ConditionCheck.objects.exists() and time.monotonic() < latest:
        page.wait_for_timeout(50)
    assert ConditionCheck.objects.count() == 1
    page.goto(world.home)
    outbox_comes_to(page, EMPTY)
