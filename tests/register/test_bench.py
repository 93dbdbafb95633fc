"""The benchmark compares like with like: both pages find the same horns."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from django.test import RequestFactory

from fleet.people.models import School
from fleet.register.models import Horn
from tests.bench.lists import furnish
from tests.bench.peers.views import OrdinaryView


@pytest.mark.django_db
@pytest.mark.parametrize("query", ["", "workshop", "quillfeather", "pupil 00001", "hn-00005", "zzyzx"])
def test_the_benchmarks_peer_finds_what_our_list_finds(query):
    furnish(100)
    school = School.objects.get(slug="bench")
    peer = OrdinaryView()
    peer.request = RequestFactory().get("/", {"q": query})
    peer.request.seat = SimpleNamespace(school=school)

    theirs = {horn.pk for horn in peer.get_queryset()}

    assert theirs == set(Horn.objects.having_words(query, school=school).values_list("pk", flat=True))
    assert bool(theirs) == (query != "zzyzx")
