"""The bar of a new check stays in sight, and yet never lies over what has the focus."""

from __future__ import annotations

from typing import Any

import pytest

from fleet.ground.access import Role
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# What can have the focus, forwards and backwards, and is then covered in part or lies in part outside the window.
HIDDEN = """() => {
  const all = [...document.querySelectorAll('a[href], button, input, select, textarea, summary')];
  const bars = [...document.querySelectorAll('body *')].filter(e =>
    ['sticky', 'fixed'].includes(getComputedStyle(e).position));
  const reached = [], hidden = [];
  for (const it of [...all, ...all.toReversed()]) {
    it.focus();
    if (document.activeElement !== it) continue;
    const box = it.getBoundingClientRect(), words = it.outerHTML.slice(0, 90);
    reached.push(words);
    const covered = bars.filter(e => !e.contains(it)).map(e => e.getBoundingClientRect()).some(bar =>
      bar.top < box.bottom && bar.bottom > box.top && bar.left < box.right && bar.right > box.left);
    const fits = box.height < innerHeight / 3;
    if (covered || fits && (box.top < -1 || box.bottom > innerHeight + 1))
      hidden.push(`${words} from ${box.top} to ${box.bottom}, ${covered}`);
  }
  return [reached, hidden];
}"""


def new_check(open_as: Any, width: int, height: int, letters: int) -> Any:
    school = make.school()
    page = open_as(make.staff(Role.TECHNICIAN, school), width=width, height=height)
    page.goto(f"/s/{school.slug}/horns/{make.horn(school).pk}/check/")
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    # Not by a style in the page, which the content policy forbids.
    page.evaluate("size => document.documentElement.style.setProperty('font-size', size)", f"{letters}px")
    return page


@pytest.mark.parametrize(
    ("width", "height", "letters"),
    [(320, 640, 16), (320, 480, 24), (320, 256, 16), (1280, 700, 32)],
    ids=["phone", "phone with large letters", "desk at 400 %", "desk with large letters"],
)
def test_nothing_that_has_the_focus_lies_under_the_bar(open_as, width, height, letters):
    page = new_check(open_as, width, height, letters)
    reached, hidden = page.evaluate(HIDDEN)
    assert any('type="checkbox"' in words for words in reached)
    assert any("button" in words for words in reached)
    assert not hidden, "\n".join(hidden)


@pytest.mark.parametrize("letters", [16, 32])
def test_the_bar_leaves_at_least_half_of_a_phone_to_the_page(open_as, letters):
    page = new_check(open_as, 320, 640, letters)
    bar = page.evaluate("document.querySelector('.so-far').getBoundingClientRect().height")
    assert bar <= 320
