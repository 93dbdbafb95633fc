"""DEVELOPERS.md stays short, and speaks only of what there is."""

from __future__ import annotations

import ast
import re

import pytest
from django.core.management import get_commands

import start
from tests.bench.__main__ import BENCHES
from tests.house import ROOT, modules

LONGEST = 250
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
# Paths begin at the top; what stands in a tree or ends in an ellipsis is no path.
PATHS = sorted(set(re.findall(r"`((?:fleet|identify|tests|templates|fixtures)/[\w./-]*\w/?)`", GUIDE)))
READ = ("README.md", "CONTRIBUTING.md", "SECURITY.md", "DEVELOPERS.md", "BENCHMARKS.md", "SCALE.md", "CHANGELOG.md")
CODE = re.compile(r"```.*?```|`[^`]*`", re.DOTALL)
CALLED = re.compile(r"\b(make|start\.py|manage\.py) ([a-z][\w-]*\w)(?![\w…-])")


def targets() -> set[str]:
    """What make can be asked for."""
    return set((ROOT / "Makefile").read_text(encoding="utf-8").split(".PHONY:")[1].split("\n")[0].split())


def called() -> set[tuple[str, str, str]]:
    """File, tool and word of every command that stands as code in the files people read first."""
    found = set()
    for name in READ:
        for code in CODE.findall((ROOT / name).read_text(encoding="utf-8")):
            found |= {(name, tool, word) for tool, word in CALLED.findall(code)}
    return found


def test_the_guide_has_at_most_250_lines():
    assert GUIDE.count("\n") <= LONGEST


def test_the_guide_names_files_at_all():
    assert len(PATHS) > 30


@pytest.mark.parametrize("path", PATHS)
def test_what_the_guide_names_is_there(path: str):
    assert (ROOT / path).exists()


def test_what_the_guide_calls_by_a_dotted_name_is_there():
    dotted = re.findall(r"`((?:fleet|identify)(?:\.\w+)+)`", GUIDE)

    assert [name for name in dotted if name not in modules() and name.rpartition(".")[0] not in modules()] == []


def test_what_the_guide_calls_by_its_name_in_the_code_has_that_name():
    called_so = re.findall(r"`([A-Z]\w*[a-z]\w*(?:\.\w+)*)(?:\([^`]*\))?`", GUIDE)
    trees = [node for module in modules().values() for node in ast.walk(module.tree)]
    known = {node.name for node in trees if isinstance(node, ast.ClassDef | ast.FunctionDef)}
    known |= {node.id for node in trees if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}
    known |= {"objects", "Makefile"}

    assert called_so
    assert [name for name in called_so if not set(name.split(".")) <= known] == []


def test_every_slice_stands_in_the_guides_tree():
    tree = GUIDE.split("```")[1]
    slices = {name.split(".")[1] for name in modules() if name.startswith("fleet.") and name.endswith(".apps")}

    assert {one for one in slices - {"apps"} if f"\n  {one}/ " not in tree} == set()


def test_every_command_that_is_written_down_is_one():
    benches = {f"bench-{word}" for word in BENCHES}
    known = {
        "make": targets(),
        "start.py": {*re.findall(r"start\.py ([\w-]+)", start.__doc__ or ""), *benches},
        "manage.py": set(get_commands()),
    }

    assert {one for one in called() if one[2] not in known[one[1]]} == set()


def test_commands_are_found_where_they_are_written_down():
    assert {("README.md", "make", "run"), ("README.md", "manage.py", "remind")} <= called()


def test_make_knows_every_word_of_start():
    words = set(re.findall(r"start\.py ([\w-]*\w)", start.__doc__ or "")) | {f"bench-{word}" for word in BENCHES}

    assert words - targets() == set()
