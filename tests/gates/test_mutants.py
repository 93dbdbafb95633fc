"""Which tests a fault is tried with."""

from __future__ import annotations

from coverage import CoverageData

from tests.gates import mutants
from tests.gates.measuring import ROOT

MODULE = ROOT / "fleet" / "desk" / "forms.py"
FAR, NEAR, WIDE, OTHER = (
    "tests/test_a.py::a",
    "tests/desk/test_b.py::b",
    "tests/desk/test_c.py::c",
    "tests/test_d.py::d",
)


def known() -> CoverageData:
    data = CoverageData(no_disk=True)
    for test, lines in ((FAR, [7]), (WIDE, [3, 4, 5, 7]), (NEAR, [3, 7, 8]), (OTHER, [3, 4])):
        data.set_context(test)
        data.add_lines({str(MODULE): lines})
    return data


def test_a_fault_is_tried_with_the_slices_own_tests_of_its_line_then_with_others_of_the_module():
    assert mutants.tests_for(MODULE, 7, known(), {}, 60) == (NEAR, WIDE, FAR, OTHER)


def test_each_file_of_tests_has_its_turn_before_one_has_a_second():
    data, again = known(), "tests/desk/test_b.py::again"
    data.set_context(again)
    data.add_lines({str(MODULE): [3, 7, 8, 9]})

    assert mutants.tests_for(MODULE, 7, data, {}, 60) == (NEAR, WIDE, FAR, again, OTHER)


def test_no_more_are_tried_than_there_is_time_for_but_one_always_is():
    assert mutants.tests_for(MODULE, 7, known(), {NEAR: 40, WIDE: 20, FAR: 1}, 60) == (NEAR, WIDE)
    assert mutants.tests_for(MODULE, 7, known(), {NEAR: 70}, 60) == (NEAR,)


def test_a_line_that_runs_on_import_is_tried_with_the_tests_that_know_the_module_best():
    assert mutants.tests_for(MODULE, 1, known(), {}, 60) == (WIDE, NEAR, OTHER, FAR, *mutants.ALWAYS)


def test_a_line_of_a_module_that_no_test_runs_is_tried_with_those_of_its_neighbours_and_of_the_migrations():
    beside, elsewhere = MODULE.with_name("urls.py"), ROOT / "fleet" / "record" / "urls.py"

    assert mutants.tests_for(beside, 1, known(), {}, 60) == (WIDE, NEAR, OTHER, FAR, *mutants.ALWAYS)
    assert mutants.tests_for(elsewhere, 1, known(), {}, 60) == mutants.ALWAYS


def test_settings_are_tried_with_the_tests_that_start_the_site_apart():
    assert mutants.tests_for(ROOT / "fleet" / "settings.py", 1, known(), {}, 60)[-1] == "tests/test_settings.py"
