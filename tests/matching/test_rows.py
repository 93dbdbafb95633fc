"""What a row of the matching is worth by itself."""

from dataclasses import asdict

import pytest

from fleet.matching.solving.rows import RULES, HornRow, Weights


@pytest.mark.parametrize(
    ("said", "quality"),
    [
        ({}, 4),
        ({"grade": 2}, 0),
        ({"kind": "double"}, 6),
        ({"kind": ""}, 4),
        ({"finish": 1}, 5),
        ({"finish": 2}, 5),
        ({"finish": 3}, 4),
        ({"kind": "double", "finish": 1}, 7),
        ({"kind": "double", "finish": 1, "grade": 2}, 3),
    ],
)
def test_a_horns_quality_is_its_grade_then_a_double_then_its_finish_and_one_to_be_bought_is_sound(said, quality):
    assert HornRow(10, "HN-1", **said).quality == quality


def test_a_school_that_has_said_nothing_has_the_usual_weight_of_each_rule():
    assert asdict(Weights()) == {rule.name: rule.default for rule in RULES}
