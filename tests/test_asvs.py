"""SECURITY.md speaks only of tests and files that there are, and its table of the ASVS adds up."""

from __future__ import annotations

import ast
import re
from collections import Counter
from functools import cache

import pytest

from tests.house import ROOT

TEXT = (ROOT / "SECURITY.md").read_text(encoding="utf-8")
ROW = re.compile(r"^\| (\d+\.\d+\.\d+) \| (\d) \| ([^|]+) \| ((held|not held|n\.a\.)[:,][^|]+) \|$", re.M)
ROWS = ROW.findall(TEXT)
FOLDERS = "fleet|identify|tests|templates|requirements|fixtures"
PATHS = sorted(set(re.findall(rf"`((?:{FOLDERS})/[\w./-]*\w)(?:::\w+)?`", TEXT)))
TESTS = sorted(set(re.findall(r"`(tests/[\w./-]+\.py)::(\w+)`", TEXT)))
# Of ASVS 5.0.0: how many it asks at the first level, and how many more at the second.
ASKED = {"1": 70, "2": 183}


@cache
def functions_of(path: str) -> frozenset[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return frozenset(one.name for one in ast.walk(tree) if isinstance(one, ast.FunctionDef))


@pytest.mark.parametrize("path", PATHS)
def test_what_is_named_is_there(path):
    assert (ROOT / path).exists()


@pytest.mark.parametrize(("path", "name"), TESTS)
def test_each_test_that_is_named_is_there(path, name):
    assert name in functions_of(path)


def test_tests_are_named_at_all_and_one_that_is_not_there_would_be_noticed():
    assert len(TESTS) > 90
    assert "test_no_such_thing" not in functions_of("tests/test_doors.py")


def test_every_requirement_stands_there_once_in_its_order():
    numbers = [tuple(map(int, number.split("."))) for number, *_ in ROWS]

    assert numbers == sorted(set(numbers))
    assert Counter(level for _, level, *_ in ROWS) == ASKED
    assert len(re.findall(r"^\| \d+\.\d+\.\d+ ", TEXT, re.M)) == len(ROWS)


def test_what_is_asked_is_said_in_a_few_words():
    assert [asks for _, _, asks, *_ in ROWS if len(asks.split()) > 12] == []


def test_the_sums_are_those_of_the_table():
    counted = Counter((level, state) for _, level, _, _, state in ROWS)
    said = re.findall(r"^\| (\d) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$", TEXT, re.M)

    assert said == [
        (level, str(asked), *(str(counted[level, state]) for state in ("held", "not held", "n.a.")))
        for level, asked in ASKED.items()
    ]


def test_what_is_held_says_by_what_and_what_is_not_says_why():
    headings = re.findall(r"^## (.+)$", TEXT, re.M)
    before = ""
    for number, _, _, words, state in ROWS:
        sections = re.findall(r"\"([^\"]+)\"", words)
        assert all(any(one.startswith(section) for one in headings) for section in sections), number
        proof = re.search(r"`(tests|fleet|templates|requirements)/|`pyproject\.toml`", words) or sections
        same = "the same test" in words and "`tests/" in before
        if state == "held":
            assert proof or same, number
            assert ("by code" in words) == ("`tests/" not in words and not sections and not same), number
        assert len(words.removeprefix(state)) > 5, number
        before = words if "`tests/" in words else before
