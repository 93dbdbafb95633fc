"""Care that is due by the days in Settings, noted for many horns at once."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.register.models import Horn
from fleet.workshop.actions.care import care_for
from fleet.workshop.models import Care
from fleet.workshop.models.care import Kind
from fleet.workshop.queries.care import care_due, care_of, first_due
from fleet.workshop.queries.told import STORY
from tests import make
from tests.pages import folded
from tests.reading import story_of

TODAY = make.TODAY


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school(oil_days=30, clean_days=60, service_days=365, exercise_days=0)
        teacher = make.staff(Role.TEACHER, school)
        browser = as_(teacher)
        address = f"/s/{school.slug}/care/"

        @classmethod
        def cared(cls, horn, days_ago: int) -> None:
            for kind in (Kind.OIL, Kind.CLEAN, Kind.SERVICE):
                make.care(horn, cls.teacher, kind, TODAY - timedelta(days=days_ago))

    return World


def waiting(world) -> dict[str, list[int]]:
    return {kind.value: [one.horn.pk for one in some] for kind, some in care_due(world.school, TODAY).items()}


def test_care_is_due_when_its_days_are_over_and_the_longest_overdue_comes_first(world):
    late, just, fresh, never = (make.horn(world.school) for _ in range(4))
    for horn, days in ((late, 45), (just, 30), (fresh, 29)):
        world.cared(horn, days)

    assert waiting(world) == {"oil": [never.pk, late.pk, just.pk], "clean": [never.pk], "service": [never.pk]}


def test_only_horns_that_are_here_are_cared_for(world):
    out, away, here = (make.horn(world.school, place=make.place(world.school)) for _ in range(3))
    make.loan(out, make.pupil(world.school), world.teacher)
    make.job(away, world.teacher, state="away", repairer="Bell and Sons")

    assert waiting(world) == {"oil": [here.pk], "clean": [here.pk], "service": [here.pk]}


def test_a_horn_that_nobody_has_identified_is_cleaned_and_not_oiled(world):
    unknown = make.horn(world.school, build="", stands_in="")

    assert waiting(world) == {"oil": [], "clean": [unknown.pk], "service": [unknown.pk]}


def test_a_record_is_taken_back_on_the_page_of_its_horn(world):
    horn, theirs = make.horn(world.school), make.horn(make.school())
    world.cared(horn, 3)
    world.cared(theirs, 3)
    page = f"/s/{world.school.slug}/horns/{horn.pk}/care/"
    oil = horn.care.get(kind="oil")
    assert 'aria-label="Take back: oiling on' in folded(world.browser.get(page))

    for care in (oil, theirs.care.get(kind="oil")):
        assert world.browser.post(f"{world.address}back/", {"care": care.pk, "next": page}).url == page

    assert (horn.care.count(), theirs.care.count()) == (2, 3)


def test_all_of_a_kind_that_somebody_noted_today_are_taken_back_at_once(world):
    horns = [make.horn(world.school) for _ in range(2)]
    today = {"school": world.school, "at": timezone.now()}
    care_for(horns=[horn.pk for horn in horns], kind=Kind.OIL, by=world.teacher, **today)
    care_for(horns=[horns[0].pk], kind=Kind.CLEAN, by=make.staff(Role.TEACHER, world.school), **today)
    make.care(horns[0], world.teacher, "oil", timezone.localdate() - timedelta(days=1))
    assert "you noted it today for 2 horns" in folded(world.browser.get(world.address))

    answer = world.browser.post(f"{world.address}back/", {"care": "oil"}, follow=True)

    assert "Taken back: 2." in folded(answer)
    assert Care.objects.count() == 2


@pytest.mark.parametrize("care", ["", "wax", "-1", "1" * 19])
def test_nonsense_takes_nothing_back(world, care):
    world.cared(make.horn(world.school), 3)

    world.browser.post(f"{world.address}back/", {"care": care})

    assert Care.objects.count() == 3


def test_a_horn_without_valves_needs_no_oil_and_withdrawn_or_foreign_ones_nothing(world):
    natural = make.horn(world.school, build="natural-horn", stands_in="")
    make.horn(world.school, withdrawn_on=TODAY)
    make.horn(make.school())

    assert waiting(world) == {"oil": [], "clean": [natural.pk], "service": [natural.pk]}


def test_many_are_noted_at_once_and_a_second_tap_on_the_same_day_adds_nothing(world):
    horns = [make.horn(world.school) for _ in range(3)]
    ids = [horn.pk for horn in horns]

    answer = world.browser.post(world.address, {"kind": "oil", "horns": ids[:2]}, follow=True)
    for _ in range(2):
        care_for(horns=ids[:2], kind=Kind.OIL, school=world.school, by=world.teacher, at=make.NOW)
    care_for(horns=ids[:2], kind=Kind.OIL, school=world.school, by=world.teacher, at=make.NOW)

    assert "Oiling noted for 2 horns." in answer.content.decode()
    assert Care.objects.filter(on=TODAY).count() == 2
    assert [told.sentence for told in story_of(horns[0], STORY).told()][-1] == "Oiling done."


def test_a_horn_of_another_school_and_a_withdrawn_one_are_left_out(world):
    theirs, gone = make.horn(make.school()), make.horn(world.school, withdrawn_on=TODAY)
    mine = make.horn(world.school)

    count = care_for(
        horns=[theirs.pk, gone.pk, mine.pk], kind=Kind.CLEAN, school=world.school, by=world.teacher, at=make.NOW
    )

    assert (count, Care.objects.get().horn) == (1, mine)


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"kind": "oil"}, "Tick the horns that were cared for."),
        ({"kind": "polish", "horns": ["0"]}, "Choose one from the list."),
        ({"kind": "oil", "horns": ["999999"]}, "One of these is not due any more"),
        ({"kind": "oil", "horns": ["x"]}, "One of these is not due any more"),
    ],
)
def test_nonsense_is_answered_and_nothing_noted(world, sent, sentence):
    make.horn(world.school)

    answer = world.browser.post(world.address, sent)

    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not Care.objects.exists()


def test_the_cautions_stand_where_the_work_is_done(world):
    make.horn(world.school)

    page = world.browser.get(world.address).content.decode()

    # Hazard statement H304, Regulation (EC) No 1272/2008.
    assert "Light valve oil may be fatal if swallowed and enters airways (H304)" in page
    assert "Lukewarm water, never hot." in page


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_takes_the_same_queries_for_three_horns_as_for_one(world, count, django_assert_num_queries):
    for _ in range(count):
        world.cared(make.horn(world.school, place=make.place(world.school)), 400)
    world.browser.get(world.address)

    with django_assert_num_queries(7):
        world.browser.get(world.address)


def test_a_link_ticks_all_of_one_kind_and_no_other(world):
    for _ in range(2):
        make.horn(world.school)

    ticked = re.compile(r"\schecked\s*>")
    assert not ticked.findall(world.browser.get(world.address).content.decode())
    page = world.browser.get(world.address, {"tick": "oil"}).content.decode()

    oil, _, rest = page.partition('id="clean"')
    assert (len(ticked.findall(oil)), len(ticked.findall(rest))) == (2, 0)
    assert "Tick none" in oil


@pytest.mark.parametrize(("horns", "asked", "folds"), [(12, "", 0), (13, "", 3), (13, "?tick=oil", 2)])
def test_a_long_list_is_folded_until_its_horns_are_ticked(world, horns, asked, folds):
    for _ in range(horns):
        make.horn(world.school)

    shown = folded(world.browser.get(world.address + asked))

    assert shown.count('<details class="fold" open>') == 3 - folds
    assert shown.count(f"<summary> No place yet: {horns} horns </summary>") == 3


def test_what_was_ticked_stays_so_when_one_of_the_horns_was_noted_meanwhile(world):
    first, second = make.horn(world.school), make.horn(world.school)
    care_for(horns=[first.pk], kind=Kind.OIL, school=world.school, by=world.teacher, at=timezone.now())

    page = folded(world.browser.post(world.address, {"kind": "oil", "horns": [first.pk, second.pk]}))

    assert "One of these is not due any more" in page
    assert f'value="{second.pk}" checked' in page


def test_a_horns_own_page_says_how_its_care_stands_and_notes_it_on_the_day_it_was_done(world):
    horn = make.horn(world.school)
    world.cared(make.horn(world.school), 3)
    page = f"/s/{world.school.slug}/horns/{horn.pk}/care/"
    done = timezone.localdate() - timedelta(days=40)

    answer = world.browser.post(page, {"kind": "oil", "on": done.isoformat()}, follow=True).content.decode()

    assert f"Oiling noted for {horn}." in answer
    assert list(horn.care.values_list("kind", "on", "by")) == [("oil", done, world.teacher.pk)]
    stands, _ = care_of(horn, done + timedelta(days=29))
    assert [(one.kind, one.is_due) for one in stands] == [("oil", False), ("clean", True), ("service", True)]
    stands, _ = care_of(horn, done + timedelta(days=30))
    assert stands[0].is_due


def test_the_family_who_has_a_horn_does_all_but_its_service_and_a_natural_horn_wants_no_oil(world):
    horn = make.horn(world.school)
    make.loan(horn, make.pupil(world.school), world.teacher)
    stands, _ = care_of(horn, TODAY)
    assert [(one.kind, one.by_family, one.is_due) for one in stands] == [
        ("oil", True, False),
        ("clean", True, False),
        ("service", False, True),
    ]

    stands, _ = care_of(make.horn(world.school, build="natural-horn", stands_in=""), TODAY)
    assert [one.kind for one in stands] == ["clean", "service"]


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"kind": "", "on": "2026-01-01"}, "Say what was done."),
        ({"kind": "wax", "on": "2026-01-01"}, "Choose one from the list."),
        ({"kind": "oil", "on": "2999-01-01"}, "This day is still to come."),
        ({"kind": "oil", "on": "0001-01-01"}, "more than ten years ago"),
        ({"kind": "oil", "on": "yesterday"}, "Write the day like 2027-06-30."),
    ],
)
def test_nonsense_about_one_horns_care_is_answered_beside_its_field_and_nothing_noted(world, sent, sentence):
    horn = make.horn(world.school)

    answer = world.browser.post(f"/s/{world.school.slug}/horns/{horn.pk}/care/", sent)

    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not horn.care.exists()


def test_a_withdrawn_horn_is_not_cared_for(world):
    horn = make.horn(world.school, withdrawn_on=TODAY)
    page = f"/s/{world.school.slug}/horns/{horn.pk}/care/"

    assert ">Save<" not in world.browser.get(page).content.decode()
    sent = {"kind": "oil", "on": timezone.localdate().isoformat()}
    assert f"{horn} is withdrawn." in world.browser.post(page, sent, follow=True).content.decode()
    assert not horn.care.exists()


def test_one_press_notes_care_for_all_horns_of_a_place(world):
    shelf, other = make.place(world.school), make.place(world.school)
    here, there, elsewhere = (make.horn(world.school, place=place) for place in (shelf, shelf, other))
    shown = folded(world.browser.get(world.address))
    assert f'name="these" value="{here.pk},{there.pk}"' in shown

    world.browser.post(world.address, {"kind": "oil", "these": f"{here.pk},{there.pk}"})

    assert waiting(world)["oil"] == [elsewhere.pk]
    for typed in ("", "x", f"{here.pk}", f"{elsewhere.pk},", "9" * 30, "1," * 300_000):
        assert world.browser.post(world.address, {"kind": "oil", "these": typed}).status_code == 422, typed
    assert waiting(world)["oil"] == [elsewhere.pk]


def test_today_and_the_list_of_care_name_the_same_horns(world):
    make.horn(world.school, holder_name="Bo", on_bench=True)
    make.horn(world.school, holder_name="Bo")
    make.horn(world.school, on_bench=True, repairer="Bell and Sons")
    make.horn(world.school, build="", on_bench=True)

    listed = {(one.horn, kind) for kind, some in care_due(world.school, TODAY).items() for one in some}

    assert {(one.horn, one.kind) for one in first_due(world.school, TODAY, 50)} == listed
    assert len(listed) == 5


@pytest.mark.parametrize(("many", "more"), [(50, ""), (51, "And 1 more after these.")])
def test_fifty_horns_of_a_kind_are_drawn_however_many_want_it(world, many, more):
    Horn.objects.bulk_create(Horn(school=world.school, number=f"HX-{n}", label_code=f"X{n}") for n in range(many))

    shown = folded(world.browser.get(world.address))

    assert shown.count('name="horns"') == 2 * 50
    assert shown.count("And 1 more after these.") == (2 if more else 0)
