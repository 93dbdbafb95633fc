"""Whatever stands in the address, the walk answers with a page."""

from __future__ import annotations

import pytest
from django.http import QueryDict
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.ground.access import Role
from identify.core.reasoning.evidence import CHECKS
from identify.walk import read_walk
from tests import make

_NAMES = st.one_of(st.sampled_from([*CHECKS, "step", "horn", "again"]), st.text(max_size=20))
_VALUES = st.one_of(
    st.sampled_from(sorted({answer for check in CHECKS.values() for answer in check.answers})),
    st.sampled_from(["cant-tell", "result", *CHECKS]),
    st.text(max_size=60),
)


@pytest.mark.django_db
@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(query=st.lists(st.tuples(_NAMES, _VALUES), max_size=14))
def test_any_address_is_answered_with_a_page(client, query):
    if "_auth_user_id" not in client.session:
        client.force_login(make.staff(Role.TEACHER, make.school(slug="hill")))

    answer = client.get("/s/hill/identify/", query)

    assert answer.status_code == 200


@pytest.mark.django_db
@pytest.mark.parametrize(
    "raw",
    [
        "valves=%00",
        "valves=%ff%fe",
        "valves",
        "&&&===",
        "valves=4&valves",
        "%",
        "valves[]=4",
        "step=%F0%9F%8E%BA",
    ],
)
def test_broken_queries_are_answered_with_a_page(as_, raw):
    client = as_(make.staff(Role.TEACHER, make.school(slug="hill")))

    assert client.get(f"/s/hill/identify/?{raw}").status_code == 200


@pytest.mark.parametrize(("asked", "wanted"), [("result", "result"), ("valves", "valves"), ("dance", ""), ("", "")])
def test_a_step_is_a_question_or_the_result(asked, wanted):
    assert read_walk(QueryDict(f"step={asked}")).wanted == wanted
