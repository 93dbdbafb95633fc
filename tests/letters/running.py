"""A run of the letters, so many days and hours after the tests' own moment."""

from __future__ import annotations

from datetime import timedelta

from fleet.letters.actions.reminding import RunTold, remind
from tests import make
from tests.lent import Lending


def run(lending: Lending, days: int, hours: int = 0) -> RunTold:
    return remind(schools=[lending.school], now=make.NOW + timedelta(days=days, hours=hours))
