from __future__ import annotations

import pytest

from fleet.people.models import Pupil
from tests.lent import at_noon, client, elsewhere, lending, today

__all__ = ["at_noon", "client", "elsewhere", "lending", "today"]


@pytest.fixture
def page(lending):
    return f"/s/{lending.school.slug}/matching/"


@pytest.fixture
def band(lending):
    """The pupil of the fixture in a class, so that the class has one pupil and the school one horn."""
    Pupil.objects.filter(pk=lending.pupil.pk).update(group="Band")
    lending.pupil.refresh_from_db()
    return lending
