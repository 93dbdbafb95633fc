"""What is done to a horn on the kept page: checked with faults, mended, put elsewhere, photographed, also before it
has a number."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import expect

from fleet.ground.access import Role
from fleet.register.models import Horn, Photograph
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.models import ConditionCheck
from tests import make
from tests.browser.conftest import connected, outbox_comes_to
from tests.browser.test_taken_along import heading, take_along, walked

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
EMPTY = "(all) => all.length === 0"
NOTED = "since the concert"


@pytest.fixture
def world(open_as):
    class World:
        school = make.school()
        teacher = make.staff(Role.TEACHER, school)
        other = make.staff(Role.TEACHER, school)
        place, attic = make.place(school, room="Cellar", shelf=""), make.place(school, room="Attic", shelf="")
        horn = make.horn(school, number="HN-0001", build="double-full", stands_in="F", place=place)
        page = open_as(teacher, width=390)
        home = f"/s/{school.slug}/"

        def found(self, *found: Found, by: Any = None) -> ConditionCheck:
            said = {"horn": self.horn, "occasion": "other", "finish_grade": 2, "found": found}
            return log_check(by=by or self.teacher, at=make.NOW, **said)

        def away(self) -> Any:
            """The horn's kept page, with no connection."""
            page = take_along(self)
            page.context.set_offline(True)
            page.goto(f"{self.home}horns/{self.horn.pk}/")
            heading(page, "HN-0001")
            return page

        def back(self, test: str = EMPTY) -> None:
            connected(self.page)
            outbox_comes_to(self.page, test)
            self.horn.refresh_from_db()

    return World()


def unfold(page: Any, *names: str) -> None:
    for name in names:
        page.locator("summary", has_text=name).click()


