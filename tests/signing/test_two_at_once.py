"""Two who meet over what is before a family: with real threads and real connections."""

from __future__ import annotations

import pytest

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.people.actions.families import let_go
from fleet.register.actions import disposing, whereabouts
from fleet.register.actions.keeping import keep
from fleet.register.models import Disposal, Horn
from fleet.signing.actions import putting_before, signing
from fleet.signing.models import OnlineSignature
from tests import make
from tests.at_once import all_at_once
from tests.lent import set_up


@pytest.fixture
def asked():
    """An agreement put before a guardian."""
    return set_up().put_before()


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


def stand(horn, by, kind="withdrawn"):
    return whereabouts.change_standing(horn=horn, kind=kind, reason="Cracked", by=by, at=make.NOW)


def give_up(horn, by):
    """A second person agrees to what is proposed, as if the first had done so a while ago."""
    there = disposing.propose(horn=horn, method="scrapped", on=make.TODAY, reason="Cracked", by=by, at=make.NOW)
    other = make.staff(Role.HEAD, horn.school)
    return lambda: disposing.decide(disposal=there, approved=True, by=other, at=make.NOW)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("leaves", [give_up, lambda horn, by: lambda: stand(horn, by)], ids=["given up", "withdrawn"])
def test_a_horn_that_leaves_while_it_is_put_before_a_family_is_either_gone_or_promised(leaves):
    lending = set_up()
    gone = leaves(lending.horn, lending.teacher)

    outcomes = all_at_once([gone, lending.put_before])

    horn = Horn.objects.get(pk=lending.horn.pk)
    assert [type(one).__name__ for one in outcomes].count("Refused") == 1
    assert bool(horn.withdrawn_on) != bool(horn.promised_to)
    assert OnlineSignature.objects.unused().exists() == bool(horn.promised_to)


@pytest.mark.django_db
@pytest.mark.parametrize("signed", [False, True])
def test_a_horn_that_a_family_was_promised_is_not_given_up_before_the_promise_is_taken_back(asked, signed):
    if signed:
        sign(asked)
    decide = give_up(asked.horn, asked.asked_by)
    for gone in (decide, lambda: stand(asked.horn, asked.asked_by)):
        with pytest.raises(Refused, match=f"{asked.horn} is promised to {asked.pupil.name}") as refused:
            gone()
        assert refused.value.way_out == putting_before.take_back_first(asked.horn)
    assert Disposal.objects.get().decided_at is None

    take_back(asked, signed_seen=signed)

    assert decide().approved
    assert Horn.objects.get(pk=asked.horn_id).withdrawn_on == make.TODAY


@pytest.mark.django_db
def test_a_horn_withdrawn_before_promises_were_asked_about_is_not_given_up_with_one(asked):
    decide = give_up(asked.horn, asked.asked_by)
    asked.horn.standings.create(kind="withdrawn", on=make.TODAY, reason="Cracked", by=asked.asked_by, at=make.NOW)
    keep([asked.horn])

    with pytest.raises(Refused, match="is promised to"):
        decide()


@pytest.mark.django_db
def test_a_promised_horn_that_nobody_finds_stays_promised_and_is_not_signed_for_until_it_is_found(asked):
    stand(asked.horn, asked.asked_by, kind="not-found")
    with pytest.raises(Refused, match="cannot be lent at the moment"):
        sign(asked)

    stand(asked.horn, asked.asked_by, kind="found")

    assert sign(asked).signed_at == make.NOW
