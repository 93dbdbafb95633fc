"""What stands in words and colour of where a horn is and how it is."""

import pytest

from fleet.register.models import Horn, Place
from fleet.register.pages.badges import grade_badge, kind_and_whereabouts, whereabouts, whereabouts_in_short
from tests import make

ELSEWHERE = [
    ({"withdrawn_on": make.TODAY}, "withdrawn", "withdrawn"),
    ({"not_found_on": make.TODAY, "holder_name": "Mia Vale"}, "not found", "not found"),
    ({"holder_name": "Mia Vale"}, "with Mia Vale", "out on loan"),
    ({"on_bench": True, "repairer": "Bell & Sons"}, "at the repairer’s, Bell &amp; Sons", "at the repairer’s"),
    ({"on_bench": True}, "in the workshop", "in the workshop"),
]


@pytest.mark.parametrize(("kept", "words", "short"), ELSEWHERE)
def test_a_badge_says_where_a_horn_is_that_is_not_in_its_place(kept, words, short):
    horn = Horn(number="HN-1", place=Place(room="Horn cupboard"), **kept)

    assert f"</span>{words}</span>" in whereabouts(horn)
    assert f"</span>{short}</span>" in whereabouts_in_short(horn)
    assert "fine" not in whereabouts(horn)


def test_a_horn_in_its_place_has_its_place_in_plain_words_and_no_badge():
    horn = Horn(number="HN-1", place=Place(room="Practice <b>room</b> 2", shelf="top"))

    assert whereabouts(horn) == whereabouts_in_short(horn) == "Practice &lt;b&gt;room&lt;/b&gt; 2, top"


def test_what_a_horn_is_and_its_place_are_kept_apart_unless_a_badge_does_so():
    horn = Horn(build="single-f", place=Place(room="Practice room 2"))

    assert kind_and_whereabouts(horn) == "single horn in F · Practice room 2"
    horn.build = ""
    assert kind_and_whereabouts(horn) == "Practice room 2"
    horn.build, horn.holder_name = "single-f", "Ada Reed"
    assert kind_and_whereabouts(horn) == f"single horn in F {whereabouts(horn)}"
    assert "badge" in whereabouts(horn)


@pytest.mark.parametrize("grade", Horn.Grade.values)
def test_a_badge_says_the_grade_as_figure_and_words(grade):
    badge = grade_badge(grade)

    assert str(Horn.Grade(grade).label) in badge
    assert f">{grade}<" in badge


def test_what_a_badge_says_is_escaped():
    assert "<b>" not in whereabouts(Horn(number="HN-1", holder_name="<b>"))
