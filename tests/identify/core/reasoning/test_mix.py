"""What a school's own confirmed horns do to a verdict, and how far."""

import pytest

from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.evidence import Observations
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import assess
from tests.identify.core.reasoning.test_verdict import chance_of


def test_a_schools_own_horns_shift_what_is_common_and_it_is_told_by_how_much():
    plain, school = (
        assess(Observations()),
        assess(Observations(), mix={"compact-bb": 60, "withdrawn-kind": 9}),
    )
    assert school.mix.horns == 60
    assert school.mix.share == pytest.approx(40 / 80)
    assert chance_of(school, ("compact-bb", "Bb")) > 3 * chance_of(plain, ("compact-bb", "Bb"))


@pytest.mark.parametrize(
    ("horns", "share"), [(9, 0), (10, 10 / 50), (39, 39 / 79), (40, 1 / 2), (41, 1 / 2), (4000, 1 / 2)]
)
def test_a_schools_own_horns_count_no_more_than_general_experience(horns, share):
    assert assess(Observations(), mix={"single-f": horns}).mix.share == pytest.approx(share)


@pytest.mark.parametrize("code", catalogue())
def test_a_mix_moves_no_two_builds_more_than_eight_times_against_each_other(code):
    before, after = scales().build_shares(), scales().build_shares({code: 5000})
    assert sum(after.values()) == pytest.approx(1)
    moved = [after[other] / before[other] for other in catalogue()]
    assert max(moved) / min(moved) <= 8 + 1e-9


def test_a_handful_of_confirmed_horns_shifts_nothing():
    plain, school = assess(Observations()), assess(Observations(), mix={"compact-bb": 9})
    assert school.mix.share == 0
    assert chance_of(school, ("compact-bb", "Bb")) == chance_of(plain, ("compact-bb", "Bb"))
