"""The watch over who writes rows sees what it should, and nothing else."""

from __future__ import annotations

import pytest

from fleet.register.queries import kept
from tests import make
from tests.house import ROOT
from tests.writers import KEEPERS, taken_note_of


def run_as(path: str, words: str, **names: object) -> None:
    """Runs words as if they stood in that file."""
    exec(compile(words, str(ROOT / path), "exec"), names)  # noqa: S102


@pytest.mark.parametrize(
    "path", ["fleet/desk/pages/today.py", "fleet/register/queries/told.py", "fleet/signing/forms.py"]
)
@pytest.mark.parametrize("words", ["horn.save()", "type(horn).objects.filter(pk=horn.pk).update(notes='x')"])
def test_a_row_written_by_no_action_is_noticed(db, path, words):
    horn = make.horn(make.school())

    run_as(path, words, horn=horn)

    assert [line.partition(":")[0] for line in taken_note_of()] == [path]


@pytest.mark.parametrize(
    "path", ["fleet/register/actions/horns.py", "fleet/matching/actions.py", "tests/desk/test_today.py"]
)
def test_a_row_written_by_an_action_or_a_test_is_let_alone(db, path):
    horn = make.horn(make.school())

    run_as(path, "horn.save(update_fields=['maker'])", horn=horn)

    assert taken_note_of() == []


def test_what_a_page_only_reads_is_let_alone(db):
    horn = make.horn(make.school())

    run_as("fleet/desk/pages/today.py", "horn.refresh_from_db()", horn=horn)

    assert taken_note_of() == []


def test_what_is_kept_on_a_horn_is_written_in_one_place(db):
    horn = make.horn(make.school())

    run_as("fleet/lending/actions/issuing.py", "horn.save(update_fields=['holder_name'])", horn=horn)
    elsewhere = taken_note_of()
    run_as(KEEPERS["register_horn"], "horn.save(update_fields=['holder_name'])", horn=horn)

    assert ([line.partition(":")[0] for line in elsewhere], taken_note_of()) == (
        ["fleet/lending/actions/issuing.py"],
        [],
    )


def test_every_column_that_is_kept_is_told_by_a_slice():
    assert set(kept.told()) == set(kept.KEPT)
