"""A shelf of equal horns: the next one is said to be like the one before, and is asked only what tells it apart."""

from __future__ import annotations

from urllib.parse import parse_qs, urlsplit

import pytest

from fleet.ground.access import Role
from fleet.people.models import Post
from fleet.register.models import Horn, Identification
from fleet.register.pages.one_by_one import AT_IT
from tests import make
from tests.pages import folded
from tests.register.test_identified import FULL_DOUBLE_IN_F, page

pytestmark = pytest.mark.django_db

SETTLED = FULL_DOUBLE_IN_F | {"shared_row": "one-side"}
BUTTON = "Like the one before: full double horn in F and B♭, stands in F"
NEXT = "Identify the next one: like the one before"


@pytest.fixture
def teacher(as_, school):
    return as_(make.staff(Role.TEACHER, school))


def walk(teacher, school, **answers):
    return teacher.get(f"/s/{school.slug}/identify/", answers)


def register(teacher, school, number, answers, kind="double-full|F", **more):
    sent = {"act": "as-new", "kind": kind, "number": number, "suggested": number, **more}
    return teacher.post(page(school, answers), sent)


def test_a_shelf_of_equal_horns_is_identified_by_three_checks_of_each(teacher, school):
    assert "one before" not in walk(teacher, school).content.decode()
    registered = teacher.get(register(teacher, school, "HN-1", SETTLED).url).content.decode()

    start = walk(teacher, school)
    assert start.context["like_before"] == (BUTTON.partition(": ")[2], "?like=double-full")
    assert BUTTON in start.content.decode()
    assert f'href="/s/{school.slug}/identify/?like=double-full">{NEXT}' in registered
    like = {"like": "double-full"}
    first = walk(teacher, school, **like)
    assert first.context["question"].key == "test_note"
    assert ("like", "double-full") in first.context["carried"]
    assert "Said to be like the one before, a full double horn" in first.content.decode()
    assert BUTTON not in first.content.decode()
    second = walk(teacher, school, **like, test_note="1")
    assert second.context["question"].key == "second_set"
    third = walk(teacher, school, **like, test_note="1", second_set="longer", step="length")
    assert third.context["question"].key == "length"
    result = walk(teacher, school, **like, test_note="1", second_set="longer", length="38-42")
    assert "This is" in result.content.decode()
    assert result.context["verdict"].settled

    # The same answers again and again are meant.
    for number in ("HN-2", "HN-3"):
        answers = like | {"test_note": "1", "second_set": "longer", "length": "38-42"}
        shown = teacher.get(register(teacher, school, number, answers).url).content.decode()
        assert f"Registered as {number}" in shown
        assert NEXT in shown
    findings = Identification.objects.filter(horn__number__in=["HN-2", "HN-3"])
    assert {(one.observations["like"], one.settled, one.teaches) for one in findings} == {("double-full", True, False)}


def test_after_two_checks_that_do_not_settle_it_the_result_offers_the_next(teacher, school):
    result = walk(teacher, school, like="double-full", test_note="1", slide_sets="2")

    assert not result.context["verdict"].settled
    coming = result.context["coming"].key
    assert parse_qs(urlsplit(result.context["next"]).query)["step"] == [coming]
    assert "Next check:" in result.content.decode()


def test_only_a_horn_that_its_own_checks_settled_is_the_one_before(teacher, school):
    register(teacher, school, "HN-1", {"valves": "4", "hand": "left"})
    assert walk(teacher, school).context["like_before"] is None

    register(teacher, school, "HN-2", SETTLED)
    register(teacher, school, "HN-3", {"like": "double-full", "test_note": "1", "valves": "4"})
    assert walk(teacher, school).context["like_before"][1] == "?like=double-full"

    register(teacher, school, "HN-4", SETTLED, kind="double-compensating|F", another="on")
    assert walk(teacher, school).context["like_before"] is None


def test_the_one_before_is_offered_at_the_start_alone_and_goes_along_with_a_registered_horn(teacher, school):
    register(teacher, school, "HN-1", SETTLED)
    horn = make.horn(school, build="")

    assert walk(teacher, school, horn=horn.pk).context["like_before"][1] == f"?like=double-full&horn={horn.pk}"
    assert walk(teacher, school, valves="4").context["like_before"] is None
    assert NEXT not in teacher.get(f"/s/{school.slug}/horns/{horn.pk}/").content.decode()


@pytest.mark.parametrize(("late", "offered"), [(-1, True), (1, False)])
def test_the_one_before_is_of_this_shelf_and_not_of_another_day(teacher, school, late, offered):
    register(teacher, school, "HN-1", SETTLED)
    session = teacher.session
    at = session["identified"]["at"] - AT_IT.total_seconds() - late * 60
    session["identified"] = {**session["identified"], "at": at}
    session.save()

    assert (walk(teacher, school).context["like_before"] is not None) is offered


def test_another_school_and_a_kind_taken_back_offer_nothing(as_, school):
    person = make.staff(Role.TEACHER, school)
    teacher, other = as_(person), make.school()
    Post.objects.create(user=person, school=other, role=Role.TEACHER.value)
    register(teacher, school, "HN-1", SETTLED)

    assert walk(teacher, other).context["like_before"] is None
    Horn.objects.update(build="", stands_in="")
    assert walk(teacher, school).context["like_before"] is None


def test_a_walk_that_starts_again_stays_with_its_horn(teacher, school):
    horn = make.horn(school)

    answer = teacher.get(f"/s/{school.slug}/identify/?step=result&valves=4&horn={horn.pk}")

    assert f'href="/s/{school.slug}/identify/?horn={horn.pk}">Start again<' in folded(answer)
