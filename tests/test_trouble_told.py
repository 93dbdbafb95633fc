"""What a database's state tells of the trouble behind it, wherever the tests run."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, OperationalError

from fleet.trouble import AWAY, BROKE, FULL, READ_ONLY, trouble_of


class Said(DatabaseError):
    """As PostgreSQL's driver says it, wherever the tests run."""

    def __init__(self, sqlstate: str) -> None:
        super().__init__(sqlstate)
        self.sqlstate = sqlstate


@pytest.mark.parametrize(
    ("state", "told"), [("53100", FULL), ("25006", READ_ONLY), ("57P01", AWAY), ("42P01", BROKE), ("23505", BROKE)]
)
def test_a_state_is_known_by_itself_or_by_its_class(state, told):
    assert trouble_of(Said(state)) is told


def test_a_connection_that_was_never_made_is_away_and_another_fault_without_a_code_is_ours():
    assert trouble_of(OperationalError("no server")) is AWAY
    assert trouble_of(DatabaseError("no such thing")) is BROKE
