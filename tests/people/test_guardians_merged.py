"""A guardian who was entered twice: both records become one."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.desk.actions.forgetting import forget
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.actions.pupils import merge_guardians
from fleet.people.forms import twice
from fleet.people.models import Guardian
from fleet.people.models.families import SIGNS_AFTER
from fleet.record.models import Act, Deed
from tests import make
from tests.pages import folded
from tests.people.entrance import PASSWORD

pytestmark = pytest.mark.django_db
MOMENT = timedelta(microseconds=1)


def page(guardian):
    return reverse("people:guardian-twice", args=[guardian.school.slug, guardian.pk])


def test_loans_pupils_and_the_other_contact_go_to_the_record_that_stays(as_, school, teacher, mailoutbox):
    stays = make.guardian(school, name="Maria Quill", email="m@example.org")
    twice = make.guardian(school, name="M. Quill", email="", telephone="555 0100", language="de")
    ada, ben = make.pupil(school, stays, name="Ada"), make.pupil(school, twice, name="Ben")
    loan = make.loan(make.horn(school), ben, teacher)
    signature = make.signature(make.horn(school), ben, teacher)
    client = as_(teacher)
    assert page(twice) in folded(client.get(reverse("people:guardian-edit", args=[school.slug, twice.pk])))
    shown = folded(client.get(page(twice)))
    assert "<li>1 loan</li>" in shown
    assert "Maria Quill (m@example.org), for Ada" in shown

    answer = client.post(page(twice), {"into": stays.pk}, follow=True)

    assert "Both records are now that of Maria Quill: m@example.org, 555 0100. The address signs" in folded(answer)
    now = Guardian.objects.get()
    assert (now.pk, now.name, now.user, now.language) == (stays.pk, "Maria Quill", stays.user, "de")
    assert set(now.pupils.all()) == {ada, ben}
    loan.refresh_from_db()
    signature.refresh_from_db()
    assert (loan.guardian, signature.guardian) == (now, now)
    # An address must not come to sign at once for a pupil by a second record.
    assert now.signs_from(now.address_since) == now.address_since + SIGNS_AFTER
    act = Act.objects.get(deed=Deed.GUARDIANS_MERGED)
    assert act.guardian_id == now.pk
    assert ["entered twice as", "M. Quill"] in act.lines
    assert ["telephone", "555 0100"] in act.lines


def test_who_shares_most_with_a_record_is_offered_first_and_once(as_, school, teacher, monkeypatch):
    monkeypatch.setattr(twice, "MOST", 3)
    maria = make.guardian(school, name="Maria Quill", email="m@example.org")
    for name in ("Maria Abt", "Maria Bee", "Otto Quill"):
        make.guardian(school, name=name, email=f"{name[-3:].lower()}@example.org")
    same = make.guardian(school, name="Maria Quill", email="", telephone="555 0100")
    for name in ("Ada", "Ben"):
        make.pupil(school, maria, name=name).guardians.add(same)

    offered = [label for _, label in as_(teacher).get(page(same)).context["form"].fields["into"].choices]

    assert offered == [
        "choose a record", "Maria Quill (m@example.org), for Ada, Ben", "Maria Abt (abt@example.org)",
        "Maria Bee (bee@example.org)",
    ]  # fmt: skip


def test_the_address_that_goes_is_told_and_signs_no_more(as_, school, teacher, mailoutbox):
    stays = make.guardian(school, name="Maria", email="new@example.org")
    twice = make.guardian(school, name="Maria", email="old@example.org")
    make.pupil(school, twice, name="Ben")

    as_(teacher).post(page(twice), {"into": stays.pk})

    now = Guardian.objects.get()
    assert (now.email, twice.user.guardianships.count()) == ("new@example.org", 0)
    letters = {letter.subject.partition(": ")[2]: letter.to for letter in mailoutbox}
    assert letters["you no longer sign for Ben"] == ["old@example.org"]
    assert letters["Maria signs for Ben as well"] == ["old@example.org"]


def test_an_address_taken_over_signs_a_week_later_and_is_told(as_, school, teacher, mailoutbox):
    stays = make.guardian(school, name="Maria", email="", telephone="555 0100")
    twice = make.guardian(school, name="Maria Q", email="m@example.org")
    make.pupil(school, twice, name="Ben")

    as_(teacher).post(page(twice), {"into": stays.pk})

    now = Guardian.objects.get()
    assert (now.pk, now.reached, now.user) == (stays.pk, "m@example.org, 555 0100", twice.user)
    assert now.signs_from(now.address_since + SIGNS_AFTER - MOMENT) is not None
    assert now.signs_from(now.address_since + SIGNS_AFTER) is None
    subjects = [letter.subject for letter in mailoutbox if letter.to == ["m@example.org"]]
    assert [one for one in subjects if "this e-mail address is now on record" in one]
    assert not [one for one in subjects if "you no longer sign" in one]


def test_only_another_guardian_of_this_school_can_stay(as_, school, teacher):
    one, elsewhere = make.guardian(school), make.guardian(make.school())

    for other in (one, elsewhere):
        assert as_(teacher).post(page(one), {"into": other.pk}).status_code == 422
        with pytest.raises(Refused, match="another guardian of this school"):
            merge_guardians(twice=one, into=other, by=teacher, at=make.NOW)
    stays = make.guardian(school)
    gone = Guardian.objects.get(pk=one.pk)
    merge_guardians(twice=one, into=stays, by=teacher, at=make.NOW)
    with pytest.raises(Refused, match="not on record any more"):
        merge_guardians(twice=gone, into=stays, by=teacher, at=make.NOW)


@pytest.mark.parametrize("which", [0, 1])
def test_while_a_change_of_address_can_be_objected_to_the_two_stay_apart(school, teacher, which):
    pair = make.guardian(school), make.guardian(school)
    pair[which].address_changes.create(before="old@example.org", at=make.NOW, digest="x")

    with pytest.raises(Refused, match="can still object"):
        merge_guardians(twice=pair[0], into=pair[1], by=teacher, at=make.NOW + SIGNS_AFTER - MOMENT)
    merge_guardians(twice=pair[0], into=pair[1], by=teacher, at=make.NOW + SIGNS_AFTER)
    assert list(Guardian.objects.all()) == [pair[1]]


def test_what_is_refused_is_told_to_nobody(as_, school, teacher, mailoutbox):
    twice, stays = make.guardian(school), make.guardian(school)
    make.pupil(school, twice)
    twice.address_changes.create(before="old@example.org", at=make.NOW, digest="x", objected_at=make.NOW)

    answer = as_(teacher).post(page(twice), {"into": stays.pk})

    assert answer.status_code == 409
    assert "can still object" in folded(answer)
    assert mailoutbox == []


def test_who_has_not_proven_it_of_late_is_asked_who_it_is_first(as_, school, monkeypatch):
    teacher = make.staff(Role.TEACHER, school, password=PASSWORD)
    twice, stays = make.guardian(school), make.guardian(school)
    client = as_(teacher)
    monkeypatch.setattr("fleet.desk.pages.pupils.lately_proven", lambda request: False)

    answer = client.post(page(twice), {"into": stays.pk})

    assert answer.url.startswith("/account/")
    assert Guardian.objects.count() == 2


def test_forgetting_takes_out_what_the_record_told_of_all_records_there_were(school, teacher):
    head = make.staff(Role.HEAD, school)
    first = make.guardian(school, name="Mary Quillfeather", email="first@example.org")
    second = make.guardian(school, name="M. Q. Feather", email="second@example.org", telephone="555 0100")
    third = make.guardian(school, name="Maria Feather", email="third@example.org")
    pupil = make.pupil(school, third, name="Ada", left_on=make.TODAY)
    merge_guardians(twice=first, into=second, by=teacher, at=make.NOW)
    merge_guardians(twice=second, into=third, by=teacher, at=make.NOW)

    forget(pupil=pupil, by=head, at=make.NOW)

    told = "".join(Act.objects.values_list("told", flat=True))
    for word in ("Quillfeather", "Feather", "first@", "second@", "third@", "555 0100"):
        assert word not in told
