"""A kept check where more goes wrong than the connection: strange answers, old tokens, two pages, two people."""

from __future__ import annotations

import io
from base64 import b64decode
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from playwright.sync_api import expect

from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.workshop.models import ConditionCheck
from tests import make
from tests.browser.conftest import KEPT
from tests.browser.test_kept_check import in_the_browser, save, typed

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def world(open_as):
    class World:
        school = make.school()
        teacher = make.staff(Role.TEACHER, school)
        horn = make.horn(school)
        page = open_as(teacher, width=390)
        address = f"/s/{school.slug}/horns/{horn.pk}/check/"
        done = f"**/s/{school.slug}/horns/{horn.pk}/"

    return World


def note(page: Any) -> Any:
    return page.locator("[data-kept-note]")


def answer_saves_with(page: Any, **answer: Any) -> None:
    """What a save is answered with from now on; the rest of the site goes on as it is."""

    def stand_between(route: Any) -> None:
        sent = route.request
        if sent.method == "POST" and "x-sent-by" in sent.headers:
            route.fulfill(**answer)
        else:
            route.continue_()

    page.route("**/check/", stand_between)


def outdate_the_token(page: Any) -> None:
    page.evaluate("document.getElementsByName('csrfmiddlewaretoken').forEach((one) => { one.value = 'x'.repeat(64); })")


@pytest.mark.parametrize("status", [200, 404, 500, 502])
def test_an_answer_that_is_not_ours_never_counts_as_saved(world, status):
    page = world.page
    page.goto(world.address)
    answer_saves_with(page, status=status, content_type="text/html", body="<h1>Welcome to the guest network</h1>")
    typed(page)
    save(page)

    said = f"could not take it ({status})." if status >= 400 else "Something else answered in the site’s place"
    expect(note(page)).to_contain_text(said)
    expect(note(page)).to_contain_text("It is tried again. Until then it is kept in this browser.")
    assert page.input_value("#id_note-string-broken") == "third valve"
    page.unroute("**/check/")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.wait_for_url(world.done)

    assert ConditionCheck.objects.count() == 1


def test_a_page_whose_token_has_grown_old_fetches_a_new_one_and_sends(world):
    page = world.page
    page.goto(world.address)
    outdate_the_token(page)
    typed(page)
    save(page)
    page.wait_for_url(world.done)

    assert ConditionCheck.objects.get().by == world.teacher


def test_a_check_is_never_sent_in_the_name_of_who_signed_in_since(world, live_server):
    page = world.page
    page.goto(world.address)
    typed(page)
    colleague = Client()
    colleague.force_login(make.staff(Role.TECHNICIAN, world.school))
    cookie = colleague.cookies[settings.SESSION_COOKIE_NAME]
    page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
    outdate_the_token(page)
    save(page)

    expect(note(page)).to_contain_text("Somebody else is signed in on this device: it is sent once you sign in again.")
    assert not ConditionCheck.objects.exists()
    in_the_browser(page, True)


def test_two_pages_about_one_horn_keep_two_checks(world):
    first = world.page
    second = first.context.new_page()
    for page in (first, second):
        page.goto(world.address)
    first.context.set_offline(True)
    for page, words in ((first, "third valve"), (second, "second valve")):
        typed(page)
        page.fill("#id_note-string-broken", words)
        save(page)
        expect(note(page)).to_contain_text(KEPT)
        page.goto("about:blank")
    first.context.set_offline(False)

    first.goto(f"/s/{world.school.slug}/")
    expect(first.locator("[data-kept-list] .why")).to_have_text(["sent", "sent"])

    kept = ConditionCheck.objects.order_by("pk").values_list("findings__note", flat=True)
    assert sorted(kept) == ["second valve", "third valve"]


def as_before_without_a_connection(world: Any) -> Any:
    """The page on which that was tapped, its connection still gone."""
    make.finding(make.check(world.horn, world.teacher), "string-frayed", "w", note="first valve")
    page = world.page
    page.goto(world.address)
    page.context.set_offline(True)
    page.get_by_role("button", name="As before: save").click()
    expect(note(page)).to_contain_text(KEPT)
    return page


