"""What was counted and measured at a fault, between bounds, and how it moved from check to check."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils.dateformat import format as dated

from fleet.ground.refusal import Refused
from fleet.workshop.actions.checking import Found, check_as_before, log_check
from fleet.workshop.models import ConditionCheck
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries.condition import open_findings, with_measured_before
from tests import make
from tests.pages import folded

DAY = timedelta(days=1)


@pytest.fixture
def world(world):
    class LookedOver(world):
        @classmethod
        def looked_over(cls, *found: Found, at=make.NOW) -> ConditionCheck:
            return log_check(horn=cls.horn, by=cls.technician, at=at, occasion="yearly", finish_grade=2, found=found)

    return LookedOver


def leaking(figure: str | None, *places: str) -> Found:
    return Found("rotor-leaking", "w", "", places, None, None if figure is None else Decimal(figure))


def sent(**more: str) -> dict[str, str]:
    ticked = {"found-branch-dented": "on", "found-rotor-leaking": "on"}
    return {"occasion": "yearly", "finish_grade": "2"} | ticked | more


def test_a_number_and_a_measurement_stand_with_the_finding_and_count_in_its_minutes(world):
    world.browser.post(
        world.address,
        sent(**{"number-branch-dented": "3", "measured-branch-dented": "12", "measured-rotor-leaking": "2.50"}),
    )

    found = {str(one): (one.number, one.count, one.minutes) for one in open_findings(world.horn)}
    assert found == {
        "branch dented (3 of them): 12 mm": (3, 3, 360),
        "rotor leaking (low compression): 2.5 s": (None, 1, None),
    }
    page = folded(world.browser.get(world.address))
    assert 'value="2.5"' in page
    assert 'How many<span class="visually-hidden">: branch dented</span>' in page


@pytest.mark.parametrize(("language", "shown"), [("", "2.5"), ("de", "2,5")])
def test_a_figure_may_have_a_comma_and_is_told_as_its_reader_writes_it(world, language, shown):
    world.school.staff_languages, world.technician.language = ["de"], language
    world.school.save()
    world.technician.save()

    world.browser.post(world.address, sent(**{"measured-rotor-leaking": "2,5"}))

    assert next(one.measured for one in open_findings(world.horn) if one.measured) == Decimal("2.5")
    page = folded(world.browser.get(world.address))
    assert (f'value="{shown}"' in page, f": {shown} s" in folded(world.browser.get(world.address[:-6]))) == (True, True)


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("number-branch-dented", "0", "There can be 1 to 30 of them."),
        ("number-branch-dented", "31", "There can be 1 to 30 of them."),
        ("number-branch-dented", "some", "There can be 1 to 30 of them."),
        ("measured-branch-dented", "0.9", "Give a figure between 1 and 200 mm"),
        ("measured-branch-dented", "200.1", "Give a figure between 1 and 200 mm"),
        ("measured-branch-dented", "-3", "Give a figure between 1 and 200 mm"),
        ("measured-branch-dented", "1e9", "Give a figure between 1 and 200 mm"),
        ("measured-branch-dented", "NaN", "Give a figure between 1 and 200 mm"),
        ("measured-branch-dented", "wide", "Give a figure between 1 and 200 mm"),
        ("measured-rotor-leaking", "1.234", "with at most two decimals"),
        ("measured-rotor-leaking", "1,234", "with at most two decimals"),
        ("measured-rotor-leaking", "1,2,3", "with at most two decimals"),
    ],
)
def test_a_figure_that_cannot_be_is_told_beside_its_field_and_what_was_typed_stays(world, field, typed, sentence):
    answer = world.browser.post(world.address, sent(**{field: typed, "note-branch-dented": "second branch"}))

    page = folded(answer)
    assert (answer.status_code, sentence in page) == (422, True)
    assert f'value="{typed}"' in page
    assert 'value="second branch"' in page
    assert not ConditionCheck.objects.exists()


@pytest.mark.parametrize("figure", ["1", "200"])
def test_the_bounds_themselves_are_taken(world, figure):
    world.browser.post(world.address, sent(**{"measured-branch-dented": figure}))

    assert open_findings(world.horn)[0].figure == f"{figure} mm"


@pytest.mark.parametrize(
    ("found", "sentence"),
    [
        (Found("bell-dented", "n", number=31), "There can be 1 to 30"),
        (Found("rotor-frozen", "x", number=2), "where they are counted at all"),
        (Found("bell-dented", "n", measured=Decimal(401)), "lies between 1 and 400 mm"),
        (Found("rotor-frozen", "x", measured=Decimal(1)), "is not asked for"),
    ],
)
def test_no_action_takes_what_the_catalogue_does_not(world, found, sentence):
    with pytest.raises(Refused, match=sentence):
        world.looked_over(found)


def test_a_figure_of_an_earlier_catalogue_is_said_again(world):
    before = world.looked_over(Found("bell-dented", "n"))
    before.findings.update(measured=Decimal(450))

    again = check_as_before(horn=world.horn, by=world.technician, at=make.NOW + DAY, occasion="other", seen=before.pk)

    assert again.findings.get().measured == 450
    page = world.browser.get(world.address)
    assert 'value="450"' in folded(page)


def test_history_tells_how_a_measurement_moved_at_the_same_valve_and_each_change_once(world):
    for day, found in enumerate([leaking("9", "1"), leaking("7", "1"), leaking("7", "1"), leaking("2", "3")]):
        world.looked_over(found, at=make.NOW + day * DAY)
    check = world.looked_over(leaking("4", "1"), Found("bell-dented", "n"), at=make.NOW + 9 * DAY)

    findings = list(check.findings.order_by("fault"))
    with_measured_before(world.horn, findings, until=check.at)

    told = [(one.figure, one.check_made.at) for one in findings[1].measured_before]
    assert told == [("7 s", make.NOW + DAY), ("9 s", make.NOW)]
    assert findings[0].measured_before == []
    for page in (f"checks/{check.pk}/", f"jobs/{make.job(world.horn, world.technician).pk}/"):
        check.findings.update(job=world.horn.jobs.first())
        answer = folded(world.browser.get(f"/s/{world.school.slug}/{page}"))
        assert f"Before: 7 s on {dated(make.NOW + DAY, 'j F Y')}, 9 s on {dated(make.NOW, 'j F Y')}" in answer


def test_nothing_is_asked_where_nothing_can_be_measured(world, django_assert_num_queries):
    check = world.looked_over(Found("rotor-frozen", "x"))
    findings = list(check.findings.all())

    with django_assert_num_queries(0):
        with_measured_before(world.horn, findings, until=make.NOW)


def test_each_measure_of_the_catalogue_asks_in_words_with_its_unit():
    asked = {fault.measure.asks for fault in catalogue().by_code.values() if fault.measure}

    assert {"Time until the air is gone, in s", "Width of the widest dent, in mm", "Pull that moves it, in N"} <= asked
