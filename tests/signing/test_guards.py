"""What signing refuses at the last moment, when the page that was looked at is out of date."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.ground.refusal import Refused
from fleet.people.queries.school_days import SchoolDays
from fleet.signing.actions.putting_before import take_back
from fleet.signing.actions.signing import sign
from fleet.signing.forms.particulars import SharedForm
from fleet.signing.models import OnlineSignature
from tests import make


@pytest.fixture
def asked(lending):
    made = make.signature(lending.horn, lending.pupil, lending.teacher)
    made.refresh_from_db()
    return made


def signed(lending, asked, at=make.NOW):
    return sign(signature=asked, typed_name="Maria Quill", by=lending.guardian.user, at=at)


def test_an_agreement_is_signed_once(lending, asked):
    signed(lending, asked)
    with pytest.raises(Refused, match="You have signed this already"):
        signed(lending, asked)


def test_an_agreement_is_signed_on_its_due_day_and_not_after_it(lending, asked):
    type(asked).objects.filter(pk=asked.pk).update(due_on=make.TODAY)
    with pytest.raises(Refused, match="has passed"):
        signed(lending, asked, at=make.NOW + timedelta(days=1))
    assert signed(lending, asked).signed_at == make.NOW


def test_what_a_horn_went_out_under_is_not_taken_back(lending, asked):
    loan = make.loan(make.horn(lending.school), lending.pupil, lending.teacher)
    type(asked).objects.filter(pk=asked.pk).update(loan=loan, signed_at=make.NOW, typed_name="M")
    with pytest.raises(Refused, match="under this signature already"):
        take_back(signature=asked, signed_seen=True, by=lending.teacher, at=make.NOW)


def test_what_waits_says_for_whom_before_it_is_signed_and_after(lending, asked):
    assert asked.waits_in_words == f"{asked.horn} waits for {asked.guardian}’s signature, for {asked.pupil}."
    signed(lending, asked)
    asked.refresh_from_db()
    assert asked.waits_in_words == f"{asked.horn} is promised to {asked.pupil}: {asked.guardian} has signed for it."


@pytest.mark.parametrize(("count", "taken"), [(16, True), (17, False)])
def test_sixteen_things_go_along_at_most(count, taken):
    said = {"due_on": make.TODAY, "more": ", ".join(f"thing {n}" for n in range(count))}
    assert SharedForm(said, today=make.TODAY, days=SchoolDays(9)).is_valid() is taken


@pytest.mark.parametrize(("more", "taken"), [("m" * 60 + ", spare string", True), ("mute, " + "m" * 61, False)])
def test_a_thing_that_goes_along_has_sixty_letters(more, taken):
    form = SharedForm({"due_on": make.TODAY, "more": more}, today=make.TODAY, days=SchoolDays(9))
    assert form.is_valid() is taken
    assert list(form.errors) == ([] if taken else ["more"])


def test_a_horn_looked_over_again_in_the_same_moment_is_not_signed_for_as_it_was(lending, asked):
    standing = OnlineSignature.objects.standing(make.TODAY)
    assert list(standing) == [asked]

    make.check(lending.horn, lending.teacher, at=asked.check_seen.at)

    assert list(standing.all()) == []
