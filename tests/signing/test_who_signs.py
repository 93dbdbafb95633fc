"""Nobody signs on the family's page for what they prepared themselves, nor with an address that is new."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import mail
from django.urls import reverse

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.people.actions import many
from fleet.people.models import Guardian, Post, Pupil
from fleet.people.models.families import SIGNS_AFTER
from fleet.register.models import Horn
from fleet.signing.actions import signing
from fleet.signing.models import OnlineSignature
from tests import make
from tests.pages import folded, on_paper
from tests.signing.test_issue_pages import action_of, whole

pytestmark = pytest.mark.usefixtures("at_noon")
DAY = timedelta(days=1)
MOMENT = timedelta(seconds=1)


@pytest.fixture
def colleague(lending):
    return make.staff(Role.TEACHER, lending.school, name="Tom Bell")


def sign(one, by, at=make.NOW):
    return signing.sign(signature=one, typed_name="Maria Example", by=by, at=at)


def hand_out(lending, one):
    due = {"due_on": make.TODAY + 100 * DAY, "accessories": ["case"]}
    return lending.issue(**due, signed_on=None, online=one, guardian=Guardian.objects.get(pk=one.guardian_id))


def guardian_page(lending):
    return reverse("people:guardian-edit", args=(lending.school.slug, lending.guardian.pk))


def said_of(lending, **changes):
    """The form of the guardian's page, everything as it is but for the changes."""
    return {"name": lending.guardian.name, "email": lending.guardian.email, "pupils": [lending.pupil.pk], **changes}


def a_parent_at_work(lending):
    """The teacher is the guardian: the school has had their address from the first."""
    Guardian.objects.filter(pk=lending.guardian.pk).update(email=lending.teacher.email, user=lending.teacher)
    lending.guardian.refresh_from_db()


# The forgery, step by step as it was met


def test_a_teacher_alone_cannot_sign_in_a_guardians_place(lending, as_):
    teacher, honest = as_(lending.teacher), lending.guardian.email
    issue = reverse("loans:issue", args=(lending.school.slug,))
    draft = issue + action_of(teacher.get(issue, whole(lending)))

    teacher.post(draft, {"do": "ask"})
    teacher.post(guardian_page(lending), said_of(lending, email=lending.teacher.email))
    one = OnlineSignature.objects.get()
    teacher.post(reverse("desk:family-sign", args=(one.pk,)), {"typed_name": "Maria Example", "agreed": "on"})
    teacher.post(guardian_page(lending), said_of(lending, email=honest))
    teacher.post(draft)

    assert OnlineSignature.objects.get().signed_at is None
    assert not Loan.objects.exists()


def test_nor_can_one_who_asks_afterwards_or_lets_a_colleague_ask(lending, as_, colleague):
    as_(lending.teacher).post(guardian_page(lending), said_of(lending, email=lending.teacher.email))
    with pytest.raises(Refused, match="Nobody signs on their own page what they asked for"):
        lending.put_before()
    with pytest.raises(Refused, match="entered this e-mail address themselves"):
        lending.put_before(by=colleague, at=make.NOW + 2 * SIGNS_AFTER)


# Who prepared it does not sign


def test_a_parent_who_works_here_signs_when_somebody_else_asked_and_loan_and_sheet_say_so(lending, as_, colleague):
    a_parent_at_work(lending)
    one = lending.put_before(by=colleague)
    page = reverse("desk:family-sign", args=(one.pk,))
    assert as_(lending.teacher).post(page, {"typed_name": "M. Example", "agreed": "on"}).status_code == 302
    loan = hand_out(lending, one)

    words = f"signed in as {lending.teacher}, who works here; Tom Bell had asked"
    loan_page = as_(colleague).get(reverse("loans:loan", args=(lending.school.slug, loan.pk)))
    assert f"as “M. Example” at 10:30, {words}" in folded(loan_page)
    assert words in sheet_of(as_(colleague), lending, loan)


