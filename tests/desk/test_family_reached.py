"""A family reads how the school reaches it."""

from __future__ import annotations

from fleet.ground.access import Role
from tests import make
from tests.pages import folded


def test_a_family_reads_how_the_school_reaches_it(db, as_):
    school = make.school()
    mother = make.guardian(school, email="m@home.example", telephone="555 0100")
    head = make.staff(Role.HEAD, school)
    make.loan(make.horn(school), make.pupil(school, mother), head)

    for _ in range(2):
        page = folded(as_(mother.user).get("/family/", follow=True))
        assert f"{school} reaches you at <bdi>m@home.example, 555 0100</bdi>." in page
        make.loan(make.horn(school), make.pupil(school, mother), head)
