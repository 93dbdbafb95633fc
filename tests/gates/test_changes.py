"""The tool that tries the tests: which faults it finds in a module, and that each is one."""

from __future__ import annotations

import ast

import pytest

from tests.gates.changes import changes
from tests.gates.mutants import chosen


def made(source: str, kind: str) -> set[str]:
    return {one.made_in(source.encode()).decode() for one in changes(source.encode()) if one.kind == kind}


@pytest.mark.parametrize(
    ("kind", "source", "wanted"),
    [
        ("comparison", "a < b", {"(a <= b)", "(a >= b)"}),
        ("comparison", "'♭' == b", {"('♭' != b)"}),
        ("comparison", "a is None", {"(a is not None)"}),
        ("number", "x = 3", {"x = 4", "x = 2"}),
        ("number", "x = 0", {"x = 1"}),
        ("yes for no", "x = True", {"x = False"}),
        ("and for or", "a and b", {"(a or b)"}),
        ("not removed", "not a", {"(a)"}),
        ("one removed", "a + 1", {"(a)"}),
        ("argument dropped", "q.filter(a=x, b=y)", {"q.filter(b=y)", "q.filter(a=x)"}),
        ("argument dropped", "d.get('a')", set()),
        (
            "early end removed",
            "def f():\n    if a:\n        return b\n    return c",
            {"def f():\n    if a:\n        pass\n    return c"},
        ),
        ("early end removed", "def f():\n    if a:\n        return b", set()),
        ("number", "x: Literal[1] = y", set()),
        ("yes for no", "@dataclass(frozen=True)\nclass A: ...", set()),
        ("number", 'f"{3}"', set()),
        ("yes for no", "q.select_for_update(no_key=True, of=(True,)), zip(a, b, strict=True)", set()),
        ("yes for no", "q.select_for_update(nowait=True)", {"q.select_for_update(nowait=False)"}),
        ("number", "x = '♭♭' + f(\n    2)", {"x = '♭♭' + f(\n    3)", "x = '♭♭' + f(\n    1)"}),
    ],
)
def test_a_fault_stands_where_it_should(kind, source, wanted):
    assert made(source, kind) == wanted


def test_every_fault_that_is_chosen_is_python_and_says_something_else():
    faults = chosen(300, seed=7, only="fleet/register")
    assert len(faults) == 300
    sound = {path: ast.dump(ast.parse(path.read_bytes())) for path, _ in faults}
    for path, change in faults:
        assert ast.dump(ast.parse(change.made_in(path.read_bytes()))) != sound[path]


def test_the_same_seed_chooses_the_same_faults_and_another_one_others():
    first = chosen(30, seed=1, only="fleet/counting")
    assert first == chosen(30, seed=1, only="fleet/counting")
    assert first != chosen(30, seed=2, only="fleet/counting")
