"""Afternoons without a connection at random: two phones keep what is done and send it in its order over a network that
drops, and of every act the site holds one, or has said why not.

Here stand the site's answers; the outbox itself lives through such afternoons in `tests/browser/test_afternoons.py`.
`HORN_AFTERNOONS=200 HORN_AFTERNOONS_SEED=7 pytest` with either file lives through so many.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlencode
from uuid import UUID, uuid4

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from fleet.counting.actions.counts import begin
from fleet.counting.models import Sighting
from fleet.ground.access import Role
from fleet.record.models import Act
from fleet.register.models import Horn, Identification, Photograph
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.models import ConditionCheck, RepairJob
from tests import make
from tests.along.test_sent import HOUR, picture
from tests.register.test_identified import FULL_DOUBLE_IN_BB, FULL_DOUBLE_IN_F

# The browser lives through its afternoons on SQLite; what the site holds of them is tried on both.
pytestmark = [pytest.mark.django_db, pytest.mark.both_engines]
AFTERNOONS = int(os.environ.get("HORN_AFTERNOONS", "2"))
SEED = int(os.environ.get("HORN_AFTERNOONS_SEED", "0"))
# Once so many letters have met something, the network holds.
DROPS = 60
WALKS = ((FULL_DOUBLE_IN_BB, "double-full|Bb"), (FULL_DOUBLE_IN_F, "double-full|F"))
WHAT = ("new", "identify", "check", "mended", "place", "photograph", "tap")
ACTS = st.lists(
    st.tuples(st.booleans(), st.sampled_from(WHAT), st.integers(0, 7), st.integers(0, 2)), min_size=4, max_size=14
)
MEETS = st.sampled_from(["through", "lost on its way", "answer lost"])


@dataclass
class Kept:
    """An act in a phone's outbox: what it is, where it goes, and of which act that makes a horn it waits."""

    what: str
    path: str
    fields: dict[str, Any]
    key: UUID = field(default_factory=uuid4)
    after: Kept | None = None
    horn: int = 0


class Phone:
    """Keeps in order and sends in order, as the outbox of a browser does: only a 201 and our own 409 and 422 count."""

    def __init__(self, client: Any, home: str) -> None:
        self.client, self.home = client, home
        self.waiting: list[Kept] = []
        self.taken: list[Kept] = []
        self.refused: list[tuple[Kept, str]] = []
        self.seen: dict[Any, str] = {}

    def next(self) -> Kept | None:
        return next((one for one in self.waiting if not one.after), None)

    def send(self, met: str) -> None:
        one = self.next()
        assert one
        if met == "lost on its way":
            return
        if one.what == "tap":
            tap = {"key": str(one.key), **one.fields, "waited": 60}
            body: dict[str, Any] = {"data": json.dumps({"taps": [tap]}), "content_type": "application/json"}
        else:
            body = {"data": {"sent_as": one.key, "age": "60", **one.fields, "whole": "1"}}
        if one.what == "photograph":
            body["data"]["picture"] = picture()
        answer = self.client.post(self.home + one.path, **body, headers={"X-Sent-By": "kept"})
        if met == "answer lost":
            return
        assert answer.status_code in (201, 409, 422), (one, answer.content)
        self.waiting.remove(one)
        told = answer.json()
        if answer.status_code == 201 and not told.get("refused"):
            self.taken.append(one)
            for other in self.waiting:
                if other.after is one:
                    other.after, other.path = (
                        None,
                        other.path.replace("horns/new/", f"horns/{told['to'].split('/')[-2]}/"),
                    )
        else:
            self.refused.append((one, told.get("sentence") or told["refused"][str(one.key)]))


