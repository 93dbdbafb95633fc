"""Where a finding is: at which of the horn's valves or slides."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.ground.refusal import Refused
from fleet.register.models import Horn
from fleet.workshop.actions.checking import Found, check_as_before, log_check
from fleet.workshop.forms.checks import CheckForm
from fleet.workshop.models import ConditionCheck, Finding, Part
from fleet.workshop.models.fitted import fitted, in_words, places
from fleet.workshop.queries.condition import open_findings
from fleet.workshop.queries.in_turn import turns
from identify.core.horns.catalogue import catalogue as builds
from tests import make
from tests.pages import folded

LATER = make.NOW + timedelta(days=3)


def looked_over(world, *found: Found, at=make.NOW) -> ConditionCheck:
    return log_check(horn=world.horn, by=world.technician, at=at, occasion="yearly", finish_grade=2, found=found)


def ticked(fault: str, **more: object) -> dict[str, object]:
    return {"occasion": "yearly", "finish_grade": "2", f"found-{fault}": "on", **more}


@pytest.mark.parametrize(
    ("build", "valves", "slides"),
    [
        ("single-f", ("1", "2", "3"), ("1", "2", "3", "tuning")),
        ("double-full", ("1", "2", "3", "change"), ("1", "2", "3", "tuning")),
        ("triple-full", ("1", "2", "3", "change", "change-2", "stopping"), ("1", "2", "3", "tuning")),
        ("", ("1", "2", "3", "4", "change", "change-2", "stopping"), ("1", "2", "3", "4", "tuning")),
    ],
)
def test_a_fault_may_be_at_the_valves_and_slides_that_the_horn_has(build, valves, slides):
    horn = Horn(build=build)

    assert places("valves", horn) == valves
    assert places("slides", horn) == slides
    assert places("", horn) == ()


def test_a_horn_with_a_stopping_valve_is_asked_for_it_and_no_other():
    stopping = {code for code in builds() if "stopping" in places("valves", Horn(build=code))}

    assert stopping == {code for code in builds() if "stopping" in (fitted(Horn(build=code)) or ())}


@pytest.mark.parametrize(
    ("at", "found", "words"),
    [
        ("valves", [], ""),
        ("valves", ["2"], "2nd valve"),
        ("valves", ["1", "3"], "1st and 3rd valve"),
        ("slides", ["1", "2", "tuning"], "1st, 2nd and tuning slide"),
        ("valves", ["change-2"], "2nd change valve"),
        ("", ["rim"], "rim"),
    ],
)
def test_places_are_said_in_words(at, found, words):
    assert in_words(at, found) == words


def test_the_form_asks_for_the_places_of_this_horn_and_for_those_said_before():
    known = Finding(fault="rotor-sluggish", severity="r", places=["1", "4"])

    form = CheckForm({}, horn=Horn(build="single-f"), known=[known])

    assert [code for code, _ in form.fields["at-rotor-sluggish"].choices] == ["1", "2", "3", "4"]
    assert form.fields["at-rotor-sluggish"].initial == ["1", "4"]
    assert [words for _, words in form.fields["at-string-broken"].choices] == ["1st", "2nd", "3rd"]
    assert "at-bell-dented" not in form.fields


def test_a_finding_says_at_which_valves_it_is_and_counts_for_each(world):
    looked_over(world, Found("string-broken", "r", places=("1", "3")), Found("bell-dented", "n"))

    found = {str(one): (one.count, one.minutes) for one in open_findings(world.horn)}
    assert found == {"string broken (1st and 3rd valve)": (2, 30), "bell dented": (1, 60)}


def test_a_place_the_horn_does_not_have_is_refused_unless_it_was_said_before(world):
    Horn.objects.filter(pk=world.horn.pk).update(build="double-full")
    before = looked_over(world, Found("string-broken", "r", places=("change", "3")))

    Horn.objects.filter(pk=world.horn.pk).update(build="single-f")
    again = check_as_before(horn=world.horn, by=world.technician, at=LATER, occasion="other", seen=before.pk)

    assert [one.places for one in again.findings.all()] == [["change", "3"]]
    for wrong in (Found("string-broken", "r", places=("stopping",)), Found("bell-dented", "n", places=("1",))):
        with pytest.raises(Refused, match="has no such place for"):
            looked_over(world, wrong, at=LATER)


def test_the_valves_that_are_ticked_stand_with_the_finding_on_the_page_and_the_ticket(world):
    sent = ticked("string-broken", **{"at-string-broken": ["2", "3"], "at-rotor-sluggish": ["1"]})

    page = world.browser.post(world.address, sent, follow=True)

    [finding] = ConditionCheck.objects.get().findings.all()
    assert (finding.fault, finding.places) == ("string-broken", ["2", "3"])
    assert "string broken (2nd and 3rd valve)" in folded(page)
    form = world.browser.get(world.address).content.decode()
    assert form.count('name="at-string-broken"') == 4


def test_a_place_that_nobody_could_tick_is_told_at_its_fault(world):
    answer = world.browser.post(world.address, ticked("string-broken", **{"at-string-broken": ["9"]}))

    assert answer.status_code == 422
    assert "This horn has no such place." in folded(answer)
    assert not ConditionCheck.objects.exists()


def test_three_strings_take_three_times_the_minutes_and_three_strings_of_the_stock(world):
    string = Part.objects.create(school=world.school, name="String", mends=["string-broken"], on_hand=2)
    looked_over(world, Found("string-broken", "r", places=("1", "2", "3")))

    [turn] = turns(world.school, make.NOW.date())
    assert (turn.minutes, turn.wants, turn.missing) == (45, ((string, 3),), ("String",))
    job = world.horn.jobs.get()
    page = folded(world.browser.get(f"/s/{world.school.slug}/jobs/{job.pk}/"))
    assert "string broken (1st, 2nd and 3rd valve)" in page
    assert "45 min" in page
