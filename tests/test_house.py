"""The house holds: how files lie, who asks whom, who alone writes. Read from the syntax trees, nothing runs."""

from __future__ import annotations

import ast
import re
from collections import Counter

import pytest
from django.apps import apps

from tests.conftest import WITHOUT_ROWS
from tests.house import ROOT, Module, circles, imports, modules, used_from_outside, writes, writing
from tests.writers import MAY_WRITE

LONGEST_FILE = 310
LONGEST_TEST = 500
FULLEST_FOLDER = 13
# Tests longer than they should be: cut one and its entry goes, none is added.
LONG_TESTS = {
    "tests/counting/test_count_pages.py",
    "tests/counting/test_counts.py",
    "tests/desk/test_forgetting.py",
    "tests/exchange/test_pages.py",
    "tests/exchange/test_pupil_and_loan_lists.py",
    "tests/identify/test_listening.py",
    "tests/identify/test_walk.py",
    "tests/letters/test_reminding.py",
    "tests/matching/test_matching.py",
    "tests/people/test_people.py",
    "tests/register/test_horn_list.py",
    "tests/register/test_identified.py",
    "tests/reports/test_loan_sheet.py",
    "tests/reports/test_prints.py",
    "tests/signing/test_batch.py",
    "tests/signing/test_signing.py",
    "tests/workshop/test_check_page.py",
    "tests/workshop/test_outside.py",
    "tests/workshop/test_pages.py",
}
# Two classes may share a name only where a framework finds them by it.
FOUND_BY_NAME = {"Command"}
# Actions that do not take both `by` and `at`, with the reason.
BY_A_MACHINE = "a run without a person"
OWN = "a person's own; the row keeps the day"
WITHOUT_BY_AND_AT = {
    "fleet.desk.actions.demo.load": BY_A_MACHINE,
    "fleet.desk.actions.tidying.keep_in_turn": BY_A_MACHINE,
    "fleet.desk.actions.tidying.tidy": BY_A_MACHINE,
    "fleet.exchange.actions.closing.close_school": BY_A_MACHINE,
    "fleet.exchange.actions.imports.begin_writing": "the import keeps who brought it in and when",
    "fleet.exchange.actions.imports.choose_header": "the import keeps who brought it in and when",
    "fleet.exchange.actions.imports.correct_cells": "the import keeps who brought it in and when",
    "fleet.exchange.actions.imports.discard": "the import keeps who brought it in and when",
    "fleet.exchange.actions.imports.look_over_next": "the import keeps who brought it in and when",
    "fleet.exchange.actions.imports.match_columns": "the import keeps who brought it in and when",
    "fleet.exchange.actions.imports.settle_names": "the import keeps who brought it in and when",
    "fleet.exchange.actions.measuring.measure_tables": BY_A_MACHINE,
    "fleet.exchange.actions.old_lists.forget_old": BY_A_MACHINE,
    "fleet.exchange.actions.school_in.import_school": BY_A_MACHINE,
    "fleet.exchange.actions.site_in.restore": BY_A_MACHINE,
    "fleet.exchange.actions.site_recorded.record_backup": BY_A_MACHINE,
    "fleet.exchange.actions.site_recorded.record_restored": BY_A_MACHINE,
    "fleet.letters.actions.bounces.take": BY_A_MACHINE,
    "fleet.letters.actions.calendar.make_key": OWN,
    "fleet.letters.actions.calendar.note_read": BY_A_MACHINE,
    "fleet.letters.actions.calendar.revoke": OWN,
    "fleet.letters.actions.reminding.remind": BY_A_MACHINE,
    "fleet.mail.actions.posting.post": BY_A_MACHINE,
    "fleet.mail.actions.posting.post_soon": BY_A_MACHINE,
    "fleet.people.actions.accounts.begin_school": BY_A_MACHINE,
    "fleet.people.actions.accounts.second_step_off": BY_A_MACHINE,
    "fleet.record.actions.emptying.empty_old": BY_A_MACHINE,
    "fleet.record.actions.sealing.seal": BY_A_MACHINE,
    "fleet.record.actions.sealing.seal_all": BY_A_MACHINE,
    "fleet.workshop.actions.unsaved_pictures.forget": "files that wait for a check, no rows",
    "fleet.workshop.actions.unsaved_pictures.keep": "files that wait for a check, no rows",
}
# Actions that take something by its place in the call, with the reason.
BY_PLACE = {
    "fleet.workshop.actions.unsaved_pictures.forget": "files that wait for a check, no rows",
    "fleet.workshop.actions.unsaved_pictures.keep": "files that wait for a check, no rows",
}
# Loaded only by who needs it: a site that starts would wait for it.
LATE = {"authlib", "icalendar", "scipy", "verovio"}


def product() -> list[Module]:
    return [module for module in modules().values() if not module.is_migration]


@pytest.fixture(scope="module")
def related() -> set[str]:
    """The names of all relations to many rows."""
    fields = [field for model in apps.get_models() for field in model._meta.get_fields()]
    many = [field for field in fields if field.one_to_many or field.many_to_many]
    return {field.get_accessor_name() or "" if field.auto_created else field.name for field in many} - {""}


def test_no_files_import_each_other_in_a_circle():
    assert circles(imports()) == []


def test_a_circle_is_found_over_several_files():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a", "d"}, "d": set()}) == [["a", "b", "c"]]