class Afternoon:
    def __init__(self, world: Any) -> None:
        self.world = world
        self.phones = [Phone(client, world.home) for client in world.clients]

    def keep(self, second: bool, what: str, which: int, where: int) -> None:
        """What somebody does to one of four registered horns or, of those above them, to one made this afternoon."""
        phone, world = self.phones[second], self.world
        made = [one for one in phone.waiting if one.what == "new"]
        new = made[which % len(made)] if which > 3 and made else None
        horn = world.horns[which % 4]
        walk, kind = WALKS[where % 2]
        at = f"horns/{'new' if new else horn.pk}/"
        known = phone.seen.get(new.key if new else horn.pk, "0" if new else str(world.looks[horn.pk]))
        found = {
            "seen": known,
            "occasion": "other",
            "finish_grade": "2",
            **({"found-rotor-leaking": "on"} if where else {}),
        }
        place = world.places[where].pk
        fields = {
            "new": {"kind": kind, "act": "as-new", "number": "HN-0100", "suggested": "HN-0100", "place": place},
            "identify": {"kind": kind, "act": "on-horn", "horn_number": horn.number},
            "check": found,
            "mended": {"seen": known},
            "place": {"place": place, "seen": "" if new else world.places[0].pk},
            "photograph": {},
            "tap": {"horn": horn.pk, "number": "", "note": "", "place": place},
        }[what]
        identified = f"horns/identified/?{urlencode(walk)}"
        path = {
            "new": identified,
            "identify": identified,
            "check": f"{at}check/",
            "mended": f"{at}mended/?fault=string-broken",
            "place": f"{at}place/",
            "photograph": f"{at}photographs/new/",
            "tap": f"counts/{world.count.pk}/sent/",
        }[what]
        one = Kept(what, path, fields, after=new if path.startswith(at) else None)
        if what in ("check", "mended"):
            phone.seen[new.key if new else horn.pk] = str(one.key)
        phone.waiting.append(one)

    def held(self) -> Counter[str]:
        """The ids of all that the site has by now, each as often as it is there."""
        kinds = (Identification, ConditionCheck, Photograph)
        ids = [one for kind in kinds for one in kind.objects.exclude(sent_as=None).values_list("sent_as", flat=True)]
        return Counter([*map(str, ids), *Sighting.objects.values_list("key", flat=True)])


@pytest.fixture
def world(as_, monkeypatch):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)

    school = make.school()
    staff = [make.staff(Role.TEACHER, school), make.staff(Role.TECHNICIAN, school)]
    places = [make.place(school, room=room, shelf="") for room in ("Cellar", "Attic", "Hall")]
    horns = [make.horn(school, number=f"HN-000{n}", build="", place=places[0]) for n in range(1, 5)]
    said = {"by": staff[0], "at": make.NOW - 3 * HOUR, "occasion": "other", "finish_grade": 2}
    broken = [Found("string-broken", "r", "")]
    return SimpleNamespace(
        school=school,
        home=f"/s/{school.slug}/",
        clients=[as_(one) for one in staff],
        places=places,
        horns=horns,
        count=begin(school=school, places=places, by=staff[0], at=make.NOW - 4 * HOUR),
        looks={one.pk: log_check(horn=one, found=broken, **said).pk for one in horns},
    )


@seed(SEED)
@settings(
    max_examples=AFTERNOONS,
    database=None,
    phases=[Phase.generate, Phase.shrink],
    suppress_health_check=list(HealthCheck),
)
@given(done=ACTS, data=st.data())
def test_of_an_afternoon_over_a_network_that_drops_each_act_is_there_once_or_said_to_be_refused(world, done, data):
    with transaction.atomic():
        afternoon = Afternoon(world)
        for act in done:
            afternoon.keep(*act)
        for met in range(1000):
            sending = [phone for phone in afternoon.phones if phone.waiting]
            if not sending:
                break
            data.draw(st.sampled_from(sending)).send(data.draw(MEETS) if met < DROPS else "through")

        taken = [one for phone in afternoon.phones for one in phone.taken]
        refused = [one for phone in afternoon.phones for one in phone.refused]
        assert len(taken) + len(refused) == len(done)
        assert all(sentence for _, sentence in refused)
        once = Counter(str(one.key) for one in taken if one.what != "place")
        assert afternoon.held() == once
        new = sum(one.what == "new" for one in taken)
        assert Horn.objects.filter(school=world.school).count() == len(world.horns) + new
        mended = sum(one.what == "mended" for one in taken)
        assert RepairJob.objects.filter(state="done").count() == mended
        moved = Act.objects.filter(deed="horns.changed", told__contains="place").count()
        assert moved <= sum(one.what == "place" for one in taken)
        transaction.set_rollback(True)
