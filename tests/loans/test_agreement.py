import pytest

from fleet.access import Role
from fleet.loans.agreement import FIRST_WORDS, current_agreement, write_version
from fleet.loans.models import Agreement
from fleet.refused import Refused
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


def test_a_head_writes_a_new_version_on_the_page(lending, as_):
    page = f"/s/{lending.school.slug}/loans/agreement/"
    head = as_(make.staff(Role.HEAD, lending.school))

    shown = head.get(page).content.decode()
    answer = head.post(page, {"words": "Bring it back.", "seen": 1}, follow=True)

    assert "It stays the school" in shown
    assert "no legal advice" in shown
    assert "Version 2 prints on every sheet from now on." in answer.content.decode()
    overtaken = head.post(page, {"words": "Mine.", "seen": 1})
    assert overtaken.status_code == 409
    assert "Mine." in overtaken.content.decode()


def test_a_teacher_may_not_write_agreements(lending, as_):
    assert as_(lending.teacher).get(f"/s/{lending.school.slug}/loans/agreement/").status_code == 403


def test_words_longer_than_the_sheet_has_room_for_get_a_sentence(lending, as_):
    head = as_(make.staff(Role.HEAD, lending.school))

    answer = head.post(f"/s/{lending.school.slug}/loans/agreement/", {"words": "x" * 1801, "seen": 1})

    assert answer.status_code == 422
    assert "at most 1800 characters" in answer.content.decode()
    assert not Agreement.objects.exists()