def test_no_folder_holds_more_than_thirteen_modules():
    folders = Counter(module.path.rpartition("/")[0] for module in product() if not module.path.endswith("__init__.py"))

    assert {folder: many for folder, many in folders.items() if many > FULLEST_FOLDER} == {}


def test_no_file_of_the_product_is_longer_than_310_lines():
    assert [module.path for module in product() if module.lines > LONGEST_FILE] == []


def test_tests_keep_to_310_lines_but_for_those_that_wait_to_be_cut():
    lengths = {
        path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8").count("\n")
        for path in (ROOT / "tests").rglob("*.py")
    }

    assert {path for path, long in lengths.items() if long > LONGEST_FILE} == LONG_TESTS
    assert max(lengths.values()) <= LONGEST_TEST


def test_no_name_of_a_class_stands_twice():
    names = Counter(node.name for module in product() for node in module.tree.body if isinstance(node, ast.ClassDef))

    assert {name for name, many in names.items() if many > 1} == FOUND_BY_NAME


def test_only_actions_write(related):
    found = {
        (module.path, _said(node))
        for module in product()
        if module.layer != "actions"
        for node, _ in writes(module.tree, related)
    }

    assert found == set(MAY_WRITE)


def _said(node: ast.expr) -> str:
    """`form.save` of `form.save()`; of a longer chain its last word."""
    said = ast.unparse(node.func if isinstance(node, ast.Call) else node)
    return said if said.replace(".", "").isidentifier() else said.rpartition(".")[2]


@pytest.mark.parametrize(
    "words",
    [
        "Horn.objects.create(number='1')",
        "Horn.objects.at(school).update(**fields)",
        "older.update(state='dropped')",
        "horn.save(update_fields=['grade'])",
        "form.save()",
        "letter.delete()",
        "pupil.guardians.add(guardian)",
        "school.horns.select_for_update()",
        "User.objects.create_user(email='')",
        "with transaction.atomic(): pass",
        "@transaction.atomic\ndef f(): pass",
    ],
)
def test_a_write_is_known_by_its_word(words):
    assert len(list(writes(ast.parse(words), {"guardians"}))) == 1


@pytest.mark.parametrize(
    "words",
    [
        "super().save(*args)",
        "form.save(commit=False)",
        "seen.add(1)",
        "self.seen.add(1)",
        "counts.update(other)",
        "field.widget.attrs.update({'a': 1})",
        "Horn.objects.filter(pk=1).first()",
    ],
)
def test_what_writes_no_row_is_let_alone(words):
    assert list(writes(ast.parse(words), {"guardians"})) == []


@pytest.fixture(scope="module")
def acts(related: set[str]) -> dict[str, ast.arguments]:
    """What each action that is called from outside the actions takes."""
    used = used_from_outside()
    return {
        f"{module.name}.{function.name}": function.args
        for module in product()
        if module.layer == "actions"
        for function in writing(module, related)
        if (module.name, function.name) in used
    }


def test_actions_are_told_everything_by_name(acts):
    assert {name for name, takes in acts.items() if takes.posonlyargs or takes.args} == set(BY_PLACE)


def test_actions_are_told_who_and_when(acts):
    without = {name for name, takes in acts.items() if not {"by", "at"} <= {one.arg for one in takes.kwonlyargs}}

    assert without == set(WITHOUT_BY_AND_AT)


@pytest.mark.parametrize("name", sorted(LATE))
def test_what_is_slow_to_load_is_imported_inside_functions(name):
    at_the_top = {
        module.path
        for module in product()
        for node in module.tree.body
        if (isinstance(node, ast.Import) and any(alias.name.split(".")[0] == name for alias in node.names))
        or (isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == name)
    }

    assert at_the_top == set()


def test_only_addresses_take_whole_modules_of_pages():
    """They come late, with pages alone: a constant would not be one."""
    taken = {
        (module.path, f"{node.module}.{alias.name}")
        for module in modules().values()
        for node in ast.walk(module.tree)
        if isinstance(node, ast.ImportFrom) and re.fullmatch(r"fleet\.\w+\.pages(\.family)?", node.module or "")
        for alias in node.names
    }

    assert len(taken) > 20
    assert {at for at, _ in taken if not at.endswith("urls.py")} == set()


def test_a_module_of_pages_that_is_not_there_is_missed_where_addresses_are_read():
    with pytest.raises(ImportError, match="cannot import name 'scores'"):
        from fleet.reports.pages import scores  # type: ignore[attr-defined]  # noqa: F401


def test_the_folders_that_only_one_engine_reads_touch_no_database():
    asked = re.compile(r"django_db|\bdb\b|live_server|built_once|as_\(")
    tests = [path for folder in WITHOUT_ROWS for path in folder.rglob("test_*.py")]

    assert len(tests) > 20
    assert [path.name for path in tests if asked.search(path.read_text(encoding="utf-8"))] == []


def test_each_slice_writes_down_under_its_own_name():
    named = {
        (module.name, ast.unparse(node.args[0]).strip("'"))
        for module in product()
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Call) and ast.unparse(node.func) in {"logging.getLogger", "getLogger"}
    }

    assert named
    # What stands beside the slices writes under the name of the whole.
    slices = {one.name.removesuffix(".apps") for one in product() if one.name.endswith(".apps")}
    wrong = [
        (at, said)
        for at, said in named
        if said != (next((s for s in slices if at.startswith(f"{s}.") and s != "fleet"), "fleet"))
    ]
    assert wrong == []
