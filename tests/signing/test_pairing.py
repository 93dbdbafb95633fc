"""A class whose pupils get their horns by number: where the next number is typed."""

from __future__ import annotations

from fleet.signing.queries.pairing import pair_by_number
from tests import make


def test_the_next_number_is_that_of_the_first_pupil_who_has_none_and_no_horn_yet(lending):
    ann, ben, cleo, dora = (
        make.pupil(lending.school, name=name, group="Band") for name in ("Ann", "Ben", "Cleo", "Dora")
    )
    make.loan(make.horn(lending.school), ann, lending.teacher)

    def next_after(*typed):
        said = {f"number-{pupil.pk}": "HN-1" for pupil in typed}
        return [one.pupil for one in pair_by_number(lending.school, "Band", said).wanted if one.is_next]

    assert next_after() == [ben]
    assert next_after(ben) == [cleo]
    assert next_after(ben, cleo, dora) == []
