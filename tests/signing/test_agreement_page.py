"""The page that a new version of the agreement is written on."""

from __future__ import annotations

from fleet.ground.access import Role
from fleet.lending.models import Agreement
from tests import make


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
