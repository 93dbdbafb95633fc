"""The page that a new version of the agreement is written on."""

from __future__ import annotations

import pytest

from fleet.ground.access import Role
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import current_agreement
from fleet.signing.forms.agreements import TOO_SHORT
from tests import make
from tests.pages import on_paper
from tests.signing.test_own_agreement import pdf, upload

WORDS = "Bring it back, with its case and all that went along."


def test_a_head_writes_a_new_version_on_the_page(lending, as_):
    page = f"/s/{lending.school.slug}/loans/agreement/"
    head = as_(make.staff(Role.HEAD, lending.school))

    shown = head.get(page).content.decode()
    answer = head.post(page, {"words": WORDS, "seen": 1}, follow=True)

    assert "It stays the school" in shown
    assert "no legal advice" in shown
    assert "Version 2 prints on every sheet from now on." in answer.content.decode()
    overtaken = head.post(page, {"words": f"Mine. {WORDS}", "seen": 1})
    assert overtaken.status_code == 409
    assert "Mine." in overtaken.content.decode()


def test_a_teacher_may_not_write_agreements(lending, as_):
    assert as_(lending.teacher).get(f"/s/{lending.school.slug}/loans/agreement/").status_code == 403


@pytest.mark.parametrize(("words", "status"), [("x" * 4000, 302), ("x\r\n" * 1999 + "xx", 302), ("x" * 4001, 422)])
def test_words_are_counted_as_they_are_kept_and_too_many_are_refused_whole(lending, as_, words, status):
    head, page = as_(make.staff(Role.HEAD, lending.school)), f"/s/{lending.school.slug}/loans/agreement/"

    answer = head.post(page, {"words": words, "seen": 1})

    assert answer.status_code == status
    if status == 302:
        assert current_agreement(lending.school).words == words.replace("\r", "")
    else:
        assert "These are 4,001 characters, 1 too many. Nothing was cut." in answer.content.decode()
        assert not Agreement.objects.exists()
    # A browser that is told how many letters there may be cuts what is pasted.
    assert "maxlength" not in head.get(page).content.decode()


def test_words_are_seen_as_they_print_before_they_are_saved_and_old_versions_after(lending, as_):
    head, sheet = as_(make.staff(Role.HEAD, lending.school)), f"/s/{lending.school.slug}/prints/agreement.pdf"

    seen = printed(head.post(sheet, {"words": "Bring it back.", "seen": 1}).content)
    assert "Agreement, version 2 Bring it back." in seen
    assert "Guardian’s signature" in seen
    assert not Agreement.objects.exists()

    head.post(f"/s/{lending.school.slug}/loans/agreement/", {"words": f"{WORDS} Soon.", "seen": 1})
    assert "It stays the school" in printed(head.get(sheet, {"version": "1"}).content)
    assert f"version 2 {WORDS} Soon." in printed(head.get(sheet).content)
    assert head.get(sheet, {"version": "3"}).status_code == 404


def test_words_that_cannot_be_saved_are_not_printed_and_the_page_says_why(lending, as_):
    head, sheet = as_(make.staff(Role.HEAD, lending.school)), f"/s/{lending.school.slug}/prints/agreement.pdf"

    answer = head.post(sheet, {"words": " ", "seen": 1}, follow=True)

    assert "An agreement needs words." in answer.content.decode()


def test_the_longest_agreement_stands_whole_on_the_back_of_the_sheet(lending, as_):
    head, sheet = as_(make.staff(Role.HEAD, lending.school)), f"/s/{lending.school.slug}/prints/agreement.pdf"
    words = " ".join(f"w{n:03d}" for n in range(799)) + "\nend"

    seen = printed(head.post(sheet, {"words": words, "seen": 1}).content)

    assert len(words) > 3990
    assert all(word in seen for word in words.split())


def printed(paper: bytes) -> str:
    return " ".join(on_paper(paper))


@pytest.mark.parametrize(
    ("words", "own", "taken"),
    [("Short.", False, False), ("x" * 39, False, False), ("x" * 40, False, True), ("Ours.", True, True)],
)
def test_a_word_is_no_agreement_unless_the_schools_own_stands_behind_it(lending, as_, words, own, taken):
    head, page = as_(make.staff(Role.HEAD, lending.school)), f"/s/{lending.school.slug}/loans/agreement/"
    sent = {"words": words, "seen": 1, **({"own": upload(pdf(1))} if own else {})}

    answer = head.post(page, sent)

    assert answer.status_code == (302 if taken else 422)
    if not taken:
        assert answer.context["form"].errors == {"words": [TOO_SHORT]}
