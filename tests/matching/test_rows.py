"""What a row of the matching is worth by itself, and where it stands."""

from dataclasses import asdict

import pytest
from django.http import QueryDict

from fleet.matching.queries.asked import MatchingAsked, asked_from
from fleet.matching.solving.rows import LEVELS, RULES, HornRow, Weights
from fleet.register.models import Horn
from tests import make


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


def test_a_rule_that_matters_a_lot_outweighs_two_that_matter_and_the_steps_are_those_on_record():
    # Schools' weights are kept as these numbers.
    assert [level for level, _ in LEVELS] == [0, 1, 3, 9]


def test_a_pair_of_which_half_is_no_number_is_as_if_it_had_not_been_said():
    said = QueryDict("fix=1.x&fix=.2&fix=x&fix=3.4")
    assert asked_from(said, Weights(), []).fixed == ((3, 4),)


@pytest.mark.parametrize("changed", ["fixed", "without", "leave", None])
def test_a_matching_is_by_hand_once_a_pair_a_horn_or_a_pupil_was_changed(changed):
    said = {"fixed": ((1, 2),), "without": (2,), "leave": (1,)}
    more = {changed: said[changed]} if changed else {}

    assert MatchingAsked(Weights(), Weights(), **more).by_hand is bool(changed)


@pytest.mark.both_engines
def test_pupils_stand_by_family_name_and_horns_as_their_numbers_count(client, page, band):
    Horn.objects.filter(pk=band.horn.pk).update(not_found_on=make.TODAY)
    band.pupil.name = "Zoe Abel"
    band.pupil.save()
    others = [make.pupil(band.school, name=name, group="Band") for name in ("Ömer Öz", "Ana Ünal")]
    horns = [make.horn(band.school, number=number, build="", stands_in="") for number in ("HN-10", "HN-9", "HN-2")]

    answer = client.get(page, {"class": "Band"})

    (step,) = answer.context["steps"]
    assert [horn for horn, _ in step["horns"]] == horns[::-1]
    assert step["serves"] == f"{band.pupil}, {others[0]} and {others[1]}"
