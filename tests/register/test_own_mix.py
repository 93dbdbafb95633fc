"""What a school's own horns teach about which kinds are common there."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.register.actions.identifying import put_on_horn
from fleet.register.actions.keeping import keep
from fleet.register.models import Identification
from fleet.register.queries import identifying
from fleet.register.queries.identifying import confirmed_mix
from identify.core.reasoning.evidence import Observations
from identify.core.reasoning.verdict import assess
from tests import make

pytestmark = pytest.mark.django_db


def finds(horn, by, at, *, settled=True):
    Identification.objects.create(horn=horn, at=at, by=by, build=horn.build, stands_in=horn.stands_in, settled=settled)
    keep([horn])


# What a full double standing in F answers, as its tubes say: B♭3 is taken with the first valve on the 12-foot F tube.
DOUBLE = {"valves": "4", "slide_sets": "2", "test_note": "1", "hand": "left", "mechanism": "rotary", "bell": "back"} | {
    "second_set": "longer",
    "length": "38-42",
    "wrap": "standard",
    "shared_row": "one-side",
}


def found_on_two_days(seen):
    """What the mix of the school is after these observations were put on a horn twice."""
    school = make.school()
    horn = make.horn(school, build="")
    for days in (0, 1):
        at = make.NOW + timedelta(days=days)
        put_on_horn(horn=horn, observations=seen, build="double-full", stands_in="F", by=make.user(), at=at)
    return confirmed_mix(school)


def test_only_what_was_settled_by_two_people_or_on_two_days_teaches_the_mix():
    school = make.school()
    one, other = make.staff(Role.TEACHER, school), make.staff(Role.TEACHER, school)
    soon, tomorrow = make.NOW + timedelta(minutes=5), make.NOW + timedelta(days=1)
    for build, second in {
        "single-f": (one, soon, True),
        "compact-f": (other, soon, True),
        "vienna-f": (one, tomorrow, True),
        "piston-single-f": (other, tomorrow, False),
    }.items():
        horn = make.horn(school, build=build, stands_in="F")
        by, at, settled = second
        finds(horn, one, make.NOW)
        finds(horn, by, at, settled=settled)

    assert confirmed_mix(school) == {"compact-f": 1, "vienna-f": 1}


@pytest.mark.parametrize(("hours", "mix"), [(11.9, {}), (12, {"single-f": 1})])
def test_one_who_comes_back_to_a_horn_within_half_a_day_teaches_nothing(hours, mix):
    teacher, horn = make.user(), make.horn(make.school(), build="single-f", stands_in="F")
    for after in (0, hours):
        finds(horn, teacher, make.NOW + timedelta(hours=after))

    assert confirmed_mix(horn.school) == mix


def test_a_walk_that_waited_on_a_telephone_may_settle_what_a_newer_one_found():
    horn, seen = make.horn(make.school(), build=""), Observations(DOUBLE, again=frozenset({"valves", "second_set"}))
    for waited in (0, 5):
        put_on_horn(
            horn=horn,
            observations=seen,
            build="double-full",
            stands_in="F",
            waited=timedelta(minutes=waited),
            by=make.user(),
            at=make.NOW,
        )

    assert confirmed_mix(horn.school) == {"double-full": 1}


def test_a_large_school_is_known_by_the_newest_of_its_horns(monkeypatch):
    monkeypatch.setattr(identifying, "ENOUGH", 2)
    school = make.school()
    for build in ("single-f", "compact-f", "compact-f"):
        horn = make.horn(school, build=build, stands_in="F")
        for _twice in range(2):
            finds(horn, make.user(), make.NOW)

    assert confirmed_mix(school) == {"compact-f": 2}


def test_a_schools_own_confirmed_horns_shift_what_is_thought_common_there(as_):
    school, other = make.school(), make.school()
    teacher = make.staff(Role.TEACHER, school)
    for at, build, count in [(school, "compact-f", 12), (other, "vienna-f", 30)]:
        for _ in range(count):
            found = make.horn(at, build=build, stands_in="F")
            for days in (0, 1):
                finds(found, teacher, make.NOW + timedelta(days=days))
    make.horn(school, build="single-bb", stands_in="Bb")

    assert confirmed_mix(school) == {"compact-f": 12}
    page = as_(teacher).get(f"/s/{school.slug}/identify/", {"valves": "3", "slide_sets": "1", "step": "result"})
    assert "Your 12 confirmed horns count" in page.content.decode()


def test_a_horn_does_not_speak_for_itself(as_):
    school = make.school()
    horn = make.horn(school, build="compact-f", stands_in="F")
    for _twice in range(2):
        finds(horn, make.staff(Role.TEACHER, school), make.NOW)

    assert confirmed_mix(school) == {"compact-f": 1}
    assert confirmed_mix(school, besides=horn.pk) == {}


@pytest.mark.parametrize(("looked_at", "teaches"), [(("valves",), False), (("valves", "second_set"), True)])
def test_a_finding_that_is_settled_with_a_second_look_open_does_not_teach_the_mix(looked_at, teaches):
    seen = Observations(DOUBLE, again=frozenset(looked_at))
    verdict = assess(seen)
    assert (verdict.settled, verdict.leading.key, not verdict.confirm) == (True, ("double-full", "F"), teaches)

    assert found_on_two_days(seen) == ({"double-full": 1} if teaches else {})


def test_a_finding_that_leans_on_the_horn_before_it_does_not_teach_the_mix():
    seen = Observations(DOUBLE, again=frozenset({"valves", "second_set"}), like="double-full")
    verdict = assess(seen)
    assert (verdict.settled, verdict.confirm) == (True, ())

    assert found_on_two_days(seen) == {}
