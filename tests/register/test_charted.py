"""Which chart a horn on record has."""

from __future__ import annotations

import pytest

from fleet.register.models import Horn
from fleet.register.queries.charted import chart_of, form_of, stand_of


@pytest.mark.parametrize(
    ("build", "recorded", "stands"),
    [
        ("single-f", "F", "F"),
        # There is only one way it can stand.
        ("single-f", "", "F"),
        # What was recorded is taken at its word, though the build has it not.
        ("single-f", "Bb", None),
        ("double-full", "Bb", "Bb"),
        # It is not guessed which of the two.
        ("double-full", "", None),
    ],
)
def test_a_horn_stands_as_recorded_or_as_it_only_can(build: str, recorded: str, stands: str | None) -> None:
    horn = Horn(build=build, stands_in=recorded)
    form = form_of(horn)
    assert form is not None

    found = stand_of(horn, form)

    assert (found.name if found else None) == stands
    assert (chart_of(horn) is None) == (stands is None)


def test_a_horn_not_identified_has_no_chart() -> None:
    assert (form_of(Horn()), chart_of(Horn())) == (None, None)
