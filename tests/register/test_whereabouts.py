"""Where a horn is: the column that lists are narrowed by says what the horn itself says."""

from __future__ import annotations

from datetime import date
from itertools import product

import pytest

from fleet.register.models import Horn
from fleet.register.queries.filters import HornFilters
from tests import make

pytestmark = pytest.mark.django_db
DAY = date(2026, 3, 4)


def test_the_column_has_the_code_of_the_whereabouts_in_every_state():
    school = make.school()
    for away, missing, holder, bench, repairer in product(
        (None, DAY), (None, DAY), ("", "Bo"), (False, True), ("", "X")
    ):
        make.horn(
            school,
            withdrawn_on=away,
            not_found_on=missing,
            holder_name=holder,
            on_bench=bench or bool(repairer),
            repairer=repairer,
        )
    said = {horn.pk: (horn.where, horn.whereabouts.code) for horn in Horn.objects.at(school)}

    assert len(said) == 32
    assert {where for where, _ in said.values()} == set(Horn.Where.values)
    assert [one for one in said.values() if one[0] != one[1]] == []
    Horn.objects.at(school).exclude(holder_name="").update(noted_back=True)
    assert [one.pk for one in Horn.objects.at(school) if one.where != one.whereabouts.code] == []


def test_a_horn_here_for_repair_is_neither_out_nor_without_its_own_filter():
    school = make.school()
    brought = make.horn(school, holder_name="Bo", on_bench=True)

    found = {where: list(HornFilters({"where": where}, school=school).found()) for where in Horn.Where.values}

    assert found == {where: [brought] if where == "repair" else [] for where in Horn.Where.values}
