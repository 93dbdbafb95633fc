from datetime import date

import pytest

from fleet.ground.wording import short_day


@pytest.mark.parametrize(
    ("when", "said"),
    [
        (date(2026, 12, 31), "31 Dec 2026"),
        (date(2027, 1, 1), "1 Jan"),
        (date(2027, 12, 31), "31 Dec"),
        (date(2028, 1, 1), "1 Jan 2028"),
    ],
)
def test_a_day_of_another_year_than_this_says_which(when, said):
    assert short_day(when, date(2027, 5, 3)) == said
