"""A school with horns that several rows of are acted on at once."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from fleet.ground.access import Role
from tests import make

DAY = timedelta(days=1)


@pytest.fixture
def world(as_):
    class World:
        school = make.school()
        teacher = make.staff(Role.TEACHER, school)
        browser = as_(teacher)
        shelf = make.place(school, room="Store", shelf="B")

        def __init__(self):
            self.horns = [make.horn(self.school, number=f"HN-{n}") for n in (1, 2, 3)]

        def at(self, path):
            return f"/s/{self.school.slug}/several/{path}/"

        def look(self, path, **rows):
            return self.browser.get(self.at(path), {name: [row.pk for row in some] for name, some in rows.items()})

        def do(self, path, *, follow=True, **said):
            """Sends what the page shows, with the boxes as it has them and what is typed besides."""
            rows = {name: some for name, some in said.items() if isinstance(some, list)}
            page = self.look(path, **rows).content.decode()
            seen = dict(re.findall(r'name="(seen-\d+)" value="([^"]*)"', page))
            typed = {name: value for name, value in said.items() if name not in rows}
            ticked = {name: [row.pk for row in some] for name, some in rows.items()}
            return self.browser.post(self.at(path), {**seen, **ticked, **typed}, follow=follow)

        def undo(self, path):
            return self.browser.post(self.at(path), {"do": "undo"}, follow=True)

        def out(self, **said):
            pupil = make.pupil(self.school, make.guardian(self.school), **said.pop("pupil", {}))
            said = {"issued_on": make.TODAY - 9 * DAY, "due_on": make.TODAY + 200 * DAY, **said}
            return make.loan(make.horn(self.school), pupil, self.teacher, **said)

    return World()
