from typing import Any

import pytest

from fleet.ground.access import Role
from tests import make


@pytest.fixture
def world(db: None, as_: Any) -> Any:
    """A technician before the page of a check of a full double horn."""

    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school)
        horn = make.horn(school, build="double-full")
        browser = as_(technician)
        address = f"/s/{school.slug}/horns/{horn.pk}/check/"

    return World
