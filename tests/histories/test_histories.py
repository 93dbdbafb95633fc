"""After any history of a small school every horn agrees with its rows, and no other school noticed."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.histories.machine import machine
from tests.histories.pairs import TwoAtOnce
from tests.histories.world import build_world

# How an act ends hangs on no engine, but for what a database reckons: fewer on the second one.
USUAL = "24" if connection.vendor == "sqlite" else "12"
HISTORIES = int(os.environ.get("HORN_HISTORIES", USUAL))
# The same histories each time, unless others are looked for: nobody's change is to fail by luck.
SEED = int(os.environ.get("HORN_HISTORIES_SEED", "0"))
# Threads, and rows that stay, are dear.
MEETINGS = max(4, HISTORIES // 6)
# A part has a seed of its own, so that one history in thousands is met again without those before it.
PART = 200
LIVED = settings(
    stateful_step_count=20,
    deadline=None,
    database=None,
    # One history that ends in a fault, made as small as can be: of two told together nobody knows which is which.
    report_multiple_bugs=False,
    phases=[Phase.generate, Phase.shrink],
    suppress_health_check=list(HealthCheck),
)


def parts(histories: int) -> list[Any]:
    return [pytest.param(at, min(PART, histories - at), id=f"from-{at}") for at in range(0, histories, PART)]


@pytest.mark.django_db
@pytest.mark.parametrize(("first", "histories"), parts(HISTORIES))
def test_the_horns_agree_with_their_rows_and_every_page_with_the_horns_after_any_history(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, first: int, histories: int
):
    lived = machine(build_world(), tmp_path)
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: lived.now.at)
    seed(SEED + first)(lived)

    run_state_machine_as_test(lived, settings=settings(LIVED, max_examples=histories))


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("first", "histories"), parts(MEETINGS))
def test_two_who_meet_leave_the_horns_in_agreement_and_nothing_but_refusals(first: int, histories: int):
    lived = seed(SEED + first)(TwoAtOnce)

    # Threads do not meet the same way twice, so that there is nothing to be made smaller.
    found = settings(LIVED, max_examples=histories, stateful_step_count=12, phases=[Phase.generate])
    run_state_machine_as_test(lived, settings=found)