def test_as_before_tapped_without_a_connection_is_sent_once_when_it_returns(world):
    page = as_before_without_a_connection(world)
    page.context.set_offline(False)
    page.wait_for_url(world.done)

    newest = ConditionCheck.objects.order_by("-pk")[0]
    assert ConditionCheck.objects.count() == 2
    assert [(one.fault, one.note) for one in newest.findings.all()] == [("string-frayed", "first valve")]


def test_what_could_not_be_taken_tells_why_on_today_and_on_its_own_page(world):
    page = as_before_without_a_connection(world)
    make.check(world.horn, world.teacher, at=timezone.now())
    page.goto("about:blank")
    page.context.set_offline(False)

    page.goto(f"/s/{world.school.slug}/")
    expect(page.locator("[data-kept-list]")).to_contain_text("what it was like before is not what you saw")
    page.locator("[data-kept-list]").get_by_role("link").click()

    expect(page.locator(".notice[role=status]")).to_contain_text("could not be taken. ")
    expect(page.locator(".notice[role=status]")).to_contain_text("what it was like before is not what you saw")
    assert ConditionCheck.objects.count() == 2


def test_what_was_begun_can_be_thrown_away_from_the_list(world):
    page = world.page
    page.goto(world.address)
    typed(page)
    in_the_browser(page, True)
    page.goto(f"/s/{world.school.slug}/")
    page.get_by_role("button", name="Throw away").click()
    page.get_by_role("button", name="Throw it away for good").click()

    expect(page.locator("[data-kept-list]")).to_be_hidden()
    in_the_browser(page, False)


def test_a_large_picture_is_made_small_before_it_is_sent_and_says_nothing_of_where_it_was_taken(world):
    page = world.page
    page.goto(world.address)
    page.locator("summary", has_text="pictures").click()
    large = photograph()
    page.set_input_files("#id_picture-1", {"name": "bell.jpeg", "mimeType": "image/jpeg", "buffer": large})
    page.wait_for_function(
        "(size) => document.querySelector('#id_picture-1').files[0].size < size", arg=len(large) // 2
    )

    # As a list of numbers it would take seconds to come over.
    sent = page.evaluate(
        """() => new Promise((done) => {
            const reader = new FileReader();
            reader.onload = () => done(reader.result.split(",")[1]);
            reader.readAsDataURL(document.querySelector("#id_picture-1").files[0]);
        })"""
    )

    from PIL import Image

    assert b"Camera of a person" in large
    with Image.open(io.BytesIO(b64decode(sent))) as small:
        assert (small.size, dict(small.getexif())) == ((1600, 1200), {})


@pytest.mark.parametrize("lost", [False, True], ids=["no connection", "answer lost"])
def test_a_return_is_kept_and_sent_once(world, lost):
    loan = make.loan(world.horn, make.pupil(world.school), world.teacher)
    page = world.page
    page.goto(f"/s/{world.school.slug}/loans/{loan.pk}/return/")

    def lose(route: Any) -> None:
        route.fetch()
        route.abort("connectionreset")

    if lost:
        page.route("**/return/", lose)
    else:
        page.context.set_offline(True)
    typed(page)
    page.get_by_role("button", name="Take HN-").click()
    expect(note(page)).to_contain_text(KEPT)
    assert (Loan.objects.get().returned_on is not None) == lost

    page.unroute("**/return/")
    page.context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.wait_for_url(f"**/loans/{loan.pk}/")

    loan.refresh_from_db()
    assert loan.check_at_return == ConditionCheck.objects.get(occasion="on-return")
    assert loan.check_at_return.findings.get().note == "third valve"


def photograph() -> bytes:
    from PIL import Image

    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "Camera of a person"
    Image.effect_noise((2400, 1800), 60).convert("RGB").save(out, "JPEG", quality=92, exif=exif)
    return out.getvalue()
