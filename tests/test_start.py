"""What `make test` runs, says and answers, tried with a stand-in for the interpreter it calls."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
pytestmark = pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")

STAND_IN = """#!/bin/sh
echo "$@" | head -n 1 >> "$CALLS"
case "$*" in
  -c*) exit "$PROBE" ;;
  *--engine-only*) exit "$SECOND" ;;
  *) exit "$FIRST" ;;
esac
"""


@pytest.fixture
def start(tmp_path):
    """`start(first=1)`: what pytest answers on each engine; gives the code, what was said and what was called."""
    shutil.copy(ROOT / "start.py", tmp_path)
    (tmp_path / "requirements").mkdir()
    pins = tmp_path / "requirements/dev.txt"
    pins.write_text("", encoding="utf-8")
    python = tmp_path / ".venv/bin/python"
    python.parent.mkdir(parents=True)
    python.write_text(STAND_IN, encoding="utf-8")
    python.chmod(0o755)
    (tmp_path / ".venv/installed-dev.txt").write_text(hashlib.sha256(pins.read_bytes()).hexdigest(), encoding="utf-8")

    def run(
        *arguments: str, first: int = 0, second: int = 0, probe: int = 0, **more: str
    ) -> tuple[int, str, list[str]]:
        calls = tmp_path / "calls"
        calls.unlink(missing_ok=True)
        answers = {"FIRST": str(first), "SECOND": str(second), "PROBE": str(probe), "CALLS": str(calls)}
        kept = {name: value for name, value in os.environ.items() if name not in {"CI", "HORN_TEST_POSTGRES"}}
        done = subprocess.run(
            [sys.executable, str(tmp_path / "start.py"), "test", *arguments],
            env={**kept, **answers, **more},
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
        )
        called = calls.read_text(encoding="utf-8").splitlines() if calls.exists() else []
        return done.returncode, done.stdout + done.stderr, [line for line in called if "pytest" in line]

    return run


@pytest.mark.parametrize(
    ("first", "second", "code", "said"),
    [
        (0, 0, 0, None),
        (1, 0, 1, "— failed on SQLite\n"),
        (0, 1, 1, "— failed on PostgreSQL\n"),
        (1, 1, 1, "— failed on SQLite and on PostgreSQL\n"),
        (0, 2, 2, "— failed on PostgreSQL\n"),
        (3, 1, 3, "— failed on SQLite and on PostgreSQL\n"),
        (5, 5, 5, "— failed on SQLite\n"),
        (0, 5, 0, None),
    ],
)
def test_both_engines_are_tried_whatever_the_first_says_and_it_says_which_failed(start, first, second, code, said):
    answered, words, called = start(first=first, second=second)
    assert answered == code
    assert len(called) == 2
    assert "--engine-only" not in called[0]
    assert "--engine-only" in called[1]
    assert words.index("— on SQLite") < words.index("— on PostgreSQL")
    assert words.endswith(said) if said else "failed" not in words


@pytest.mark.parametrize("first", [0, 1])
def test_without_postgres_one_half_is_run_and_the_other_is_said_to_be_left_out(start, first):
    answered, words, called = start(first=first, probe=1)
    assert answered == first
    assert len(called) == 1
    assert "no PostgreSQL found" in words
    assert ("failed on SQLite" in words) == bool(first)


@pytest.mark.parametrize("missing", [{"CI": "true"}, {"HORN_TEST_POSTGRES": "postgres://nobody@127.0.0.1:1/none"}])
def test_where_postgres_is_asked_for_and_does_not_answer_nothing_is_run(start, missing):
    answered, words, called = start(probe=1, **missing)
    assert answered == 1
    assert "HORN_TEST_POSTGRES" in words
    assert not called


def test_what_is_named_is_handed_on_to_both_engines(start):
    _, _, called = start("tests/people", "-x")
    assert all("tests/people -x" in line for line in called)
    assert not any("--dist" in line for line in called)
