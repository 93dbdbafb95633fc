"""A page with a row of words to send, on which no time passes by itself."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from fleet.ground.access import Role
from tests import make
from tests.browser.outbox.letterbox import QUEUE, Letterbox


@pytest.fixture
def world(open_as):
    class World:
        school = make.school()
        tom = make.staff(Role.TEACHER, school)
        page = open_as(tom)
        # Nothing is tried again by itself before a test lets time go on.
        page.clock.install()
        page.clock.pause_at(datetime(2040, 1, 1))
        home = f"/s/{school.slug}/"
        box = Letterbox(page)

        def begin(self, page: Any = None, most: int = 1) -> Any:
            page = page or self.page
            page.goto(self.home)
            page.evaluate(QUEUE, most)
            return page

    return World()
