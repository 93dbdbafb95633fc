"""The order of the bench and the reasons it gives."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from fleet.ground.access import Role
from fleet.register.models import Horn
from fleet.workshop.actions.jobs import note_stand_in
from fleet.workshop.actions.mending import keep_turns
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries import bench, in_turn
from fleet.workshop.queries.bench import usual_minutes
from fleet.workshop.queries.in_turn import turns, with_jobs
from tests import make
from tests.pages import folded

TODAY = make.TODAY


@pytest.fixture
def world(db: None):
    class World:
        school = make.school()
        other = make.school()
        technician = make.staff(Role.TECHNICIAN, school)

        @classmethod
        def job(cls, *faults: tuple[str, str], at=None, **fields):
            return make.job_with(make.horn(at or cls.school), cls.technician, *faults, **fields)

    return World


def told(world, **asked):
    # Rows and horns are written to here as no action would.
    keep_turns(list(Horn.objects.values_list("pk", flat=True)))
    return turns(world.school, TODAY, **asked)


def order(world, **asked) -> list[int]:
    return [turn.job_id for turn in told(world, **asked)]


def why(world, job) -> str:
    return next(turn.why for turn in told(world) if turn.job_id == job.pk)


def lent(job, world, due_on: date, **pupil) -> None:
    make.loan(job.horn, make.pupil(world.school, **pupil), world.technician, due_on=due_on)


def test_the_worst_fault_comes_first_whoever_waits(world):
    note = world.job(("bell-dented", "n"))
    watch = world.job(("string-frayed", "w"))
    make.report(watch.horn, world.technician, job=watch, answered_at=make.NOW, still_plays=True)
    stops = world.job(("slide-loose", "r"))
    worst = world.job(("bell-dented", "n"), ("rotor-frozen", "x"))

    assert order(world) == [worst.pk, stops.pk, watch.pk, note.pk]
    assert why(world, worst) == "must not be played · 120 min"


def test_among_equal_faults_a_waiting_family_comes_first_and_a_loan_that_ends_soon_is_told(world):
    nobody = world.job(("slide-loose", "r"))
    soon = world.job(("slide-loose", "r"))
    lent(soon, world, TODAY + timedelta(days=14))
    family = world.job(("slide-loose", "r"))
    make.report(family.horn, world.technician, job=family, answered_at=make.NOW, still_plays=True)

    # Whose loan ends soon has the horn: it can be worked on when it is handed in.
    assert order(world) == [family.pk, nobody.pk, soon.pk]
    assert why(world, family) == "stops a loan · family waiting · 30 min"
    assert why(world, soon) == "stops a loan · due back 28 Sep · 30 min"


def test_of_horns_that_are_out_the_loan_that_ends_sooner_comes_first_and_both_after_what_is_here(world):
    none = world.job(("slide-loose", "r"))
    later = world.job(("slide-loose", "r"))
    lent(later, world, TODAY + timedelta(days=200))
    sooner = world.job(("slide-loose", "r"))
    lent(sooner, world, TODAY + timedelta(days=100))

    assert order(world) == [none.pk, sooner.pk, later.pk]
    assert [why(world, one) for one in (sooner, later)] == [
        "stops a loan · due back 23 Dec · 30 min",
        "stops a loan · due back 2 Apr 2027 · 30 min",
    ]


def test_the_shortest_work_comes_first_and_work_of_unknown_length_last(world):
    unknown = world.job(("slide-missing", "r"))
    long = world.job(("main-slide-frozen", "r"))
    short = world.job(("slides-swapped", "r"))
    own_words = world.job(("main-slide-frozen", "r"), minutes=1)

    assert order(world) == [own_words.pk, short.pk, long.pk, unknown.pk]
    assert why(world, unknown) == "stops a loan · time not known"


def test_what_waits_for_parts_comes_after_what_can_be_done_today(world):
    parts = world.job(("rotor-frozen", "x"), state="parts")
    note = world.job(("bell-dented", "n"))

    assert order(world) == [note.pk, parts.pk]
    assert why(world, parts) == "must not be played · 60 min · waiting for parts"


def test_a_time_that_is_known_in_part_says_so(world):
    part = world.job(("slide-missing", "r"), ("slides-swapped", "r"))

    assert why(world, part) == "stops a loan · 2 min or more"


def test_a_fault_found_three_times_takes_three_times_as_long(world):
    job = world.job()
    make.finding(make.check(job.horn, world.technician, grade=3), "slide-loose", "r", job=job, number=3)

    assert why(world, job) == "stops a loan · 90 min"


def test_mended_faults_no_longer_count(world):
    half = world.job(("slide-loose", "r"), ("string-frayed", "w"))
    half.findings.filter(fault="slide-loose").update(mended_at=make.NOW)

    assert why(world, half) == "small fault · 10 min"


def test_a_job_without_a_named_fault_claims_none(world):
    bare = world.job()
    Horn.objects.filter(pk=bare.horn_id).update(grade=2)

    assert why(world, bare) == "time not known"


def test_a_job_without_a_named_fault_still_says_that_its_horn_stops_a_loan(world):
    bare = world.job()
    Horn.objects.filter(pk=bare.horn_id).update(grade=3)

    assert why(world, bare).startswith("stops a loan")


def test_a_job_with_nothing_left_asks_to_be_closed(world):
    empty = world.job(("slide-loose", "r"), state="bench")
    empty.findings.update(mended_at=make.NOW)

    assert why(world, empty) == "nothing left to mend: close the job"


def test_a_family_whose_horn_does_not_play_weighs_like_a_fault_that_stops_a_loan(world):
    horn = make.horn(world.school)
    silent = make.job(horn, world.technician)
    make.report(horn, world.technician, still_plays=False)
    watch = world.job(("string-frayed", "w"))

    assert order(world) == [silent.pk, watch.pk]
    assert why(world, silent) == "stops a loan · family waiting · time not known"


def test_another_schools_jobs_closed_jobs_and_filtered_jobs_are_not_on_the_list(world):
    world.job(("rotor-frozen", "x"), at=world.other)
    world.job(("rotor-frozen", "x"), state="done")
    mine = world.job(("slide-loose", "r"), technician=world.technician)
    free = world.job(("slide-loose", "r"), state="bench")

    assert order(world) == [mine.pk, free.pk]
    assert order(world, technician_id=world.technician.pk) == [mine.pk]
    assert order(world, technician_id=0) == [free.pk]
    assert order(world, state="bench") == [free.pk]


def test_a_pupil_who_handed_the_horn_in_comes_before_a_family_that_still_has_it(world):
    family, handed_in = world.job(("slide-loose", "r")), world.job(("slide-loose", "r"))
    keeps, waits = make.pupil(world.school, name="Mia Vale"), make.pupil(world.school, name="Jo Hart")
    make.loan(family.horn, keeps, world.technician, due_on=TODAY + timedelta(days=100))
    make.report(family.horn, world.technician, pupil=keeps, job=family)
    make.report(handed_in.horn, world.technician, pupil=waits, job=handed_in)

    assert order(world) == [handed_in.pk, family.pk]
    assert why(world, handed_in) == "stops a loan · its pupil handed it in and waits · 30 min"


def test_a_pupil_who_plays_another_horn_meanwhile_comes_after_those_who_wait_and_before_nobody(world):
    nobody, swapped, waits = (world.job(("slide-loose", "r")) for _ in range(3))
    has_one, has_none = make.pupil(world.school, name="Mia Vale"), make.pupil(world.school, name="Jo Hart")
    stand_in = make.horn(world.school)
    out = make.loan(stand_in, has_one, world.technician, due_on=TODAY + timedelta(days=100))
    note_stand_in(horn=swapped.horn, stand_in=stand_in, by=world.technician, at=make.NOW)
    make.report(swapped.horn, world.technician, pupil=has_one, job=swapped)
    make.report(waits.horn, world.technician, pupil=has_none, job=waits)

    assert order(world) == [waits.pk, swapped.pk, nobody.pk]
    assert why(world, swapped) == f"stops a loan · its pupil plays {stand_in} meanwhile · 30 min"

    out.returned_on, out.returned_to = TODAY, world.technician
    out.save()
    make.keep([stand_in])
    assert order(world) == [swapped.pk, waits.pk, nobody.pk]
    assert "its pupil handed it in and waits" in why(world, swapped)


def test_a_job_on_a_withdrawn_horn_comes_last_and_asks_to_be_given_up(world):
    withdrawn, note = world.job(("rotor-frozen", "x")), world.job(("bell-dented", "n"), state="parts")
    withdrawn.horn.withdrawn_on = TODAY
    withdrawn.horn.save(update_fields=["withdrawn_on"])

    assert order(world) == [note.pk, withdrawn.pk]
    assert why(world, withdrawn) == "the horn is withdrawn: give the job up"


def test_what_is_out_away_or_gone_stands_at_the_end_and_says_where_it_is(world):
    gone, away, out = (world.job(("rotor-frozen", "x")) for _ in range(3))
    parts, note = world.job(("slide-loose", "r"), state="parts"), world.job(("bell-dented", "n"))
    lent(out, world, TODAY + timedelta(days=3), name="Mia Vale")
    away.state, away.repairer = "away", "Bell and Sons"
    away.save()
    make.check(away.horn, world.technician, grade=4)
    Horn.objects.filter(pk=gone.horn_id).update(not_found_on=TODAY)

    in_turn = with_jobs(told(world))

    assert [turn.job_id for turn in in_turn] == [note.pk, parts.pk, out.pk, away.pk, gone.pk]
    assert [turn.whereabouts.words for turn in in_turn] == [
        "no place yet",
        "in the workshop",
        "with Mia Vale",
        "at the repairer’s, Bell and Sons",
        "not found",
    ]
    assert [turn.can_begin for turn in in_turn] == [True, False, False, False, False]


def test_the_page_puts_what_is_not_here_under_a_heading_of_its_own(world, as_):
    place = make.place(world.school, room="Horn cupboard")
    away = world.job(("rotor-frozen", "x"), state="away", repairer="Bell and Sons")
    here = world.job(("bell-dented", "n"))
    Horn.objects.filter(pk__in=[away.horn_id, here.horn_id]).update(place=place)

    said = folded(as_(world.technician).get(f"/s/{world.school.slug}/bench/"))

    assert said.index(here.horn.number) < said.index("Not here") < said.index(away.horn.number)
    assert said.count("Horn cupboard") == 1
    # The state of the job says the same.
    row = said[said.index(away.horn.number) : said.index("</li>", said.index(away.horn.number))]
    assert row.count("at the repairer’s") == 1


def test_a_part_that_is_used_up_holds_a_job_back_and_says_which(world):
    waits, ready = world.job(("rotor-frozen", "x"), ("string-broken", "r")), world.job(("bell-dented", "n"))
    part = make.part(world.school, name="string", mends=["string-broken", "string-frayed"], on_hand=0)
    make.part(world.other, name="cork", mends=["bell-dented"], on_hand=0)
    assert order(world) == [ready.pk, waits.pk]
    assert why(world, waits) == "must not be played · 75 min · no string left"

    part.on_hand = 1
    part.save()

    assert order(world) == [waits.pk, ready.pk]


def test_jobs_are_in_turn_however_many_are_asked_about_at_a_time(world, monkeypatch):
    jobs = [world.job(("bell-dented", severity), ("slide-loose", "n")) for severity in "nwr"]
    monkeypatch.setattr(bench, "AT_ONCE", 2)
    monkeypatch.setattr(in_turn, "AT_ONCE", 2)

    in_order = turns(world.school, TODAY)

    assert [turn.job_id for turn in in_order] == [job.pk for job in reversed(jobs)]
    assert [[one.fault for one in turn.faults] for turn in in_order] == [["bell-dented", "slide-loose"]] * 3


@pytest.mark.parametrize("count", [1, 3])
def test_the_order_takes_six_queries_and_its_rows_one_more(world, count, django_assert_num_queries):
    for _ in range(count):
        job = world.job(("slide-loose", "r"), ("bell-torn", "x"))
        make.report(job.horn, world.technician)

    with django_assert_num_queries(6):
        in_turn = turns(world.school, TODAY)
    with django_assert_num_queries(1):
        shown = with_jobs(in_turn)
        assert len({(turn.job.horn.number, turn.job.horn.place, turn.job.technician) for turn in shown}) == count


def test_usual_minutes_add_up_what_is_known():
    known = catalogue().by_code

    # Minutes of common practice, no source: a broken string 15, a frozen main slide 45.
    assert usual_minutes([known["string-broken"], known["main-slide-frozen"], known["slide-missing"]]) == 60
    assert usual_minutes([known["slide-missing"]]) is None
    assert usual_minutes([]) is None
