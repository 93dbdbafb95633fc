import json
import re
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from hypothesis import given
from hypothesis import strategies as st

from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.evidence import CHECKS, read_observations
from identify.core.reasoning.verdict import assess
from identify.management.commands.identify import as_data, option

ROOT = Path(__file__).resolve().parents[2]


def told(*options):
    out = StringIO()
    call_command("identify", *options, stdout=out)
    return out.getvalue()


def answered(*options):
    return json.loads(told(*options, "--json"))


FULL_DOUBLE = [
    "--valves=4",
    "--slide-sets=2",
    "--test-note=1",
    "--test-note-thumb=0",
    "--step-down=3",
    "--second-set=longer",
    "--thumb=raises",
    "--hand=left",
    "--mechanism=rotary",
    "--bell=back",
    "--wrap=standard",
]


UNMEASURED = [*FULL_DOUBLE, "--length=40", "--shared-row=?"]


def test_a_full_double_is_settled_and_comes_first():
    answer = answered(*UNMEASURED, "--again=second-set")
    assert (answer["settled"], answer["likely"]) == (True, False)
    assert {"settled", "candidates", "doubt", "next"} <= set(answer)
    assert answer["candidates"][0]["build"] == "double-full"
    assert answer["candidates"][0]["stands_in"] == "F"
    assert answer["candidates"][0]["probability"] > 0.98
    assert (answer["doubt"], answer["next"]) == ([], None)


def test_without_any_option_it_tells_what_is_common_and_asks_for_the_valves():
    answer = answered()
    assert answer["settled"] is False
    assert answer["next"] == "valves"
    assert {one["build"] for one in answer["candidates"]} == set(catalogue())
    assert sum(one["probability"] for one in answer["candidates"]) == pytest.approx(1, abs=1e-3)
    assert "Nothing has been observed yet" in told()


def test_candidates_come_most_likely_first_with_stands_in_plain_letters():
    answer = answered("--valves=3", "--slide-sets=1")
    chances = [one["probability"] for one in answer["candidates"]]
    assert chances == sorted(chances, reverse=True)
    assert {one["stands_in"] for one in answer["candidates"]} <= {"F", "Bb", "Eb", "high F", "G", None}


def test_a_natural_horn_stands_in_null():
    first = answered("--valves=0", "--crook=yes")["candidates"][0]
    assert (first["build"], first["stands_in"]) == ("natural-horn", None)
    assert first["probability"] > 0.95


def test_counts_that_no_horn_has_are_doubted():
    assert set(answered("--valves=4", "--slide-sets=3")["doubt"]) == {"valves", "slide_sets"}


def test_open_3_and_cant_tell_are_understood():
    assert answered("--test-note=open") == answered("--test-note=0")
    assert answered("--test-note=3") == answered("--test-note=12")
    passed = answered("--valves=?")
    assert passed["next"] != "valves"


def test_all_bad_values_are_told_at_once_with_those_allowed():
    with pytest.raises(CommandError) as refused:
        call_command("identify", "--valves=99", "--hand=both", "--bell=up", "--json")
    assert refused.value.returncode == 2
    assert str(refused.value).splitlines() == [
        "--valves: Number of valves: '99' is not an answer; allowed are 0 to 8.",
        "--hand: Hand that works the valves: 'both' is not an answer; allowed are left, right.",
    ]


def test_a_bad_value_ends_with_code_2_and_no_traceback():
    command = [sys.executable, "manage.py", "identify", "--wrap=square"]
    ended = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert ended.returncode == 2
    assert "allowed are standard, compact, oval, trumpet" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_the_reading_for_people_gives_reasons_and_the_next_check():
    text = told("--valves=3", "--slide-sets=1", "--test-note=0", "--hand=right")
    assert "no French horn" in text
    assert "+ Such a horn is played with the right hand." in text
    assert "Next: " in text


def test_what_is_worth_a_second_look_is_told_to_machines_too():
    seen = [option for option in UNMEASURED if not option.startswith("--second-set")] + ["--second-set=?"]
    assert "Look once more at the " in told(*seen)
    answer = answered(*seen)
    assert answer["confirm"]
    assert answer["clash"] is False
    assert any(sentence.startswith("Look once more at the ") for sentence in answer["look_again"])


_ANSWERS = st.fixed_dictionaries(
    {}, optional={key: st.sampled_from([*check.answers, "?"]) for key, check in CHECKS.items()}
)


@given(_ANSWERS)
def test_machines_are_told_all_that_people_are_told(answers):
    options = [f"{option(key)}={value}" for key, value in answers.items()]
    said = set(_sentences(answered(*options)))
    for line in told(*options).splitlines():
        words = re.sub(
            r"^ *[+-] |^Next: | \(--[a-z-]+\)$|^ *(over |under |at least |at most |\d+ to )*[\d.]+ %  | \([a-z-]+\)$",
            "",
            line,
        )
        assert not words or words in said, line


def _sentences(data):
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict | list):
        for one in data.values() if isinstance(data, dict) else data:
            yield from _sentences(one)


def test_a_second_look_can_be_stated():
    once, twice = answered(*UNMEASURED), answered(*UNMEASURED, "--again=second-set")
    assert twice["candidates"][0]["probability"] > once["candidates"][0]["probability"]
    assert (once["settled"], once["likely"], once["confirm"]) == (False, True, ["second_set"])


@pytest.mark.parametrize(("more", "listed"), [(0.0, True), (1e-9, False)])
def test_what_is_as_likely_as_the_least_worth_listing_is_listed(monkeypatch, more, listed):
    verdict = assess(read_observations({"valves": "3"})[0])
    third = verdict.candidates[2]
    monkeypatch.setattr("identify.management.commands.identify.WORTH_LISTING", third.probability + more)

    builds = [(one["build"], one["stands_in"]) for one in as_data(verdict)["candidates"]]
    assert ((third.build.code, third.stands_in) in builds) is listed


def test_accidentals_are_written_as_signs_to_machines_as_well():
    assert "B♭" in told("--valves=3", "--test-note=0", "--json")
