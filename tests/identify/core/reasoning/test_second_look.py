"""A second look puts a mistake right, unless the mistake is made again."""

import pytest

from identify.core.reasoning.mistakes import second_look


def test_a_mistake_is_put_right_unless_it_is_repeated():
    once = {"3": 0.9, "4": 0.08, "5": 0.02}

    again = second_look(once, {"3": 1.0}, 0.25)

    assert again == pytest.approx({"3": 0.9 + 0.75 * 0.1, "4": 0.02, "5": 0.005})
    assert sum(again.values()) == pytest.approx(1)


def test_where_several_answers_are_right_each_gets_its_share():
    again = second_look({"a": 0.6, "b": 0.3, "c": 0.1}, {"a": 2 / 3, "b": 1 / 3}, 0.5)

    assert again == pytest.approx({"a": 0.6 + 0.05 * 2 / 3, "b": 0.3 + 0.05 / 3, "c": 0.05})


def test_where_no_answer_is_right_a_second_look_changes_nothing():
    assert second_look({"3": 0.5, "4": 0.5}, {}, 0.25) == {"3": 0.5, "4": 0.5}
