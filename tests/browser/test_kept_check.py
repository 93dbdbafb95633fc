"""A check typed where there is no connection: kept in the browser, sent when the connection returns, never twice."""

from __future__ import annotations

import io
from typing import Any

import pytest
from playwright.sync_api import expect

from fleet.ground.access import Role
from fleet.workshop.models import CheckPhotograph, ConditionCheck, RepairJob
from tests import make
from tests.browser.conftest import KEPT, outbox_comes_to

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def world(open_as):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school)
        horn = make.horn(school)
        page = open_as(technician, width=390)
        address = f"/s/{school.slug}/horns/{horn.pk}/check/"
        done = f"**/s/{school.slug}/horns/{horn.pk}/"

    return World


def typed(page: Any) -> None:
    page.locator("summary", has_text="Strings and levers").click()
    page.get_by_label("string broken", exact=True).check()
    page.fill("#id_note-string-broken", "third valve")
    page.get_by_label("light wear").check()


def save(page: Any) -> None:
    page.get_by_role("button", name="Save the check").click()


def in_the_browser(page: Any, filled: bool) -> None:
    """Waits until the outbox holds a check with a note, or none."""
    outbox_comes_to(
        page,
        """(all, filled) => {
            const fields = all.flatMap((one) => one.fields);
            return filled === fields.some(([name, value]) => name.startsWith("note-") && Boolean(value));
        }""",
        filled,
    )


def test_a_check_saved_without_a_connection_is_sent_once_when_it_returns(world):
    page = world.page
    page.goto(world.address)
    page.context.set_offline(True)
    typed(page)
    expect(page.locator("#so-far")).to_have_text("So far: told once there is a connection; what is ticked stays.")
    save(page)
    expect(page.locator("[data-kept-note]")).to_contain_text(KEPT)
    assert not ConditionCheck.objects.exists()

    page.context.set_offline(False)
    page.wait_for_url(world.done)

    [finding] = ConditionCheck.objects.get().findings.all()
    assert (finding.fault, finding.note) == ("string-broken", "third valve")
    in_the_browser(page, False)


def test_a_page_closed_without_a_connection_sends_its_check_when_the_bench_is_opened(world):
    page = world.page
    page.goto(world.address)
    page.context.set_offline(True)
    typed(page)
    page.locator("summary", has_text="pictures").click()
    page.set_input_files("#id_picture-1", {"name": "bell.png", "mimeType": "image/png", "buffer": picture()})
    save(page)
    page.wait_for_selector("[data-kept-note]:has-text('No connection')")
    in_the_browser(page, True)
    page.goto("about:blank")
    page.context.set_offline(False)

    page.goto(f"/s/{world.school.slug}/bench/")
    expect(page.locator("[data-kept-list] .why")).to_have_text(["sent"])
    in_the_browser(page, False)

    check = ConditionCheck.objects.get()
    assert [one.note for one in check.findings.all()] == ["third valve"]
    assert CheckPhotograph.objects.get().check_made == check


def test_a_page_closed_without_a_connection_sends_its_check_when_it_is_opened_again(world):
    page = world.page
    page.goto(world.address)
    page.context.set_offline(True)
    typed(page)
    save(page)
    page.wait_for_selector("[data-kept-note]:has-text('No connection')")
    in_the_browser(page, True)
    page.goto("about:blank")
    page.context.set_offline(False)

    page.goto(world.address)
    page.wait_for_url(world.done)

    assert [one.note for one in ConditionCheck.objects.get().findings.all()] == ["third valve"]


def test_an_answer_lost_on_its_way_back_makes_no_second_check(world):
    page = world.page
    page.goto(world.address)
    typed(page)
    lost = []

    def lose_first(route: Any) -> None:
        if route.request.method == "POST" and not route.request.headers.get("hx-request") and not lost:
            lost.append(route.fetch().status)
            route.abort("connectionreset")
        else:
            route.continue_()

    page.route("**/check/", lose_first)
    save(page)
    page.wait_for_selector("[data-kept-note]:has-text('No connection')")
    assert lost == [201]
    assert ConditionCheck.objects.count() == 1
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.wait_for_url(world.done)

    assert ConditionCheck.objects.count() == RepairJob.objects.count() == 1


def test_what_was_typed_and_not_saved_is_back_when_the_page_is_and_can_be_thrown_away(world):
    page = world.page
    page.goto(world.address)
    typed(page)
    in_the_browser(page, True)

    page.reload()
    page.wait_for_selector(".notice:has-text('What you typed at')")
    assert page.input_value("#id_note-string-broken") == "third valve"
    assert page.is_checked("#id_found-string-broken")
    page.get_by_role("button", name="Start afresh").click()
    page.wait_for_selector(".notice:has-text('What you typed at')", state="hidden")

    in_the_browser(page, False)
    assert not page.is_checked("#id_found-string-broken")
    assert not ConditionCheck.objects.exists()


def test_two_people_on_one_tablet_do_not_see_each_others_checks(world, live_server):
    from django.conf import settings
    from django.test import Client

    page = world.page
    page.goto(world.address)
    typed(page)
    in_the_browser(page, True)
    colleague = Client()
    colleague.force_login(make.staff(Role.TECHNICIAN, world.school))
    cookie = colleague.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])

    page.goto(f"/s/{world.school.slug}/bench/")
    page.goto(world.address)
    page.wait_for_load_state("networkidle")

    assert page.input_value("#id_note-string-broken") == ""
    assert not page.is_checked("#id_found-string-broken")


def test_what_must_be_put_right_is_said_and_nothing_typed_is_lost(world):
    page, troubles = world.page, []
    page.on("pageerror", lambda trouble: troubles.append(str(trouble)))
    page.goto(world.address)
    page.locator("summary", has_text="Strings and levers").click()
    page.get_by_label("string broken", exact=True).check()
    page.fill("#id_note-string-broken", "third valve")
    page.evaluate("document.querySelectorAll('[name=finish_grade]').forEach((one) => { one.required = false })")
    save(page)
    page.wait_for_selector("text=Say how the finish is.")
    expect(page.get_by_text("Not saved yet")).to_be_in_viewport()
    page.wait_for_selector("[role=alert]:focus")
    assert page.input_value("#id_note-string-broken") == "third valve"
    assert troubles == []

    page.get_by_label("light wear").check()
    save(page)
    page.wait_for_url(world.done)

    assert [one.note for one in ConditionCheck.objects.get().findings.all()] == ["third valve"]


def test_signed_out_meanwhile_the_check_waits_for_signing_in(world):
    page = world.page
    page.goto(world.address)
    typed(page)
    page.context.clear_cookies()
    save(page)

    page.wait_for_selector("[data-kept-note] a")

    assert not ConditionCheck.objects.exists()
    in_the_browser(page, True)


def picture() -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (64, 48), "gold").save(out, "PNG")
    return out.getvalue()
