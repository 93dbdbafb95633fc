"""The stock: used up by jobs, never below none, ordered when short; nonsense answered beside its field."""

from __future__ import annotations

from datetime import timedelta
from threading import Barrier, Thread

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.workshop.actions.parts import put_back, save_part, use_part
from fleet.workshop.models import Part, PartUsed, RepairJob
from tests import make


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        horn = make.horn(school)
        job = make.job(horn, technician)
        part = make.part(school, name="string", on_hand=2, minimum=2, cost="1.50", mends=["string-broken"])
        browser = as_(technician)

        @classmethod
        def at(cls, path: str) -> str:
            return f"/s/{cls.school.slug}/{path}"

        @classmethod
        def use(cls, count: int):
            return use_part(job=cls.job, part=cls.part, count=count, by=cls.technician, at=make.NOW)

        @classmethod
        def left(cls) -> int:
            return Part.objects.get(pk=cls.part.pk).on_hand

    return World


def test_a_part_used_leaves_the_shelf_and_stands_on_the_job_at_what_it_cost_then(world):
    world.browser.post(world.at(f"jobs/{world.job.pk}/part/"), {"part": world.part.pk, "count": "2"})
    Part.objects.update(cost="9.00")

    used = PartUsed.objects.get()
    assert (world.left(), used.count, str(used.cost), used.by) == (0, 2, "3.00", world.technician)
    assert [step.words for step in world.job.steps.all()] == ["used 2 × string"]
    page = world.browser.get(world.at(f"jobs/{world.job.pk}/")).content.decode()
    assert "2 × string" in page
    assert "3.00 EUR" in page


@pytest.mark.parametrize(("seconds", "left"), [(15, 1), (16, 0)])
def test_a_part_whose_button_is_pressed_twice_is_used_once(world, seconds, left):
    world.use(1)

    said = {"job": world.job, "part": world.part, "count": 1, "by": world.technician}
    use_part(at=make.NOW + timedelta(seconds=seconds), **said)

    assert (world.left(), PartUsed.objects.count(), world.job.steps.count()) == (left, 2 - left, 2 - left)


def test_two_technicians_who_use_one_each_at_the_same_moment_have_used_two(world):
    world.use(1)

    other = make.staff(Role.TECHNICIAN, world.school)
    use_part(job=world.job, part=world.part, count=1, by=other, at=make.NOW)

    assert world.left() == 0


def test_more_than_there_is_cannot_be_used_and_nothing_is_taken(world):
    with pytest.raises(Refused) as no:
        world.use(3)
    assert no.value.sentence == "Only 2 of string are left: 3 cannot be used."
    assert (world.left(), PartUsed.objects.count()) == (2, 0)

    with pytest.raises(IntegrityError), transaction.atomic():
        Part.objects.filter(pk=world.part.pk).update(on_hand=-1)


@pytest.mark.parametrize(
    ("count", "sentence"),
    [
        ("0", "Use at least one piece."),
        ("-4", "Use at least one piece."),
        ("99999", "That is more than any job takes."),
        ("two", "Write a whole number, like 14."),
    ],
)
def test_nonsense_for_pieces_is_answered_on_the_jobs_page(world, count, sentence):
    answer = world.browser.post(
        world.at(f"jobs/{world.job.pk}/part/"), {"part": world.part.pk, "count": count}, follow=True
    )

    assert sentence in answer.content.decode()
    assert world.left() == 2


def test_what_was_not_needed_goes_back_once(world):
    used = world.use(2)

    for _ in range(2):
        put_back(job=world.job, used=used.pk, by=world.technician, at=make.NOW)

    assert (world.left(), PartUsed.objects.count()) == (2, 0)


def test_a_closed_job_takes_and_gives_no_parts(world):
    used = world.use(1)
    RepairJob.objects.update(state="done", closed_at=make.NOW)

    with pytest.raises(Refused):
        world.use(1)
    with pytest.raises(Refused):
        put_back(job=world.job, used=used.pk, by=world.technician, at=make.NOW)

    assert world.left() == 1


def test_a_part_of_another_school_and_an_entry_of_another_job_are_not_taken(world):
    theirs = make.part(make.school(), name="cork")
    elsewhere = make.job(make.horn(world.school), world.technician)
    used = use_part(job=elsewhere, part=world.part, count=1, by=world.technician, at=make.NOW)

    world.browser.post(world.at(f"jobs/{world.job.pk}/part/"), {"part": theirs.pk, "count": "1"})
    world.browser.post(world.at(f"jobs/{world.job.pk}/part/"), {"back": used.pk})

    theirs.refresh_from_db()
    assert (theirs.on_hand, list(PartUsed.objects.all())) == (5, [used])


def test_a_part_in_the_job_no_longer_holds_it_back(world):
    check = make.check(world.horn, world.technician, grade=3)
    make.finding(check, "string-broken", "r", job=world.job)
    Part.objects.update(on_hand=1)
    page = world.at(f"jobs/{world.job.pk}/")
    assert world.browser.get(page).context["missing"] == ()

    world.use(1)

    assert world.browser.get(page).context["missing"] == ()
    assert "no string left" not in world.browser.get(world.at("bench/")).content.decode()


