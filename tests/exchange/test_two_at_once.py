"""Two people at one list, or at two, with real threads and real connections."""

from __future__ import annotations

from functools import partial

import pytest

from fleet.exchange.actions import imports
from fleet.exchange.models import BATCH, Import
from fleet.ground.refusal import Refused
from fleet.register.models import Horn
from tests import make
from tests.at_once import all_at_once
from tests.exchange.conftest import Desk, as_csv

pytestmark = pytest.mark.django_db(transaction=True)


def test_of_two_lists_begun_at_once_one_is_written_and_the_other_is_told_to_wait():
    desk = Desk()
    lists = [desk.looked_over(as_csv([["number"], [f"{letter}-1"]])) for letter in "ABCD"]

    outcomes = all_at_once([partial(imports.begin_writing, imported=one) for one in lists])

    assert outcomes.count(None) == 1
    assert [type(outcome) for outcome in outcomes].count(Refused) == 3
    assert Import.objects.filter(state="writing").count() == 1


def test_one_list_written_from_two_pages_at_once_is_written_once():
    desk = Desk()
    rows = [[f"H-{n}"] for n in range(2 * BATCH)]
    imported = desk.looked_over(as_csv([["number"], *rows]))
    imports.begin_writing(imported=imported)

    def write() -> None:
        while imports.write_next(imported=imported, by=desk.head, at=make.NOW):
            pass

    outcomes = all_at_once([write, write])

    # Whoever comes after the last batch is told that the list is written.
    assert [outcome for outcome in outcomes if not isinstance(outcome, Refused)] in ([None], [None, None])
    assert Horn.objects.at(desk.school).count() == 2 * BATCH
    assert Import.objects.get().state == "written"