def sheet_of(client, lending, loan):
    answer = client.get(reverse("reports:loan-sheet", args=(lending.school.slug, loan.pk)))
    return on_paper(answer.content)[0]


def test_loan_and_sheet_name_the_account_that_signed_and_of_a_family_no_more(lending, as_):
    one = lending.put_before()
    sign(one, lending.guardian.user)
    loan = hand_out(lending, one)
    Post.objects.create(user=lending.guardian.user, school=lending.school, role=Role.TECHNICIAN)

    page = folded(as_(lending.teacher).get(reverse("loans:loan", args=(lending.school.slug, loan.pk))))

    assert f"signed in as {lending.guardian.user}" in page
    assert f"signed in as {lending.guardian.user}" in sheet_of(as_(lending.teacher), lending, loan)
    assert "works here" not in page


def test_a_parent_cannot_ask_for_their_own_signature(lending):
    a_parent_at_work(lending)
    with pytest.raises(Refused, match="somebody else puts it before"):
        lending.put_before()


def test_what_a_parent_asked_for_themselves_before_is_not_signed_and_a_colleague_asks_anew(lending, colleague):
    a_parent_at_work(lending)
    old = lending.put_before(by=colleague)
    OnlineSignature.objects.update(asked_by=lending.teacher)
    with pytest.raises(Refused, match="Nobody signs on their own page"):
        sign(old, lending.teacher)

    anew = lending.put_before(by=colleague)

    assert anew != old
    assert sign(anew, lending.teacher).signed_by == lending.teacher


# A changed address


def test_a_changed_address_is_told_to_both_and_signs_after_a_week(lending, as_, colleague):
    before = lending.guardian.email
    head = make.staff(Role.HEAD, lending.school)

    answer = as_(colleague).post(guardian_page(lending), said_of(lending, email="new@example.org"), follow=True)

    assert "The address signs on their page from 21 September 2026; on paper they sign at once." in folded(answer)
    new, old = mail.outbox
    assert (new.to, old.to) == (["new@example.org"], [before])
    for letter in (new, old):
        assert f"Tom Bell put {'this' if letter is new else 'another'} e-mail address on record for you" in letter.body
        assert "21 September 2026" in letter.body
        assert head.email in letter.body
    assert "new@example.org" not in old.subject + old.body
    lending.guardian.refresh_from_db()
    with pytest.raises(Refused, match="is new: it signs from 21 September 2026"):
        lending.put_before(at=make.NOW + SIGNS_AFTER - MOMENT)
    one = lending.put_before(at=make.NOW + SIGNS_AFTER)
    with pytest.raises(Refused, match="is new"):
        sign(one, lending.guardian.user, at=make.NOW + SIGNS_AFTER - MOMENT)
    assert sign(one, lending.guardian.user, at=make.NOW + SIGNS_AFTER).signed_at is not None


def test_saving_a_guardian_with_the_same_address_tells_nobody_and_keeps_signing(lending, as_, colleague):
    as_(colleague).post(
        guardian_page(lending), said_of(lending, name="Maria New", email=lending.guardian.email.upper())
    )

    assert mail.outbox == []
    assert Guardian.objects.get(name="Maria New").address_since is None
    assert lending.put_before()


def test_a_signature_is_no_good_once_the_address_that_gave_it_is_another(lending, as_, colleague):
    one = lending.put_before()
    sign(one, lending.guardian.user)
    as_(colleague).post(guardian_page(lending), said_of(lending, email="new@example.org"))

    with pytest.raises(Refused, match="has another address than the one that signed"):
        hand_out(lending, one)


# Letting go, and coming to a pupil who has somebody