def test_what_is_short_stands_on_the_list_to_order(world):
    make.part(world.school, name="cork", on_hand=9, minimum=3)
    world.use(2)

    page = world.browser.get(world.at("parts/"))

    [(_, wanting)] = page.context["wanting"]
    assert [(part.name, part.short) for part in wanting] == [("string", 2)]
    assert "order 2" in page.content.decode()


def test_a_part_is_added_counted_and_its_name_taken_once(world):
    form = {"name": "Cork", "on_hand": "4", "minimum": "2", "cost": "0.40", "mends": ["water-key-leaking"]}
    world.browser.post(world.at("parts/new/"), form)
    again = world.browser.post(world.at("parts/new/"), form | {"name": "cork"})

    made = Part.objects.get(name="Cork")
    assert (made.school, made.on_hand, made.mends) == (world.school, 4, ["water-key-leaking"])
    assert again.status_code == 422
    assert "There is already a part of this name." in again.content.decode()


def test_a_count_typed_over_pieces_used_meanwhile_is_asked_about(world):
    shown = world.browser.get(world.at(f"parts/{world.part.pk}/")).context["form"]["was"].value()
    world.use(1)
    form = {"name": "string", "on_hand": "7", "minimum": "2", "cost": "1.50", "mends": ["string-broken"], "was": shown}

    answer = world.browser.post(world.at(f"parts/{world.part.pk}/"), form)
    assert answer.status_code == 409
    assert "1 of string are on the shelf by now, not 2" in answer.context["refused"].sentence
    assert world.left() == 1
    world.browser.post(world.at(f"parts/{world.part.pk}/"), form | {"was": answer.context["form"]["was"].value()})

    assert world.left() == 7


def test_changing_only_the_least_number_keeps_what_was_used_meanwhile(world):
    part = Part.objects.get(pk=world.part.pk)
    world.use(1)
    part.minimum = 10

    save_part(part=part, was=2, by=world.technician, at=make.NOW)

    part.refresh_from_db()
    assert (part.on_hand, part.minimum) == (1, 10)


@pytest.mark.parametrize(
    ("moved", "asked"),
    [
        ({"name": "cord", "supplier": "Quill", "minimum": 5, "cost": 2}, False),
        ({"on_hand": 1}, True),
        ({"mends": []}, True),
        ({"mends": ["bell-dented", "string-broken"]}, True),
    ],
)
def test_jobs_that_want_a_part_are_asked_again_only_where_their_turns_hang_on_what_moved(world, moved, asked):
    part = Part.objects.get(pk=world.part.pk)
    for name, value in moved.items():
        setattr(part, name, value)

    with CaptureQueriesContext(connection) as queries:
        save_part(part=part, was=2, by=world.technician, at=make.NOW)

    assert any("workshop_repairjob" in one["sql"] for one in queries) == asked


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("cost", "-1", "A part cannot cost less than nothing."),
        ("on_hand", "-1", "There cannot be fewer than none."),
        ("minimum", "-1", "There cannot be fewer than none."),
        ("on_hand", "999999", "Nothing above 100000 is possible here."),
        ("cost", "99999999999", "Use at most 8 figures in all."),
        ("mends", ["wings"], "Choose from the list."),
        ("name", " ", "Please fill this in."),
    ],
)
def test_nonsense_in_a_part_is_answered_beside_its_field(world, field, value, sentence):
    form = {"name": "cork", "on_hand": "4", "minimum": "2", "cost": "0.40", field: value}

    answer = world.browser.post(world.at("parts/new/"), form)

    assert answer.status_code == 422
    assert sentence in str(answer.context["form"].errors[field])
    assert Part.objects.count() == 1


@pytest.mark.parametrize("count", [1, 3])
def test_the_stock_takes_the_same_queries_for_three_parts_as_for_one(world, count, django_assert_num_queries):
    for _ in range(count - 1):
        make.part(world.school)
    world.browser.get(world.at("parts/"))

    with django_assert_num_queries(4):
        world.browser.get(world.at("parts/"))


@pytest.mark.django_db(transaction=True)
def test_two_technicians_take_the_last_piece_and_one_of_them_gets_it():
    school = make.school()
    people = [make.staff(Role.TECHNICIAN, school) for _ in range(2)]
    jobs = [make.job(make.horn(school), person) for person in people]
    part = make.part(school, name="string", on_hand=1)
    start, answers = Barrier(2), []

    def take(job, person) -> None:
        start.wait()
        try:
            use_part(job=job, part=part, count=1, by=person, at=make.NOW)
            answers.append("used")
        except Refused as no:
            answers.append(no.sentence)
        finally:
            connection.close()

    threads = [Thread(target=take, args=pair) for pair in zip(jobs, people, strict=True)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    part.refresh_from_db()
    assert sorted(answers) == ["No string is left: 1 cannot be used.", "used"]
    assert (part.on_hand, PartUsed.objects.count()) == (0, 1)
