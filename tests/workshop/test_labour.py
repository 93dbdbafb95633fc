"""Work apart from faults, what a school reckons for it, and the clock that measures it."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.register.models import Horn
from fleet.workshop.actions import labour
from fleet.workshop.actions.jobs import change_job, move_job, work_of
from fleet.workshop.models import RepairJob, Sitting
from fleet.workshop.models.faults import CatalogueError
from fleet.workshop.models.labour import LONGEST_SITTING
from fleet.workshop.models.works import FILE, minded, read, works, works_on
from fleet.workshop.queries.in_turn import turns
from tests import make
from tests.pages import folded

MINUTE = timedelta(minutes=1)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school(bench_rate=60)
        technician = make.staff(Role.TECHNICIAN, school)
        horn = make.horn(school, build="double-full", stands_in="F", value=2000)
        job = make.job(horn, technician, work_ordered="")
        who = {"job": job, "by": technician}
        browser = as_(technician)

        @classmethod
        def at(cls, path: str = "") -> str:
            return f"/s/{cls.school.slug}/jobs/{cls.job.pk}/{path}"

    return World


def test_each_work_is_known_once_with_its_cautions_and_only_for_horns_that_have_such_parts(db):
    school = make.school()
    piston, double = make.horn(school, build="piston-single-f"), make.horn(school, build="double-full")
    assert {one.code for one in works_on(double)} == set(works())
    assert "restring-all" not in {one.code for one in works_on(piston)}
    assert any("licensed" in one for one in works()["chemical-clean"].cautions)
    assert (
        minded(["valve-lapping"], ["string-broken"])[-1]
        == "The school’s own rules and a qualified repairer come first."
    )
    assert len(minded(["overhaul", "dent-work"])) == len(set(minded(["overhaul", "dent-work"])))


@pytest.mark.parametrize(
    "wrong", [{"code": '"overhaul"'}, {"cautions": '["nobody"]'}, {"applies": '["wings"]'}, {"who": '"anybody"'}]
)
def test_a_catalogue_that_cannot_be_is_refused(tmp_path, wrong):
    file = tmp_path / "works.toml"
    said = {"code": '"x"', "words": '"x"', "who": '"staff"'} | wrong
    own = "\n".join(f"{key} = {value}" for key, value in said.items())
    file.write_text(f"{FILE.read_text(encoding='utf-8')}\n[[work]]\n{own}\n", encoding="utf-8")
    with pytest.raises(CatalogueError):
        read(file)


def test_a_work_is_ordered_once_for_what_the_school_reckons_and_plans_the_bench(world):
    labour.set_prices(school=world.school, prices={"overhaul": (600, Decimal("700"))}, by=world.technician, at=make.NOW)
    for _ in range(2):
        world.browser.post(world.at("work/"), {"work": "overhaul"})
    world.browser.post(world.at("work/"), {"work": "restring-all"})
    labour.set_prices(school=world.school, prices={"overhaul": (None, None)}, by=world.technician, at=make.NOW)

    assert list(world.job.works.values_list("work", "minutes", "price")) == [
        ("overhaul", 600, Decimal(700)),
        ("restring-all", 40, None),
    ]
    (turn,) = turns(world.school, make.TODAY)
    assert (turn.minutes, turn.to_do, turn.nothing_left) == (640, "overhaul; restring all", False)
    assert "work ordered" in turn.why
    assert not world.school.labour_prices.exists()

    world.browser.post(world.at("work/"), {"drop": "overhaul"})
    assert turns(world.school, make.TODAY)[0].minutes == 40


def test_a_job_page_names_the_works_their_cautions_and_what_they_cost(world, as_):
    labour.set_prices(school=world.school, prices={"overhaul": (600, Decimal("700"))}, by=world.technician, at=make.NOW)
    labour.order_work(work="overhaul", at=make.NOW, **world.who)
    labour.order_work(work="restring-all", at=make.NOW, **world.who)
    page = folded(as_(make.staff(Role.HEAD, world.school)).get(world.at()))
    assert "Acid and dip baths: only where they are licensed" in page
    # 40 minutes at 60 an hour, and the overhaul at its price.
    assert "740.00" in page.replace("\N{NO-BREAK SPACE}", " ")


def test_a_work_that_this_horn_cannot_have_is_not_ordered(world):
    Horn.objects.filter(pk=world.horn.pk).update(build="piston-single-f")
    answer = world.browser.post(world.at("work/"), {"work": "restring-all"}, follow=True)
    assert "This horn cannot have that work." in folded(answer)
    assert not world.job.works.exists()


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"price-overhaul": "-1"}, "A price cannot be less than nothing."),
        ({"minutes-overhaul": "-1"}, "Work cannot take less than no time."),
        ({"minutes-overhaul": "100001"}, "That is more than a working year."),
    ],
)
def test_prices_that_cannot_be_are_said_beside_their_field(world, said, sentence):
    answer = world.browser.post(f"/s/{world.school.slug}/labour/", {"minutes-recork": "35", **said})
    assert (answer.status_code, sentence in folded(answer), 'value="35"' in folded(answer)) == (422, True, True)


def test_teachers_read_the_prices_and_only_the_bench_sets_them(world, as_):
    teacher = as_(make.staff(Role.TEACHER, world.school))
    address = f"/s/{world.school.slug}/labour/"
    assert "Ultrasonic clean" in folded(teacher.get(address))
    assert teacher.post(address, {"minutes-recork": "35"}).status_code == 403
    assert world.browser.post(address, {"minutes-recork": "35"}).status_code == 302
    assert world.school.labour_prices.values_list("work", "minutes", "price").get() == ("recork", 35, None)


def test_several_sittings_add_up_and_are_the_minutes_of_a_job_done_without_any(world):
    for begins, lasts in ((0, 10), (60, 25)):
        at = make.NOW + begins * MINUTE
        labour.start_clock(at=at, **world.who)
        labour.start_clock(at=at + MINUTE, **world.who)
        labour.stop_clock(at=at + lasts * MINUTE, **world.who)
        labour.stop_clock(at=at + 2 * lasts * MINUTE, **world.who)
    labour.start_clock(at=make.NOW + 120 * MINUTE, **world.who)
    move_job(job=world.job, by=world.technician, at=make.NOW + 125 * MINUTE, seen=_seen(world.job), state="done")
    assert [one.minutes for one in world.job.sittings.all()] == [10, 25, 5]
    assert RepairJob.objects.get().minutes == 40


@pytest.mark.parametrize(("over", "minutes", "counts"), [(0, None, 240), (1, None, None), (1, 50, 50)])
def test_a_clock_that_ran_over_four_hours_asks_how_long_it_was(world, over, minutes, counts):
    labour.start_clock(at=make.NOW, **world.who)
    end = make.NOW + LONGEST_SITTING + over * MINUTE
    if counts is None:
        with pytest.raises(Refused, match="more than four hours"):
            labour.stop_clock(at=end, **world.who)
    else:
        labour.stop_clock(at=end, minutes=minutes, **world.who)
        assert Sitting.objects.get().minutes == counts


@pytest.mark.parametrize(("over", "counts"), [(0, 240), (1, 0)])
def test_a_clock_begun_elsewhere_stops_and_a_forgotten_one_counts_for_nothing(world, over, counts):
    labour.start_clock(at=make.NOW, **world.who)
    other = make.job(make.horn(world.school), world.technician)
    at = make.NOW + LONGEST_SITTING + over * MINUTE
    forgotten = labour.start_clock(job=other, by=world.technician, at=at)
    assert (world.job.sittings.get().minutes, forgotten is not None) == (counts, bool(over))
    assert Sitting.objects.get(ended_at=None).job == other


def test_a_clock_whose_server_is_behind_counts_nothing_less_than_nothing(world):
    labour.start_clock(at=make.NOW, **world.who)
    labour.stop_clock(at=make.NOW - MINUTE, **world.who)
    assert Sitting.objects.values_list("minutes", flat=True).get() == 0


def test_a_job_given_up_stops_its_clocks_and_takes_no_more(world):
    labour.start_clock(at=make.NOW, **world.who)
    work = work_of(RepairJob.objects.get())
    given_up = type(work)(**{**{name: getattr(work, name) for name in work.__slots__}, "state": "given-up"})
    change_job(job=world.job, by=world.technician, at=make.NOW + MINUTE, seen=_seen(world.job), work=given_up)
    assert not Sitting.objects.filter(ended_at=None).exists()
    for refused in (labour.start_clock, lambda **who: labour.order_work(work="overhaul", **who)):
        with pytest.raises(Refused, match="This job was closed"):
            refused(at=make.NOW + MINUTE, **world.who)


def test_the_clock_is_pressed_on_the_jobs_page(world):
    assert "Start the clock" in folded(world.browser.get(world.at()))
    world.browser.post(world.at("clock/"), {"do": "start"})
    Sitting.objects.update(began_at=timezone.now() - 5 * MINUTE)
    page = folded(world.browser.get(world.at()))
    assert "Stop the clock" in page
    assert "works on it since" in page
    world.browser.post(world.at("clock/"), {"do": "stop", "minutes": ""})
    assert "5 min by the clock" in folded(world.browser.get(world.at()))
    answer = world.browser.post(world.at("clock/"), {"do": "stop", "minutes": "-3"}, follow=True)
    assert "Work cannot take less than no time." in folded(answer)


@pytest.mark.parametrize("page", ["", "outside/"])
def test_no_two_fields_of_a_page_share_a_name_for_their_label(world, page):
    world.browser.post(world.at("clock/"), {"do": "start"})
    ids = re.findall(r'\bid="([^"]+)"', world.browser.get(world.at(page)).content.decode())
    assert sorted(ids) == sorted(set(ids))


def _seen(job: RepairJob) -> int:
    last = job.steps.last()
    return last.pk if last else 0