def test_a_guardian_who_was_let_go_loses_the_page_and_is_told_and_the_horn_is_free(lending, as_, colleague):
    one = lending.put_before()
    page, family = reverse("desk:family-sign", args=(one.pk,)), as_(lending.guardian.user)
    assert family.get(page).status_code == 200
    assert Horn.objects.get(pk=lending.horn.pk).promised_to

    as_(colleague).post(guardian_page(lending), said_of(lending, pupils=[]))

    assert family.get(page).status_code == 404
    assert family.post(page, {"typed_name": "Maria Example", "agreed": "on"}).status_code == 404
    with pytest.raises(Refused):
        sign(one, lending.guardian.user)
    assert not Horn.objects.get(pk=lending.horn.pk).promised_to
    (letter,) = mail.outbox
    assert letter.to == [lending.guardian.email]
    assert f"you no longer answer for {lending.pupil}" in letter.body


def test_what_was_signed_is_no_longer_read_by_who_was_let_go(lending, as_):
    one = lending.put_before()
    sign(one, lending.guardian.user)
    hand_out(lending, one)
    lending.pupil.guardians.clear()

    assert as_(lending.guardian.user).get(reverse("desk:family-sign", args=(one.pk,))).status_code == 404


def test_the_action_itself_refuses_who_answers_for_the_pupil_no_more(lending):
    one = lending.put_before()
    lending.pupil.guardians.clear()

    with pytest.raises(Refused, match="does not answer for"):
        sign(one, lending.guardian.user)


def add(client, lending, pupil=None, **said):
    address = reverse("people:guardian-new", args=(lending.school.slug, (pupil or lending.pupil).pk))
    return client.post(address, {"name": "Anna Second", "email": "anna@example.org", **said}, follow=True)


def test_a_second_guardian_signs_after_a_week_and_the_first_is_told(lending, as_, colleague):
    answer = add(as_(lending.teacher), lending)

    assert "signs on their page from 21 September 2026" in folded(answer)
    (letter,) = mail.outbox
    assert letter.to == [lending.guardian.email]
    assert f"Anna Second answers for {lending.pupil} as well" in letter.body
    second = Guardian.objects.get(name="Anna Second")
    with pytest.raises(Refused, match="is new"):
        lending.put_before(guardian=second, by=colleague)
    assert lending.put_before(guardian=second, by=colleague, at=make.NOW + SIGNS_AFTER)


def test_a_guardian_in_the_place_of_one_let_go_signs_after_a_week_too(lending, as_, colleague):
    as_(lending.teacher).post(guardian_page(lending), said_of(lending, pupils=[]))
    add(as_(lending.teacher), lending)

    with pytest.raises(Refused, match="is new"):
        lending.put_before(guardian=Guardian.objects.get(name="Anna Second"), by=colleague)


def test_the_first_guardian_of_a_pupil_signs_at_once(lending, as_, colleague):
    pupil = make.pupil(lending.school)
    add(as_(lending.teacher), lending, pupil)

    assert mail.outbox == []
    assert lending.put_before(pupil=pupil, guardian=Guardian.objects.get(name="Anna Second"), by=colleague)


def test_parents_of_one_child_sign_at_once_for_the_next(lending, as_, colleague):
    father = make.guardian(lending.school, name="Father")
    lending.pupil.guardians.add(father)
    sibling = make.pupil(lending.school, lending.guardian)

    add(as_(lending.teacher), lending, sibling, name=father.name, email=father.email)

    assert set(Pupil.objects.get(pk=sibling.pk).guardians.all()) == {lending.guardian, father}
    assert mail.outbox == []
    assert lending.put_before(pupil=sibling, guardian=father, by=colleague)


def test_a_list_brings_guardians_who_sign_at_once_where_nobody_was_before(lending):
    alone, new = make.pupil(lending.school), make.guardian(lending.school)

    many.tie([(alone.pk, new.pk)], at=make.NOW)
    assert Guardian.objects.get(pk=new.pk).signs_from(make.NOW) is None

    many.tie([(alone.pk, new.pk), (lending.pupil.pk, new.pk)], at=make.NOW)
    assert Guardian.objects.get(pk=new.pk).signs_from(make.NOW) == make.NOW + SIGNS_AFTER
    assert Guardian.objects.get(pk=lending.guardian.pk).signs_from(make.NOW) is None
