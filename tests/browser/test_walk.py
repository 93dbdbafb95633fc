"""The walk in a real browser: with a thumb on a phone, with keys only, in daylight and in a dark cupboard."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from fleet.ground.access import Role
from identify.questions import QUESTIONS
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FULL_DOUBLE = (
    ("How many valves?", "4"),
    ("How many rows of valve slides?", "2 rows"),
    ("Which fingers sound this note?", "1 first"),
    ("And with the thumb lever down?", "0 no"),
    ("Which hand works the valves?", "Left"),
    ("What kind of valves?", "Rotary"),
    ("Where does the bell point?", "Backward"),
    ("How is the tube wound?", "A wide"),
    ("How long is the second row of slides?", "Longer"),
    ("How long is it?", "38 to 42 cm"),
    ("Do both sides blow through one row?", "I can’t tell"),
)


@pytest.fixture
def teacher(open_as: Any) -> Callable[..., Any]:
    """Opens the walk as a teacher, on a phone."""
    person = make.staff(Role.TEACHER, make.school(slug="hill", name="Hill School"))

    def enter(query: str = "", *, width: int = 390, script: bool = True) -> Any:
        page = open_as(person, width=width, height=844, script=script)
        page.goto(f"/s/hill/identify/{query}")
        return page

    return enter


def _answer(page: Any, title: str, button: str) -> None:
    assert page.locator("h1").inner_text() == title
    with page.expect_navigation():
        page.get_by_role("button", name=button, exact=False).first.click()


def _sideways(page: Any) -> int:
    return int(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


def test_a_full_double_is_settled_without_javascript(teacher):
    page = teacher(script=False)
    for title, button in FULL_DOUBLE:
        if page.locator("h1").inner_text() == title:
            _answer(page, title, button)

    assert page.locator("h1").inner_text().lower() == "a full double horn in f and b♭, standing in f"
    with page.expect_navigation():
        page.get_by_role("link", name="Look once more").click()
    _answer(page, "How long is the second row of slides?", "Longer")
    assert "As good as certain" in page.locator("main").inner_text()


def test_every_step_is_accessible_and_nothing_sticks_out_of_a_small_phone(teacher, axe):
    page = teacher(width=320)
    seen = []
    for title, button in FULL_DOUBLE:
        if page.locator("h1").inner_text() != title:
            continue
        seen.append(title)
        assert axe(page) == [], title
        assert _sideways(page) == 0, title
        _answer(page, title, button)

    assert len(seen) >= 5
    assert axe(page) == []
    assert _sideways(page) == 0


@pytest.mark.parametrize(
    "query",
    [
        "?step=step_down&valves=3",
        "?step=thumb&valves=4",
        "?valves=3&slide_sets=2",
        "?valves=seven",
        "?valves=3&slide_sets=1&test_note=0&hand=right&mechanism=rotary&step=result",
        "?valves=3&slide_sets=1&test_note=1&hand=right&mechanism=piston&bell=back&step_down=7&step=result",
        "?valves=cant-tell&step=result",
    ],
)
def test_rarer_steps_and_results_are_accessible(teacher, axe, query):
    page = teacher(query, width=320)

    assert axe(page) == []
    assert _sideways(page) == 0


def test_the_walk_goes_by_keys_alone(teacher):
    page = teacher()
    for _ in range(30):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('button[name=valves][value=\"4\"]')"):
            break
    else:
        pytest.fail("The answer was not reached with the Tab key.")
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    with page.expect_navigation():
        page.keyboard.press("Enter")

    assert outline != "none"
    assert page.url.endswith("?valves=4")


def test_the_browsers_own_back_button_and_a_second_tab_lose_nothing(teacher):
    page = teacher()
    page.get_by_role("button", name="4 mostly").click()
    page.wait_for_url("**?valves=4")
    page.get_by_role("button", name="2 rows").click()
    page.wait_for_url("**?valves=4&slide_sets=2")
    there = page.url
    page.go_back()
    page.wait_for_url("**?valves=4")

    other = page.context.new_page()
    other.goto(there)
    assert other.url.endswith("?valves=4&slide_sets=2")
    assert other.locator("h1").inner_text() == "Which fingers sound this note?"


def test_every_answer_is_large_enough_for_a_thumb(teacher):
    page = teacher(width=320)

    sizes = page.eval_on_selector_all(
        "button.choice",
        "all => all.map(b => { const r = b.getBoundingClientRect(); return [r.width, r.height]; })",
    )
    assert len(sizes) == len(QUESTIONS["valves"].choices) + 1
    assert all(width >= 120 and height >= 48 for width, height in sizes)


def test_a_walk_that_was_left_is_offered_on_today_until_it_is_on_record(teacher):
    page = teacher("?valves=4&slide_sets=2")
    with page.expect_navigation():
        page.get_by_role("button", name="1 first", exact=False).first.click()
    page.goto("/s/hill/")
    offered = page.locator("[data-kept-list] a")
    offered.wait_for()
    assert offered.all_inner_texts() == ["Identify a horn: valves 4; slide sets 2 rows; test note, thumb up 1"]

    with page.expect_navigation():
        offered.click()
    page.get_by_role("link", name="Show what we have so far").click()
    page.get_by_role("link", name="As a new horn").click()
    page.get_by_role("button", name="Register").click()
    page.wait_for_url("**/horns/*/")
    page.goto("/s/hill/identify/?valves=3")
    page.goto("/s/hill/")
    offered.wait_for()

    assert offered.all_inner_texts() == ["Identify a horn: valves 3"]
