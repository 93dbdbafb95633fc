from __future__ import annotations

from datetime import timedelta
from itertools import count as numbers
from typing import Any

import pytest

from fleet.counting.actions import counts, differences, sightings
from fleet.ground.access import Role
from tests import make


@pytest.fixture
def cupboard(db: None) -> Any:
    """A school with two places and a school beside it that must never show."""

    class Cupboard:
        school = make.school(name="Alder Row School")
        other = make.school(name="Millpond Lane School")
        head = make.staff(Role.HEAD, school, name="Hana Head")
        teacher = make.staff(Role.TEACHER, school, name="Tom Teacher")
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        music_room = make.place(school, room="Music room")
        store = make.place(school, room="Store", shelf="top")
        strange = make.horn(other, number="STRANGE-1")
        keys = numbers(1)

        def begin(self, *places, minutes=0):
            return counts.begin(
                school=self.school, places=places, by=self.teacher, at=make.NOW + timedelta(minutes=minutes)
            )

        def see(self, count, horn, place, *, by=None, key="", minutes=5, **more):
            key = key or f"key-{next(self.keys):06d}"
            at = make.NOW + timedelta(minutes=minutes)
            return sightings.see(count=count, horn=horn, place=place, key=key, by=by or self.teacher, at=at, **more)

        def end(self, count, minutes=60):
            return counts.end(count=count, by=self.teacher, at=make.NOW + timedelta(minutes=minutes))

        def resolve(self, count, horn, resolution, *, place=None, reason="Looked again"):
            line = count.lines.get(horn=horn)
            at = make.NOW + timedelta(minutes=70)
            return differences.resolve(
                line=line, resolution=resolution, reason=reason, place=place, by=self.head, at=at
            )

        def sign(self, count, by=None, minutes=80):
            return counts.sign(count=count, by=by or self.head, at=make.NOW + timedelta(minutes=minutes))

    return Cupboard()
