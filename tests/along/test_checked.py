"""What each horn is checked for is kept with it: the same as its own page asks, and nothing of who noted what."""

from __future__ import annotations

import json

import pytest

from fleet.along.queries.checked import Asked, checked_for
from fleet.ground.access import Role
from fleet.register.models import Horn
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.forms.checks import CheckForm
from identify.core.horns.catalogue import catalogue as builds
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


@pytest.mark.parametrize("build", ["", *builds()])
@pytest.mark.parametrize("bell", ["", "screw", "fixed"])
def test_a_horn_is_asked_on_the_phone_what_its_own_page_asks(build, bell):
    horn, asked = Horn(build=build, bell=bell), Asked()

    asks = asked.lists[asked.of(horn)]

    form = CheckForm({}, horn=horn)
    assert asks["faults"] == list(form.asked)
    for at in ("valves", "slides"):
        on_page = [form.fields[f"at-{code}"] for code, fault in form.asked.items() if fault.at == at]
        assert all([place for place, _ in field.choices] == asks[at] for field in on_page)


def test_of_each_fault_is_kept_what_the_page_says_of_it():
    told = checked_for()

    faults = {one["code"]: one for part in told["parts"] for one in part["faults"]}
    form = CheckForm({}, horn=Horn(build=""))
    assert list(faults) == list(form.asked)
    for code, fault in form.asked.items():
        kept = faults[code]
        assert (kept["words"], kept["severity"], kept["do"]) == (fault.words, fault.severity, fault.do)
        assert kept.get("counts", False) == fault.counts
        assert (f"measured-{code}" in form.fields) == ("measure" in kept)
    assert told["weighs"] == {"n": 1, "w": 2, "r": 3, "x": 4}


def test_what_was_found_is_kept_without_its_note(as_):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    horn = make.horn(school, build="double-full", stands_in="F")
    found = [Found("rotor-leaking", "w", "note Secret", ("1", "3"))]
    log_check(horn=horn, by=teacher, at=make.NOW, occasion="other", finish_grade=2, found=found, notes="words Secret")

    kept = as_(teacher).get(f"/s/{school.slug}/along/kept.json").json()

    assert kept["horns"][0]["found"] == [["rotor-leaking", "w", ["1", "3"], None, None]]
    assert "Secret" not in json.dumps(kept)
