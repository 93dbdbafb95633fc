"""Listening in a real browser, whose microphone hears a file: from the test note's step to a settled stand."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.conf import settings
from django.test import Client

from fleet.ground.access import Role
from fleet.register.models import Identification
from identify.core.horns.pitch import midi_to_hz
from tests import make
from tests.browser.conftest import slowed
from tests.conftest import chromium_path
from tests.identify.core.hearing.test_kept_notes import BB_UP, F_UP
from tests.identify.tones import horn_tone, wav

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RATE = 48_000
TEST_NOTE = midi_to_hz(58)  # B♭3
F_PEDAL, BB_PEDAL = midi_to_hz(29), midi_to_hz(34)
COUNTED = "?valves=4&slide_sets=2"


class Microphone:
    """The browser's microphone: whatever is put into its file is what the next recording hears."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.hears(TEST_NOTE)

    def hears(self, hz: float) -> None:
        self.path.write_bytes(wav(horn_tone(hz, seconds=8, rate=RATE), rate=RATE))

    def hears_noise(self) -> None:
        hiss = 0.1 * np.random.default_rng(5).standard_normal(8 * RATE).clip(-4, 4)
        self.path.write_bytes(wav(hiss, rate=RATE))


@pytest.fixture(scope="module")
def microphone(tmp_path_factory: pytest.TempPathFactory) -> Microphone:
    return Microphone(tmp_path_factory.mktemp("microphone") / "heard.wav")


@pytest.fixture(scope="module")
def listening_chromium(chromium: Any, microphone: Microphone) -> Iterator[Any]:
    """A browser of its own, since what its microphone hears is fixed when it starts."""
    flags = [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={microphone.path}",
    ]
    browser = chromium.browser_type.launch(executable_path=chromium_path(), args=flags)
    yield browser
    browser.close()


@pytest.fixture
def school() -> Any:
    return make.school(slug="hill", name="Hill School")


@pytest.fixture
def teacher(listening_chromium: Any, live_server: Any, school: Any) -> Iterator[Callable[..., Any]]:
    """Opens a page of the school as a teacher in the browser with the microphone."""
    client = Client()
    client.force_login(make.staff(Role.TEACHER, school))
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    contexts = []

    def enter(path: str = f"identify/{COUNTED}", *, width: int = 390, script: bool = True) -> Any:
        context = listening_chromium.new_context(
            base_url=live_server.url,
            viewport={"width": width, "height": 844},
            java_script_enabled=script,
        )
        contexts.append(context)
        context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
        page = slowed(context.new_page())
        page.goto(f"/s/hill/{path}")
        unfold(page)
        return page

    yield enter
    for context in contexts:
        context.close()


def unfold(page: Any) -> None:
    """On a step of the walk listening is folded until it is wanted, so that the answers come first."""
    if page.locator("details:not([open]) > #listen-head").count():
        page.locator("#listen-head").click()


def record(page: Any) -> str:
    """Records until the level and the clock show that a second and more was heard; gives what is told of it."""
    page.evaluate("document.getElementById('told')?.remove()")
    unfold(page)
    page.get_by_role("button", name="Listen", exact=True).click()
    page.locator("[data-left]").filter(has_text=re.compile("^[1-4] s$")).wait_for()
    page.get_by_role("button", name="That is enough").click()
    return str(page.locator("#told").inner_text())


