"""A walk that a browser kept for want of a connection is put on record once, and tells when it was made."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlencode
from uuid import UUID, uuid4

import pytest

from fleet.ground.access import Role
from fleet.register.models import Horn, Identification
from tests import make
from tests.register.test_identified import FULL_DOUBLE_IN_BB, FULL_DOUBLE_IN_F

pytestmark = pytest.mark.django_db
KIND = "double-full|Bb"


@pytest.fixture
def school(monkeypatch):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    return make.school()


@pytest.fixture
def send(as_, school):
    teacher = as_(make.staff(Role.TEACHER, school))

    def sent(client=teacher, walk=FULL_DOUBLE_IN_BB, **said):
        given = {"act": "as-new", "kind": KIND, "number": "HN-0001", "suggested": "HN-0001", "whole": "1", **said}
        page = f"/s/{school.slug}/horns/identified/?{urlencode(walk)}"
        return client.post(page, given, headers={"X-Sent-By": "outbox"})

    return sent


def test_a_walk_sent_again_is_one_horn(send):
    one = uuid4()

    answers = [send(sent_as=one) for _ in range(3)]

    horn = Horn.objects.get()
    assert {answer.status_code for answer in answers} == {201}
    assert {answer.json()["to"] for answer in answers} == {f"/s/{horn.school.slug}/horns/{horn.pk}/"}
    assert Identification.objects.get().sent_as == one


def test_equal_horns_walked_one_after_another_are_as_many_horns(send):
    numbers = [send(sent_as=uuid4(), age=str(60 * n)).status_code for n in range(3)]

    assert numbers == [201] * 3
    assert sorted(Horn.objects.values_list("number", flat=True)) == ["HN-0001", "HN-0002", "HN-0003"]


@pytest.mark.parametrize(("age", "ago"), [("", 0), ("0", 0), ("3600", 3600), (str(8 * 86400), 7 * 86400)])
def test_the_finding_is_told_when_it_was_made_by_the_browsers_own_clock(send, age, ago):
    assert send(sent_as=uuid4(), age=age).status_code == 201

    assert Identification.objects.get().at == make.NOW - timedelta(seconds=ago)
    assert Horn.objects.get().created == make.NOW


def test_what_was_found_before_a_newer_finding_moves_nothing(send, school):
    horn = make.horn(school, build="")
    newer = {"walk": FULL_DOUBLE_IN_F, "kind": "double-full|F", "act": "on-horn", "horn_number": horn.number}
    older = {"act": "on-horn", "horn_number": horn.number, "age": "600"}

    assert [send(sent_as=uuid4(), **said).status_code for said in (newer, older)] == [201, 201]

    horn.refresh_from_db()
    assert (horn.build, horn.stands_in) == ("double-full", "F")
    assert horn.identifications.count() == 2


def test_an_id_that_somebody_else_used_is_refused_and_tells_nothing(send, as_, school):
    taken = UUID(int=7)
    send(sent_as=taken)

    answer = send(as_(make.staff(Role.TEACHER, school)), sent_as=taken)

    assert answer.status_code == 409
    assert "Begin the walk again: it cannot be put on record from here." in answer.content.decode()
    assert Horn.objects.count() == 1


@pytest.mark.parametrize("said", [{"sent_as": "seven"}, {"age": "-1"}, {"age": "long"}])
def test_nonsense_in_what_the_browser_adds_keeps_nothing(send, said):
    assert send(**said).status_code == 422
    assert not Horn.objects.exists()
