"""Versions of the agreement."""

from __future__ import annotations

import pytest

from fleet.ground.refusal import Refused
from fleet.lending.actions.agreements import write_version
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import FIRST_WORDS, current_agreement
from fleet.record.models import Act, Deed
from tests import make


def write(lending, words, seen):
    return write_version(school=lending.school, words=words, seen=seen, by=lending.teacher, at=make.NOW)


def test_a_school_begins_with_the_first_words_and_reading_them_saves_nothing(lending):
    agreement = current_agreement(lending.school)

    assert (agreement.version, agreement.words) == (1, FIRST_WORDS)
    assert not Agreement.objects.exists()


def test_a_new_version_stands_beside_the_first_words_which_keep_their_number(lending, elsewhere):
    write(lending, "Bring it back.", seen=1)

    kept = Agreement.objects.filter(school=lending.school).order_by("version")
    assert [(one.version, one.words) for one in kept] == [(1, FIRST_WORDS), (2, "Bring it back.")]
    assert current_agreement(elsewhere.school).version == 1


def test_a_signed_version_is_never_rewritten(lending):
    loan = lending.issue()
    write(lending, "Bring it back.", seen=1)

    loan.agreement.refresh_from_db()
    assert (loan.agreement.version, loan.agreement.words) == (1, FIRST_WORDS)


@pytest.mark.parametrize(
    ("words", "seen", "reason"),
    [("  \n", 1, "needs words"), (FIRST_WORDS + "\n", 1, "already"), ("New.", 7, "while you were writing")],
)
def test_empty_unchanged_and_overtaken_versions_are_refused(lending, words, seen, reason):
    with pytest.raises(Refused, match=reason):
        write(lending, words, seen)

    assert not Agreement.objects.exists()


def test_the_record_tells_which_version_followed_which(lending):
    seen = current_agreement(lending.school).version
    write(lending, "Take care of it.", seen)

    assert Act.objects.get(deed=Deed.AGREEMENT_WRITTEN).lines == [["version", str(seen), str(seen + 1)]]