def sideways(page: Any) -> int:
    return int(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


def test_a_horn_that_nobody_can_name_is_settled_by_ear_and_put_on_record(teacher, microphone):
    page = teacher()
    microphone.hears(midi_to_hz(53))
    assert "This is F3 (written C4), lower" in record(page)
    microphone.hears(TEST_NOTE)
    assert "This is the test note. Which valves were down?" in record(page)
    assert page.evaluate("document.activeElement.id") == "told"
    assert "heard_test=233.1~" in page.url
    assert page.locator("button.choice[aria-current]").count() == 0
    with page.expect_navigation():
        page.get_by_role("button", name="1 first").click()

    page.goto(page.url.replace("/identify/", "/identify/listen/"))
    for partial in (3, 4, 5, 6):
        microphone.hears(F_PEDAL * partial)
        record(page)
    assert page.locator("#found").inner_text() == "The 12-foot F tube"
    page.get_by_role("link", name="Now with the thumb lever down").click()
    for partial in (2, 3, 4, 5):
        microphone.hears(BB_PEDAL * partial)
        record(page)
    assert page.locator("#found").inner_text() == "The 9-foot B♭ tube"

    page.get_by_role("link", name="Go on with the checks").click()
    answers = {
        "And with the thumb lever down?": "0 no",
        "Which hand works the valves?": "Left",
        "What kind of valves?": "Rotary",
        "Where does the bell point?": "Backward",
        "How is the tube wound?": "A wide",
        "How long is it?": "38 to 42",
        "How long is the second row of slides?": "Longer",
        "Do both sides blow through one row?": "I can’t tell",
        "What does the thumb lever do?": "The pitch goes up",
    }
    while (title := page.locator("h1").inner_text()) in answers:
        with page.expect_navigation():
            page.get_by_role("button", name=answers[title]).first.click()
    assert title.lower() == "a full double horn in f and b♭, standing in f"
    assert "Not settled yet" in page.locator("main").inner_text()
    with page.expect_navigation():
        page.get_by_role("link", name="Look once more").click()
    with page.expect_navigation():
        page.get_by_role("button", name=answers[page.locator("h1").inner_text()]).first.click()
    assert "As good as certain" in page.locator("main").inner_text()
    assert "Thumb up, no valve pressed. This is the 12-foot F tube" in page.locator("main").inner_text()

    page.get_by_role("link", name="As a new horn, or on a registered one").click()
    with page.expect_navigation():
        page.locator("button[value=as-new]").click()
    kept = Identification.objects.get().observations
    assert set(kept) >= {"heard_test", "heard_up", "heard_down"}
    assert len(kept["heard_up"].split(",")) == 4


def test_the_step_down_is_recorded_and_taken_on_the_persons_word(teacher, microphone):
    page = teacher(f"identify/{COUNTED}&test_note=1&step=step_down")
    microphone.hears(TEST_NOTE)
    assert "Keep the same valves" in record(page)
    microphone.hears(TEST_NOTE * 5 / 6)
    assert "Down a minor third." in record(page)
    assert "step_down=3" not in page.url
    page.get_by_role("button", name="The same valves were down").click()
    page.wait_for_url("**step_down=3**")


def test_what_was_heard_outlives_a_reload_and_the_way_back(teacher, microphone):
    page = teacher("identify/listen/")
    microphone.hears(F_PEDAL * 4)
    record(page)
    page.reload()
    assert page.locator(".notes > li").count() == 1
    with page.expect_navigation():
        page.get_by_role("link", name="Go on with the checks").click()
    page.go_back()
    page.wait_for_selector(".notes > li")

    assert page.locator(".notes > li").count() == 1


def test_the_picture_the_question_and_the_first_answers_fit_one_phone_screen(teacher):
    page = teacher()
    page.reload()

    for wanted in (".look-here", "h1#question", "button.choice[value='0']", "button.choice[value='1']"):
        box = page.locator(wanted).bounding_box()
        assert box["y"] + box["height"] <= 844, wanted


def test_noise_is_said_plainly(teacher, microphone):
    microphone.hears_noise()

    assert "No note stands out from the noise" in record(teacher())


def test_a_microphone_that_is_refused_leaves_the_file_with_the_reason(teacher):
    page = teacher()
    page.evaluate(
        """() => {
            navigator.mediaDevices.getUserMedia = async () => { throw new DOMException("", "NotAllowedError"); };
        }"""
    )
    page.get_by_role("button", name="Listen", exact=True).click()

    page.locator("[data-why]:has-text('The microphone was not allowed.')").wait_for()
    assert page.get_by_label("Recording of one held note").is_visible()


def test_a_page_without_https_offers_the_file_and_says_why(teacher):
    page = teacher()
    page.add_init_script(
        "Object.defineProperty(navigator, 'mediaDevices', {value: undefined});"
        "Object.defineProperty(window, 'isSecureContext', {value: false});"
    )
    page.reload()
    unfold(page)

    page.locator("[data-why]:has-text('only to pages whose address begins with https')").wait_for()
    assert page.get_by_role("button", name="Listen", exact=True).count() == 0
    assert page.get_by_role("button", name="Listen to the file").is_visible()


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without"])
def test_a_file_is_listened_to_with_and_without_a_script(teacher, tmp_path, script):
    note = tmp_path / "note.wav"
    note.write_bytes(wav(horn_tone(TEST_NOTE)))
    page = teacher(script=script)
    if script:
        page.get_by_text("Take a recording from a file").click()
    page.set_input_files("#recording", note)
    page.get_by_role("button", name="Listen to the file").click()
    page.wait_for_selector("#told")

    assert "This is the test note" in page.locator("#told").inner_text()
    page.get_by_role("button", name="1 first").click()
    page.wait_for_url("**&test_note=1**")
    assert "heard_test=233.1" in page.url


def test_a_renamed_document_and_a_far_too_large_file_are_answered_with_a_sentence(teacher, tmp_path):
    page = teacher()
    page.get_by_text("Take a recording from a file").click()
    document, large = tmp_path / "note.wav", tmp_path / "large.wav"
    document.write_bytes(b"%PDF-1.7\n" + b"x" * 5000)
    with large.open("wb") as file:
        file.truncate(200 * 2**20)
    page.set_input_files("#recording", large)
    page.get_by_role("button", name="Listen to the file").click()
    page.locator("[data-why]:has-text('larger than 40 MB')").wait_for()

    page.set_input_files("#recording", document)
    page.get_by_role("button", name="Listen to the file").click()
    page.wait_for_selector("#told")
    assert "This is a PDF document" in page.locator("#told").inner_text()


def test_every_state_is_accessible_and_fits_a_small_phone(teacher, microphone, axe, school):
    horn = make.horn(school, build="double-full", stands_in="F")
    microphone.hears(TEST_NOTE)
    page = teacher(width=320)
    record(page)
    assert (axe(page), sideways(page)) == ([], 0)
    page.get_by_role("button", name="Listen", exact=True).click()
    page.wait_for_selector("[data-levels]:not([hidden])")
    assert (axe(page), sideways(page)) == ([], 0)
    for path in (
        "identify/listen/",
        f"identify/listen/?heard_up={F_UP},9~9&valves=4",
        "identify/listen/?heard_up=130.8~0.98,174.6~0.98,233.1~0.98",
        f"identify/listen/?horn={horn.pk}&heard_up={F_UP}",
        f"identify/listen/?horn={horn.pk}&heard_up={BB_UP}",
        f"identify/listen/?step=heard_down&heard_down={BB_UP}",
        f"identify/{COUNTED}&test_note=1&step=step_down&heard_step=233.1~0.99",
        f"identify/{COUNTED}&heard_up={BB_UP}&heard_down={F_UP}&step=result",
        f"identify/?valves=3&slide_sets=1&test_note=1&hand=left&heard_up={BB_UP}&step=result",
    ):
        page.goto(f"/s/hill/{path}")
        assert (axe(page), sideways(page)) == ([], 0), path
