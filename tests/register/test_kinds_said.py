"""What a horn is, typed by hand instead of found by the checks."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.register.actions import horns, identifying
from fleet.register.models import Horn
from fleet.register.queries.identifying import confirmed_mix
from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.evidence import Observations
from identify.core.reasoning.expect import hypotheses, usual_answers
from tests import make
from tests.reading import story_of

pytestmark = pytest.mark.django_db


def told(horn):
    return [(one.sentence, one.by) for one in story_of(Horn.objects.get(pk=horn.pk)).whole() if one.kind == "kind"]


def test_a_kind_typed_when_the_horn_is_registered_is_in_its_story(school, now):
    particulars = {"number": "HN-1", "build": "double-full", "stands_in": "Bb"}
    horn = horns.register_horn(school=school, particulars=particulars, by=make.user(name="Ada Lin"), at=now)

    assert told(horn) == [("Said by hand: full double horn in F and B♭, stands in B♭.", "Ada Lin")]
    assert [one.kind for one in story_of(horn).whole()] == ["kind", "registered"]


def test_a_horn_registered_without_a_kind_has_no_such_line(school, now):
    horn = horns.register_horn(school=school, particulars={"number": "HN-1"}, by=make.user(), at=now)
    assert told(horn) == []


def test_a_button_tapped_twice_leaves_one_line(school, now):
    by, particulars = make.user(), {"number": "HN-1", "build": "single-f", "stands_in": "F"}
    for _ in range(2):
        horn = horns.register_horn(school=school, particulars=particulars, suggested="HN-1", by=by, at=now)
    assert len(told(horn)) == 1


@pytest.mark.parametrize(
    ("before", "typed", "sentence"),
    [
        (("", ""), {"build": "single-f", "stands_in": "F"}, "Said by hand: single horn in F."),
        (
            ("single-f", "F"),
            {"build": "double-full", "stands_in": "Bb"},
            "Said by hand: full double horn in F and B♭, stands in B♭, instead of single horn in F.",
        ),
        (
            ("double-full", ""),
            {"stands_in": "F"},
            "Said by hand: full double horn in F and B♭, stands in F, instead of full double horn in F and B♭.",
        ),
        (
            ("single-bb", "Bb"),
            {"build": "", "stands_in": ""},
            "Said by hand: not identified, instead of single horn in B♭.",
        ),
    ],
)
def test_a_kind_typed_on_the_particulars_is_in_the_story_with_what_it_was(as_, school, before, typed, sentence):
    horn = make.horn(school, build=before[0], stands_in=before[1])
    head = make.staff(Role.HEAD, school, name="Bo Ek")
    page = f"/s/{school.slug}/horns/{horn.pk}/edit/"
    client = as_(head)
    form = client.get(page).context["form"]
    shown = {f"initial-{name}": field.value() or "" for name, field in ((f.name, f) for f in form)}
    sent = shown | {name.removeprefix("initial-"): value for name, value in shown.items()} | typed

    client.post(page, sent)

    assert told(horn) == [(sentence, "Bo Ek")]
    assert sentence in client.get(f"/s/{school.slug}/horns/{horn.pk}/").content.decode()


def test_what_else_is_typed_leaves_no_such_line(school, now):
    horn = make.horn(school, build="single-f", stands_in="F")
    horns.amend_horn(horn=horn, changes={"maker": "A", "build": "single-f", "stands_in": "F"}, by=make.user(), at=now)
    assert told(horn) == []


def test_only_what_went_through_the_checks_counts_as_confirmed(school, now):
    by = make.user()
    typed, found, retyped = (make.horn(school, build="") for _ in range(3))
    horns.amend_horn(horn=typed, changes={"build": "single-bb", "stands_in": "Bb"}, by=by, at=now)
    seen = Observations(usual_answers(next(hypotheses(catalogue()))), again=frozenset({"wrap"}))
    for horn in (found, retyped):
        for person in (by, make.user()):
            identifying.put_on_horn(horn=horn, observations=seen, build="single-f", stands_in="F", by=person, at=now)
    assert confirmed_mix(school) == {"single-f": 2}

    later = now + timedelta(days=1)
    horns.amend_horn(horn=retyped, changes={"build": "compact-f"}, by=by, at=later)

    assert confirmed_mix(school) == {"single-f": 1}
