"""Today's set: the exact choice against brute force, and the page that shows it."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.ground.access import Role
from fleet.register.models import Horn
from fleet.workshop.queries import bench_day, in_turn
from fleet.workshop.queries.visit import JobOffered, best_set, plan
from tests import make
from tests.pages import folded

worths = st.tuples(*[st.integers(0, 1)] * 3, st.integers(1, 4))
candidates = st.lists(st.builds(JobOffered, st.integers(0, 60), worths), max_size=8)
some_parts = st.dictionaries(st.sampled_from([1, 2, 3]), st.integers(1, 2), max_size=2).map(
    lambda had: tuple(had.items())
)
wanting = st.lists(st.builds(JobOffered, st.integers(0, 60), worths, some_parts), max_size=8)
stocks = st.fixed_dictionaries({1: st.integers(0, 3), 2: st.integers(0, 3), 3: st.integers(0, 3)})


def total(chosen: tuple[JobOffered, ...]) -> tuple[int, ...]:
    return tuple(sum(figures) for figures in zip(*(one.worth for one in chosen), strict=True)) or (0, 0, 0, 0)


@given(candidates, st.integers(0, 200))
def test_no_set_that_fits_is_worth_more_and_none_worth_as_much_is_shorter(jobs, minutes):
    every = (some for size in range(len(jobs) + 1) for some in combinations(jobs, size))
    fitting = [some for some in every if sum(one.minutes for one in some) <= minutes]
    best = max(total(some) for some in fitting)
    shortest = min(sum(one.minutes for one in some) for some in fitting if total(some) == best)

    places = best_set(jobs, minutes)

    chosen = tuple(jobs[place] for place in places)
    assert list(places) == sorted(set(places))
    assert total(chosen) == best
    assert sum(one.minutes for one in chosen) == shortest


def parts_of(chosen: tuple[JobOffered, ...]) -> Counter[int]:
    used = Counter[int]()
    for one in chosen:
        used.update(dict(one.parts))
    return used


@given(wanting, st.integers(0, 200), stocks)
def test_with_too_few_parts_for_all_no_set_the_parts_allow_is_worth_more(jobs, minutes, stock):
    every = (some for size in range(len(jobs) + 1) for some in combinations(jobs, size))
    allowed = [
        some
        for some in every
        if sum(one.minutes for one in some) <= minutes
        and all(count <= stock[part] for part, count in parts_of(some).items())
    ]
    best = max(total(some) for some in allowed)
    shortest = min(sum(one.minutes for one in some) for some in allowed if total(some) == best)

    chosen = tuple(jobs[place] for place in best_set(jobs, minutes, stock))

    assert chosen in allowed
    assert total(chosen) == best
    assert sum(one.minutes for one in chosen) == shortest


@given(wanting, st.integers(0, 200), stocks)
def test_with_more_scarce_parts_than_the_table_has_room_for_the_set_is_still_one_that_can_be_done(jobs, minutes, stock):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fleet.workshop.queries.visit.MOST_STATES", 3)
        chosen = tuple(jobs[place] for place in best_set(jobs, minutes, stock))

    assert sum(one.minutes for one in chosen) <= minutes
    assert all(count <= stock[part] for part, count in parts_of(chosen).items())


def test_one_horn_freed_outweighs_any_number_of_small_faults():
    small = [JobOffered(5, (0, 1, 1, 3))] * 12

    assert best_set([*small, JobOffered(60, (1, 0, 0, 1))], 60) == (12,)


def test_among_equal_sets_the_earlier_jobs_are_chosen():
    assert best_set([JobOffered(10, (1, 0))] * 4, 25) == (0, 1)


def test_nothing_fits_and_nothing_is_there():
    assert best_set([JobOffered(10, (1,))], 9) == ()
    assert best_set([], 100) == ()


@pytest.mark.parametrize("bad", [([JobOffered(-1, (1,))], 5), ([JobOffered(1, (-1,))], 5), ([], -1)])
def test_negative_minutes_and_worths_are_refused(bad):
    with pytest.raises(ValueError, match="negative"):
        best_set(*bad)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school)
        browser = as_(technician)
        address = f"/s/{school.slug}/bench/visit/"

        @classmethod
        def job(cls, *faults: tuple[str, str], **fields):
            return make.job_with(make.horn(cls.school), cls.technician, *faults, **fields)

    return World


def planned(world, minutes: int):
    return plan(in_turn.with_jobs(in_turn.turns(world.school, make.TODAY)), minutes)


def test_two_short_jobs_that_free_two_horns_go_before_one_long_one_that_is_worse(world):
    world.job(("rotor-frozen", "x"))
    short = {world.job(("string-broken", "r")).pk, world.job(("slide-loose", "r")).pk}

    visit = planned(world, 60)

    # Minutes of common practice, no source: a frozen rotor 60, a broken string 15, a loose slide 30.
    assert {turn.job_id for turn in visit.chosen} == short
    assert (visit.planned, visit.frees) == (45, 2)
    assert [why for _, why in visit.left_out] == ["the minutes serve more in other jobs"]


def test_what_cannot_be_done_today_is_left_out_with_its_reason(world):
    make.part(world.school, name="string", mends=["string-broken"], on_hand=0)
    out = world.job(("slide-loose", "r"))
    make.loan(out.horn, make.pupil(world.school), world.technician)
    wanting = world.job(("string-broken", "r"))
    parts = world.job(("slide-loose", "r"), state="parts")
    away = world.job(("slide-loose", "r"), state="away", repairer="Bell and Sons")
    unknown = world.job(("slide-missing", "r"))
    long = world.job(("leadpipe-pierced", "x"))
    withdrawn, lost = world.job(("slide-loose", "r")), world.job(("slide-loose", "r"))
    Horn.objects.filter(pk=withdrawn.horn_id).update(withdrawn_on=make.TODAY)
    Horn.objects.filter(pk=lost.horn_id).update(not_found_on=make.TODAY)

    visit = planned(world, 120)

    assert visit.chosen == ()
    assert {turn.job_id: why for turn, why in visit.left_out} == {
        out.pk: "a family has the horn: ask for it first",
        wanting.pk: "no string left",
        parts.pk: "waiting for parts",
        away.pk: "at the repairer’s, Bell and Sons",
        unknown.pk: "nobody knows how long it takes: give it minutes, and it can be planned",
        long.pk: "takes longer than the visit: 180 min",
        withdrawn.pk: "the horn is withdrawn: give the job up",
        lost.pk: "the horn cannot be found",
    }


def test_the_last_piece_of_a_part_goes_into_one_job_and_the_other_says_so(world):
    make.part(world.school, name="string", mends=["string-broken"], on_hand=1)
    long, short = world.job(("string-broken", "r"), minutes=40), world.job(("string-broken", "r"), minutes=15)

    visit = planned(world, 120)

    assert [turn.job_id for turn in visit.chosen] == [short.pk]
    assert [(turn.job_id, why) for turn, why in visit.left_out] == [
        (long.pk, "the last string serves more in another job")
    ]


def test_a_horn_that_nobody_waits_for_and_that_is_only_looked_at_is_better_done_than_left(world):
    job = world.job(("slide-loose", "n"))

    assert [turn.job_id for turn in planned(world, 30).chosen] == [job.pk]


def test_the_page_shows_the_set_what_it_frees_and_the_way_to_print_it(world):
    job = world.job(("string-broken", "r"))
    page = folded(world.browser.get(world.address, {"minutes": "30"}))

    assert "1 job, 15 of 30 min, 1 horn freed" in page
    assert page.count("15 min") == 1
    assert job.horn.number in page
    assert f"/s/{world.school.slug}/prints/repair-list.pdf?today=30" in page


@pytest.mark.parametrize(
    ("minutes", "sentence"),
    [
        ("0", "A visit takes at least a minute."),
        ("-20", "A visit takes at least a minute."),
        ("1441", "That is more than a day."),
        ("soon", "Write a whole number, like 14."),
        ("9" * 40, "That is more than a day."),
    ],
)
def test_nonsense_for_minutes_plans_nothing_and_says_why(world, minutes, sentence):
    answer = world.browser.get(world.address, {"minutes": minutes})

    assert answer.status_code == 200
    assert sentence in answer.content.decode()
    assert "visit" not in answer.context


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_takes_the_same_queries_for_three_jobs_as_for_one(world, count, django_assert_num_queries):
    for _ in range(count):
        world.job(("string-broken", "r"), ("slide-missing", "r"))
        world.job(("string-broken", "r"))
    world.browser.get(world.address)

    with django_assert_num_queries(21):
        world.browser.get(world.address, {"minutes": "30"})


@pytest.mark.parametrize("few", [0, 200])
@pytest.mark.parametrize(("many", "more"), [(7, False), (8, True)])
def test_care_is_told_of_eight_places_in_their_order_and_then_of_horns_without_one(world, monkeypatch, many, more, few):
    monkeypatch.setattr(bench_day, "FEW", few)
    there = [make.place(world.school, room=f"Room {n}") for n in range(many)]
    horns = [make.horn(world.school, place=place) for place in reversed(there)]
    make.horn(world.school, place=there[0], build="natural-horn", stands_in="")
    make.horn(world.school)

    answer = world.browser.get(world.address)

    told = answer.context["beside"].care
    assert [one.place for one in told] == [*there, None][:8]
    assert len(dict(told[0].wanted)["clean"]) == len(dict(told[0].wanted)["oil"]) + 1
    assert dict(told[1].wanted)["oil"] == [horns[-2].number]
    assert ("All care that is due" in folded(answer)) is more
