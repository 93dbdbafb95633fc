"""The cupboard taken along: an afternoon where there is no connection, and all of it there once afterwards."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Error, expect

from fleet.counting.actions.counts import begin
from fleet.counting.models import Sighting
from fleet.ground.access import Role
from fleet.register.models import Horn, Identification
from identify.core.reasoning.evidence import Observations
from identify.core.reasoning.verdict import assess
from identify.playing import to_expect
from tests import make
from tests.browser.conftest import BEGUN, SLOWER, connected, outbox_comes_to
from tests.browser.test_counting import CAMERA

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
ALONG = "async () => (await caches.keys()).filter((name) => name.startsWith('along '))"
# A full double in F, answered as such a horn answers: computed from its two tubes, no mistake among them.
DOUBLE = {
    "valves": "4",
    "slide_sets": "2",
    "test_note": "1",
    "test_note_thumb": "0",
    "hand": "left",
    "mechanism": "rotary",
    "bell": "back",
    "wrap": "standard",
    "length": "38-42",
    "thumb": "raises",
    "second_set": "longer",
    "shared_row": "one-side",
}


@pytest.fixture
def world(open_as):
    class World:
        school = make.school()
        teacher = make.staff(Role.TEACHER, school)
        place = make.place(school, room="Cellar", shelf="")
        horn = make.horn(school, number="HN-0001", build="", place=place)
        page = open_as(teacher, width=390)
        home = f"/s/{school.slug}/"

    return World


def take_along(world: Any) -> Any:
    page = world.page
    page.goto(world.home)
    page.get_by_role("link", name="Take the cupboard along").click()
    page.get_by_role("button", name="Take it along").click()
    expect(page.get_by_text("Kept on this device since")).to_be_visible(timeout=60_000)
    # The workers, one for the school and one for labels, act for pages that are opened after they have begun to.
    page.evaluate(BEGUN)
    return page


def heading(page: Any, words: str) -> None:
    expect(page.get_by_role("heading", level=1, name=words)).to_be_visible()


def walked(page: Any) -> None:
    """Answers what is asked until the page says what the horn is."""
    page.get_by_role("link", name="Identify a horn").click()
    for _ in DOUBLE:
        shown = page.locator("template[data-short]").evaluate_all(
            """(all) => { const asked = document.getElementById("question")?.textContent;
                const asks = (one) => one.content.querySelector("h1").textContent;
                return all.find((one) => asks(one) === asked)?.id.slice("question-".length); }"""
        )
        if shown is None:
            break
        page.locator(f'[data-shown] [data-answer="{DOUBLE[shown]}"]').click()
    heading(page, "a full double horn in F and B♭, standing in F")


def test_horns_walked_without_a_connection_are_on_record_once_when_it_returns(world):
    page = take_along(world)
    page.context.set_offline(True)
    page.goto(world.home)
    heading(page, "Without a connection")
    if SLOWER == 1:  # a slowed page takes itself for connected
        expect(page.get_by_text("No connection.")).to_be_visible()
    for _ in range(2):
        walked(page)
        page.get_by_label("Place").select_option("Cellar")
        page.get_by_role("button", name="As a new horn").click()
        expect(page.get_by_text("Kept on this device: a new horn")).to_be_visible()
    walked(page)
    page.get_by_label("Or on the registered horn").fill("HN-9999")
    page.get_by_role("button", name="On that horn").click()
    expect(page.get_by_text("There is no horn HN-9999 among those kept here.")).to_be_visible()
    page.get_by_label("Or on the registered horn").fill("hn-0001")
    page.get_by_role("button", name="On that horn").click()
    expect(page.get_by_text("3 acts wait to be sent.")).to_be_visible()

    connected(page)

    outbox_comes_to(page, "(all) => all.length === 0")
    found = [(one.number, one.build, one.stands_in, one.place) for one in Horn.objects.order_by("number")]
    assert found == [(number, "double-full", "F", world.place) for number in ("HN-0001", "HN-0002", "HN-0003")]
    assert Identification.objects.count() == 3
    page.goto(world.home)
    heading(page, "Today")


def test_a_walk_begun_with_a_connection_goes_on_without_one(world):
    page = take_along(world)
    page.goto(f"{world.home}identify/?valves=4&horn={world.horn.pk}")
    heading(page, "How many rows of valve slides?")
    page.context.set_offline(True)

    page.get_by_role("button", name="2 rows").click()

    heading(page, "Which fingers sound this note?")
    expect(page.get_by_text("Listening to the horn needs a connection.")).to_be_visible()
    page.get_by_text("Hear what to expect").click()
    expect(page.get_by_role("button", name="Hear it").first).to_be_visible()
    tubes = page.locator("[data-shown] [data-tube]").evaluate_all("(all) => all.map((one) => one.dataset.tube)")
    said = to_expect(assess(Observations({"valves": "4", "slide_sets": "2"})), "test_note")
    assert tubes == [one.tube for one in said.tubes]
    assert page.url.endswith(f"/identify/?valves=4&horn={world.horn.pk}&slide_sets=2")
    page.get_by_role("link", name="Show what we have so far").click()
    expect(page.get_by_role("button", name="Put it on horn HN-0001")).to_be_visible()
    page.go_back()
    heading(page, "Which fingers sound this note?")


def test_a_look_without_a_connection_is_saved_unless_somebody_looked_since(world):
    make.check(world.horn, world.teacher)
    new, other = (make.horn(world.school, number=f"HN-002{n}") for n in range(2))
    make.check(other, world.teacher, grade=2)
    page = take_along(world)
    page.context.set_offline(True)
    for horn, look in ((world.horn, "All fine as before"), (new, "All fine, light wear"), (other, "As before")):
        page.goto(f"{world.home}horns/{horn.pk}/")
        page.get_by_role("button", name=look).click()
        expect(page.get_by_text(f"Kept on this device: Check of {horn.number}.")).to_be_visible()
    make.check(other, world.teacher, grade=3, at=timezone.now())

    connected(page)

    outbox_comes_to(page, "(all) => all.length === 1 && all[0].state === 'refused'")
    assert [horn.checks.count() for horn in (world.horn, new, other)] == [2, 1, 2]
    page.get_by_role("link", name="1 act could not be taken.").click()
    expect(page.get_by_text("what it was like before is not what you saw")).to_be_visible()
    page.get_by_role("button", name="Throw away").click()
    page.get_by_role("button", name="Throw it away for good").click()
    outbox_comes_to(page, "(all) => all.length === 0")


def test_horns_counted_without_a_connection_are_counted_once(world):
    shelf = make.place(world.school, room="Attic", shelf="")
    there = [make.horn(world.school, number=f"HN-001{n}", place=shelf) for n in range(2)]
    count = begin(school=world.school, places=[world.place, shelf], by=world.teacher, at=timezone.now())
    page = take_along(world)
    page.context.set_offline(True)
    page.goto(f"{world.home}counts/{count.pk}/")
    page.get_by_role("link", name="Attic").click()
    heading(page, "Attic")
    page.get_by_role("button", name="Seen", exact=True).first.click()
    expect(page.get_by_text("✓ kept, not sent yet")).to_be_visible()
    page.get_by_label("Register number").fill("hn-0011")
    page.get_by_role("button", name="Seen here").click()
    page.get_by_label("Register number").fill("no label")
    page.get_by_role("button", name="Seen here").click()
    expect(page.get_by_text("3 acts wait to be sent.")).to_be_visible()
    page.get_by_role("link", name="Other places").click()
    expect(page.get_by_text("1 of 2 seen")).to_be_visible()
    # Closed, and opened again where there is a connection: Today sends what this page kept.
    page.goto("about:blank")
    page.context.set_offline(False)

    page.goto(world.home)

    outbox_comes_to(page, "(all) => all.length === 0")
    seen = Sighting.objects.filter(line__count=count).values_list("line__horn", "place")
    assert sorted(seen) == [(horn.pk, shelf.pk) for horn in there]
    assert [str(find) for find in count.finds.all()] == ["no label"]
    expect(page.get_by_text("Horns counted")).to_be_visible()


def test_an_answer_that_is_lost_on_its_way_makes_no_second_horn(world):
    page = take_along(world)
    page.context.set_offline(True)
    page.goto(world.home)
    walked(page)
    page.get_by_role("button", name="As a new horn").click()
    expect(page.get_by_text("1 act waits to be sent.")).to_be_visible()
    lost = []

    def taken_and_lost(route: Any) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        route.abort()

    page.context.route("**/horns/identified/**", taken_and_lost)
    connected(page)

    outbox_comes_to(page, "(all) => all.length === 0")
    assert lost == [201]
    assert Horn.objects.filter(build="double-full").count() == 1


def test_horns_are_found_and_seen_without_a_connection_but_not_who_has_them(world):
    pupil = make.pupil(world.school, make.guardian(world.school), name="Paula Secret")
    make.loan(make.horn(world.school, number="HN-0044", build="single-f", stands_in="F"), pupil, world.teacher)
    page = take_along(world)
    page.context.set_offline(True)
    page.goto(f"{world.home}horns/")
    expect(page.get_by_text("This browser reads no labels itself: type the number on it")).to_be_visible()
    page.get_by_label("Number, kind or place").fill("hn44")
    expect(page.get_by_role("link", name="HN-0044, single horn in F")).to_be_visible()

    page.get_by_label("Number, kind or place").press("Enter")

    heading(page, "HN-0044")
    expect(page.get_by_text("out on loan")).to_be_visible()
    assert "Secret" not in page.content()
    page.goto(f"{world.home}loans/")
    expect(page.get_by_text("The page you asked for needs a connection.")).to_be_visible()


def test_a_horn_that_came_back_without_a_connection_is_noted_with_what_came_and_taken_back_in_one_tap(world):
    out = make.horn(world.school, number="HN-0044")
    make.loan(out, make.pupil(world.school, make.guardian(world.school)), world.teacher)
    page = take_along(world)
    page.context.set_offline(True)
    page.goto(f"{world.home}horns/{out.pk}/")
    page.get_by_role("button", name="It came back").click()
    page.get_by_label("case").check()
    page.get_by_label("light wear", exact=True).check()
    page.get_by_label("Note", exact=True).fill("Strap torn")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Kept on this device: HN-0044 came back.")).to_be_visible()
    expect(page.get_by_role("button", name="It came back")).to_have_count(0)
    connected(page)
    outbox_comes_to(page, "(all) => all.length === 0")

    page.goto(world.home)
    page.get_by_role("link", name="HN-0044: take back, it is here").click()
    expect(page.get_by_role("checkbox", name="case")).to_be_checked()
    expect(page.get_by_role("checkbox", name="mouthpiece")).not_to_be_checked()
    page.get_by_role("button", name="Take HN-0044 back").click()
    page.wait_for_url("**/loans/*/")
    loan = out.loans.get()
    assert (loan.return_notes, loan.check_at_return.finish_grade) == ("Strap torn", 2)
    assert [one.name for one in loan.accessories.filter(came_back=True)] == ["case"]


def test_a_label_before_the_camera_opens_its_horn_without_a_connection(world):
    page = take_along(world)
    page.add_init_script(CAMERA)
    page.context.set_offline(True)
    page.goto(world.home)
    page.get_by_role("button", name="Scan with the camera").click()
    page.get_by_role("button", name="Stop the camera").wait_for()
    page.evaluate("window.inView = ['https://horns.example.org/h/ABCDEFGH/']")
    expect(page.get_by_text("This label belongs to no horn that is kept here.")).to_be_visible()

    label = f"https://horns.example.org/h/{world.horn.label_code}/"
    page.evaluate("label => { window.inView = [label]; }", label)

    heading(page, "HN-0001")


def test_what_is_kept_goes_with_the_person_and_after_a_fortnight(world, open_as):
    page = take_along(world)
    assert page.evaluate(ALONG) == [f"along {world.home} {world.teacher.pk}"]
    page.get_by_role("button", name="Erase it from this device").click()
    expect(page.get_by_text("Erased.", exact=True)).to_be_visible()
    assert page.evaluate(ALONG) == []

    page = take_along(world)
    page.evaluate(
        """async (base) => {
            const cache = await caches.open((await caches.keys())[0]);
            const about = await (await cache.match(`${base}along/kept.json`)).json();
            const long = Date.now() - 14 * 86400000 - 1000;
            await cache.put(`${base}along/kept.json`, Response.json({ ...about, made: new Date(long).toISOString() }));
            await cache.put(`${base}along/seen`, new Response(String(long)));
        }""",
        world.home,
    )
    page.context.set_offline(True)
    with pytest.raises(Error):
        page.goto(world.home)
    page.context.set_offline(False)
    page.goto(world.home)
    assert page.evaluate(ALONG) == []

    page = take_along(world)
    page.get_by_role("button", name=world.teacher.get_short_name()).click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/account/**")
    assert page.evaluate(ALONG) == []