def camera(wide: int = 3000) -> dict[str, Any]:
    """A picture as a telephone makes it, of noise, so that it is large."""
    drawn = BytesIO()
    Image.effect_noise((wide, wide * 3 // 4), 90).save(drawn, "JPEG", quality=95)
    return {"name": "horn.jpg", "mimeType": "image/jpeg", "buffer": drawn.getvalue()}


def test_faults_found_and_mended_without_a_connection_are_on_record_in_their_order(world):
    world.found(Found("string-broken", "r", NOTED), Found("rotor-leaking", "w", NOTED, ("1",)))
    page = world.away()
    expect(page.get_by_text("repair before the next loan")).to_be_visible()
    page.get_by_role("button", name="Mended now").click()
    page.get_by_role("button", name="Mended, played and checked").click()
    expect(page.get_by_text("Kept on this device: HN-0001 mended: string broken.")).to_be_visible()
    page.get_by_role("link", name="Something is wrong: check it").click()
    heading(page, "Check of HN-0001")
    unfold(page, "Strings and levers", "Slides and water keys", "Occasion, notes, picture of the horn")
    expect(page.get_by_role("checkbox", name="string broken")).not_to_be_checked()
    expect(page.get_by_role("checkbox", name="rotor leaking")).to_be_checked()
    page.get_by_role("group", name="Which valve: rotor leaking").get_by_label("3rd").check()
    page.get_by_role("checkbox", name="water key leaking").check()
    page.locator("[data-shows=water-key-leaking]").set_input_files(camera())
    page.get_by_label("Photograph the horn").set_input_files(camera(300))
    page.locator("[name=notes]").fill("Smells of oil")
    page.get_by_role("button", name="Save the check").click()
    expect(page.get_by_text("Kept on this device: Check of HN-0001.")).to_be_visible()
    expect(page.get_by_text("repair before the next loan")).to_be_visible()
    expect(page.get_by_text("2 acts wait to be sent.")).to_be_visible()

    world.back()

    last, mended = ConditionCheck.objects.all()[:2]
    assert (mended.occasion, world.horn.jobs.earliest("pk").state) == ("after-repair", "done")
    assert {one.fault: (one.note, one.places) for one in last.findings.all()} == {
        "rotor-leaking": (NOTED, ["1", "3"]),
        "water-key-leaking": ("", []),
    }
    assert (last.notes, last.finish_grade, world.horn.grade) == ("Smells of oil", 2, 3)
    pictures = [(one.fault, one.width) for one in last.photographs.order_by("width")]
    assert pictures == [("", 300), ("water-key-leaking", 1600)]


def test_a_check_that_is_left_half_typed_is_back_and_one_refused_is_put_right_on_its_own_page(world):
    world.found()
    page = world.away()
    page.get_by_role("link", name="Something is wrong: check it").click()
    unfold(page, "Valves", "Occasion, notes, picture of the horn")
    page.get_by_role("checkbox", name="rotor leaking").check()
    page.locator("[data-shows=rotor-leaking]").set_input_files(camera(300))
    page.locator("[name=notes]").fill("Half")
    outbox_comes_to(page, "(all) => all.length === 1 && all[0].fields.some(([, said]) => said === 'Half')")
    page.reload()
    expect(page.get_by_text("What you typed is back.")).to_be_visible()
    expect(page.get_by_role("checkbox", name="rotor leaking")).to_be_checked()
    page.get_by_role("button", name="Save the check").click()
    world.found(Found("rotor-frozen", "r"), by=world.other)

    world.back("(all) => all.length === 1 && all[0].state === 'refused'")

    page.get_by_role("link", name="1 act could not be taken.").click()
    expect(page.get_by_text("what it was like before is not what you saw")).to_be_visible()
    page.get_by_role("link", name="With a connection, open it").click()
    expect(page.get_by_role("heading", name="Condition check of HN-0001")).to_be_visible()
    expect(page.get_by_role("checkbox", name="rotor leaking")).to_be_checked()
    expect(page.locator("[name=notes]")).to_have_value("Half")
    page.get_by_role("button", name="Save the check").click()
    page.wait_for_url(f"**/horns/{world.horn.pk}/")
    outbox_comes_to(page, EMPTY)
    check = ConditionCheck.objects.first()
    assert (check.findings.get().fault, check.photographs.get().fault) == ("rotor-leaking", "rotor-leaking")


def test_a_horn_is_put_elsewhere_and_photographed_small_without_a_connection(world):
    page = world.away()
    page.get_by_label("It belongs to").select_option("Attic")
    page.get_by_role("button", name="Set its place").click()
    expect(page.get_by_text("Kept on this device: HN-0001 belongs to Attic.")).to_be_visible()
    taken = camera()
    page.get_by_label("Photograph it").set_input_files(taken)
    expect(page.get_by_text("Kept on this device: Photograph of HN-0001.")).to_be_visible()
    kept = page.evaluate("async () => (await outbox.all()).at(-1).fields.find(([name]) => name === 'picture')[1].size")
    assert kept < len(taken["buffer"]) / 2
    page.get_by_role("link", name="All horns").click()
    expect(page.get_by_text("Attic", exact=True)).to_be_visible()

    world.back()

    photograph = Photograph.objects.get(horn=world.horn)
    assert (world.horn.place, photograph.width) == (world.attic, 1600)
    expect(page.get_by_text("The photograph is kept.")).to_be_visible()


def test_a_place_is_not_taken_from_who_set_it_meanwhile_and_can_be_said_again(world):
    page = world.away()
    page.get_by_label("It belongs to").select_option("Attic")
    page.get_by_role("button", name="Set its place").click()
    world.horn.place = make.place(world.school, room="Hall", shelf="")
    world.horn.save()

    world.back("(all) => all.length === 1 && all[0].state === 'refused'")

    page.get_by_role("link", name="1 act could not be taken.").click()
    expect(page.get_by_text("belongs to Hall by now")).to_be_visible()
    page.get_by_role("link", name="With a connection, open it").click()
    expect(page.get_by_label("It belongs to")).to_have_value(str(world.attic.pk))
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(f"**/horns/{world.horn.pk}/")
    outbox_comes_to(page, EMPTY)
    world.horn.refresh_from_db()
    assert world.horn.place == world.attic


def test_a_horn_without_a_number_yet_is_checked_and_photographed_and_all_of_it_is_the_same_horn(world):
    page = take_along(world)
    page.context.set_offline(True)
    page.goto(world.home)
    for name in ("new horn 1", "new horn 2"):
        walked(page)
        page.get_by_role("button", name="As a new horn").click()
        page.get_by_role("link", name=f"Go on with {name}").click()
        heading(page, name)
        page.get_by_role("button", name="All fine, light wear").click()
        expect(page.get_by_text(f"Kept on this device: Check of {name}.")).to_be_visible()
        page.get_by_label("Photograph it").set_input_files(camera(400))
        expect(page.get_by_text(f"Kept on this device: Photograph of {name}.")).to_be_visible()
        page.get_by_role("link", name="All horns").click()
    expect(page.get_by_text("6 acts wait to be sent.")).to_be_visible()
    expect(page.get_by_role("link", name="new horn 2, full double horn")).to_be_visible()

    world.back()

    new = Horn.objects.exclude(pk=world.horn.pk).order_by("number")
    assert [(one.number, one.checks.count(), one.photographs.count()) for one in new] == [
        ("HN-0002", 1, 1),
        ("HN-0003", 1, 1),
    ]
    expect(page.get_by_text("new horn 1: Registered as HN-0002")).to_be_visible()
    # What is kept moved on with the register: the horn is found under its number.
    page.get_by_label("Number, kind or place").fill("hn3")
    expect(page.get_by_role("link", name="HN-0003")).to_be_visible()


def test_what_is_thrown_away_takes_along_what_was_about_the_horn_it_would_have_made(world):
    page = take_along(world)
    page.context.set_offline(True)
    page.goto(world.home)
    walked(page)
    page.get_by_role("button", name="As a new horn").click()
    page.get_by_role("link", name="Go on with new horn 1").click()
    page.get_by_role("button", name="All fine, light wear").click()
    expect(page.get_by_text("Kept on this device: Check of new horn 1.")).to_be_visible()
    page.evaluate(
        """async () => { const [one] = await outbox.all();
            await outbox.put({ ...one, state: "refused", sentence: "Not so." }); }"""
    )
    page.goto(world.home)
    expect(page.get_by_text("waits until the new horn is on record")).to_be_visible()

    page.get_by_role("button", name="Throw away").click()
    page.get_by_role("button", name="Throw it away for good").click()

    outbox_comes_to(page, EMPTY)
