"""Every page of a school in which all can be so, as it was when somebody last read it: what moves is seen to move.

HORN_TELLING=keep writes anew what is kept, to be read in the difference.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest
from django.core.management.color import no_style
from django.db import connection
from django.test import Client

from fleet.ground.access import Role
from tests import make
from tests.doors import FAMILY_PAGES
from tests.telling import telling
from tests.test_two_schools import THEIRS, Walk, build, readable

KEPT = Path(__file__).with_suffix(".txt")


def pages(who: str, walk: Walk) -> list[str]:
    told = []
    for name, answers in sorted(walk.seen.items()):
        for answer in answers.values():
            if "<main" in answer:
                told += [f"{who} {name}", *(f"  {line}" for line in telling(answer)), ""]
    return told


def test_every_page_tells_what_it_told(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    # The keys of rows stand in addresses, so they begin anew.
    with connection.cursor() as cursor:
        for order in connection.ops.sequence_reset_by_name_sql(no_style(), connection.introspection.sequence_list()):
            cursor.execute(order)
    world = build(THEIRS)
    # Coming in stands on the record, which a head reads.
    Client().force_login(world.people[Role.HEAD])
    readers: list[tuple[str, Any, list[str]]] = [
        ("head", world.people[Role.HEAD], readable(Role.HEAD)),
        ("teacher", world.people[Role.TEACHER], ["desk:today", "desk:horn"]),
        ("technician", world.people[Role.TECHNICIAN], ["desk:today", "desk:horn", "workshop:job"]),
        ("guardian", world.guardian.user, FAMILY_PAGES),
    ]
    told = [line for who, person, names in readers for line in pages(who, Walk(world, person).begin(names, on=False))]
    if os.environ.get("HORN_TELLING") == "keep":
        KEPT.write_text("\n".join(told), encoding="utf-8")

    assert told == KEPT.read_text(encoding="utf-8").split("\n")


def test_no_page_and_no_print_has_a_typewriters_apostrophe() -> None:
    kept = [KEPT, KEPT.parent / "reports" / "test_standing.txt"]
    lines = [line for file in kept for line in file.read_text(encoding="utf-8").split("\n")]

    assert [line for line in lines if re.search(r"\w'\w", line)] == []
