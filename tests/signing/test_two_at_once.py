"""A family signs while the school takes the agreement back: with real threads and real connections."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.ground.refusal import Refused
from fleet.people.actions.families import let_go
from fleet.register.models import Horn
from fleet.signing.actions import putting_before, signing
from fleet.signing.models import OnlineSignature
from tests import make
from tests.at_once import all_at_once
from tests.lent import set_up


@pytest.fixture
def asked():
    """An agreement put before a guardian."""
    lending = set_up()
    return putting_before.put_before(
        horn=lending.horn,
        pupil=lending.pupil,
        guardian=lending.guardian,
        agreement_version=1,
        check_seen=lending.check.pk,
        due_on=make.TODAY + timedelta(days=100),
        accessories=["case"],
        by=lending.teacher,
        at=make.NOW,
    )


def sign(one):
    return signing.sign(signature=one, typed_name="Maria Example", by=one.guardian.user, at=make.NOW)


def take_back(one, *, signed_seen=False):
    return putting_before.take_back(signature=one, signed_seen=signed_seen, by=one.asked_by, at=make.NOW)


@pytest.mark.django_db(transaction=True)
def test_of_a_signature_and_its_taking_back_at_once_one_succeeds_and_the_other_reads_why(asked):
    outcomes = all_at_once([lambda: sign(asked), lambda: take_back(asked)])

    refused = [one.sentence for one in outcomes if isinstance(one, Refused)]
    now = OnlineSignature.objects.get()
    assert (now.signed_at is None) != (now.withdrawn_at is None)
    if now.signed_at is not None:
        assert refused == [f"{asked.guardian} has signed for {asked.horn} meanwhile. Look at it again first."]
    else:
        assert refused == ["The school has changed something and will ask you again."]


@pytest.mark.django_db
def test_what_was_seen_signed_is_taken_back_and_what_was_signed_meanwhile_is_not(asked):
    sign(asked)
    with pytest.raises(Refused, match=r"has signed for .* meanwhile"):
        take_back(asked)
    assert OnlineSignature.objects.get().withdrawn_at is None

    assert take_back(asked, signed_seen=True).withdrawn_at == make.NOW


@pytest.mark.django_db
@pytest.mark.parametrize("seen", [True, False])
def test_the_page_of_another_pupil_says_whether_it_showed_the_horn_as_signed_for(as_, asked, seen):
    school, staff = asked.horn.school, as_(asked.asked_by)
    address = f"/s/{school.slug}/loans/issue/?horn={asked.horn_id}"
    if seen:
        sign(asked)
    page = staff.get(address).content.decode()
    if not seen:
        sign(asked)
    sent = {"do": "take-back-other", "signature": asked.pk}
    if 'name="signed_seen" value="yes"' in page:
        sent["signed_seen"] = "yes"

    answer = staff.post(address, sent, follow=True).content.decode()

    assert (OnlineSignature.objects.get().withdrawn_at is not None) == seen
    assert ("has signed for" in answer and "meanwhile" in answer) != seen


@pytest.mark.django_db(transaction=True)
def test_a_guardian_who_is_let_go_while_they_sign_leaves_nothing_that_a_horn_goes_out_under(asked):
    gone = {"guardian": asked.guardian, "pupil_ids": {asked.pupil_id}, "by": asked.asked_by, "at": make.NOW}

    def let_them_go():
        let_go(**gone)
        putting_before.take_off(**gone)

    outcomes = all_at_once([lambda: sign(asked), let_them_go])

    assert [one for one in outcomes if isinstance(one, Exception) and not isinstance(one, Refused)] == []
    now = OnlineSignature.objects.get()
    assert now.withdrawn_at == make.NOW
    assert not Horn.objects.get(pk=asked.horn_id).promised_to
