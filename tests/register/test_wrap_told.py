"""What is told of how a horn is wound."""

from __future__ import annotations

import pytest

from fleet.register.models import Horn


@pytest.mark.parametrize(
    ("build", "wrap", "told"),
    [
        ("double-full-stopping", "", "not looked at"),  # met in two wraps
        ("double-full-stopping", "compact", "compact"),
        ("compact-bb", "compact", "compact, as every horn of its kind"),
        ("", "standard", "standard"),
        ("", "", "not looked at"),
    ],
)
def test_a_wrap_says_that_nobody_looked_or_why_it_is_known(build: str, wrap: str, told: str):
    assert Horn(build=build, wrap=wrap).wrap_told == told
