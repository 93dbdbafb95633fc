"""What is done stands on the record: by whom, about whom, from what to what, from which page."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.actions import charges, dates, returning
from fleet.people.actions.accounts import begin_school, end_sessions
from fleet.people.actions.families import save_guardian
from fleet.people.actions.staff import change_post
from fleet.people.models import Guardian, Post
from fleet.people.models.families import SIGNS_AFTER
from fleet.record.models import Act, Deed
from fleet.register.actions.disposing import decide, propose
from fleet.register.actions.horns import amend_horn
from fleet.register.actions.places import keep_place
from fleet.register.actions.restringing import restring
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Place
from fleet.signing.actions import putting_before, signing
from tests import make

WHO = {"at": make.NOW}


@pytest.fixture
def head(school):
    return make.staff(Role.HEAD, school, name="Ines Head")


@pytest.fixture
def client(head, as_):
    entered = as_(head)
    entered.session.save()
    return entered


def acts(*kinds, school=None):
    """(deed, lines) of the acts in their order, without those of signing in."""
    found = Act.objects.order_by("pk")
    if school is not None:
        found = found.filter(school=school)
    return [(one.deed, one.lines) for one in found if not one.deed.startswith("entry.") or "entry" in kinds]


def test_a_pupil_put_on_record_and_changed_on_the_page_tells_who_what_and_from_which_page(school, head, client):
    client.post(reverse("people:pupil-new", args=(school.slug,)), {"name": "Ada Quill", "year": "7", "group": "7A"})
    pupil = school.pupils.get()
    said = {"name": "Ada Quill", "year": "7", "group": "7B", "pupil_id": "", "left_on": ""}
    client.post(reverse("people:pupil-edit", args=(school.slug, pupil.pk)), said)
    # The same again changes nothing.
    client.post(reverse("people:pupil-edit", args=(school.slug, pupil.pk)), said)

    assert acts() == [
        (Deed.PUPIL_NEW, [["pupil", "Ada Quill"], ["year", "7"], ["class or ensemble", "7A"]]),
        (Deed.PUPIL_CHANGED, [["pupil", "Ada Quill"], ["class or ensemble", "7A", "7B"]]),
    ]
    act = Act.objects.latest("pk")
    assert (act.by, act.by_name, act.pupil, act.page) == (head, "Ines Head", pupil, "people:pupil-edit")


def test_a_guardians_address_changed_and_changed_back_stands_there_twice(school, head, client):
    guardian = make.guardian(school, name="Maria Quill", email="maria@example.org")
    pupil = make.pupil(school, guardian)
    address = reverse("people:guardian-edit", args=(school.slug, guardian.pk))
    for mail in ("own@example.org", "maria@example.org"):
        client.post(address, {"name": "Maria Quill", "email": mail, "telephone": "", "pupils": [pupil.pk]})
    client.post(address, {"name": "Maria Quill", "email": "maria@example.org", "telephone": ""})

    named = ["guardian", "Maria Quill"]
    in_a_week = timezone.localdate(Act.objects.earliest("pk").at) + SIGNS_AFTER
    waits = ["signs on the family’s page from", in_a_week.isoformat()]
    assert acts() == [
        (Deed.GUARDIAN_CHANGED, [named, ["e-mail", "maria@example.org", "own@example.org"], waits]),
        (Deed.GUARDIAN_CHANGED, [named, ["e-mail", "own@example.org", "maria@example.org"], waits]),
        (Deed.GUARDIAN_LET_GO, [named, ["pupil", pupil.name]]),
    ]


def test_a_new_guardian_is_put_on_record_and_tied_and_a_known_one_only_tied(school, client):
    for pupil in (make.pupil(school, name="Ada"), make.pupil(school, name="Bo")):
        address = reverse("people:guardian-new", args=(school.slug, pupil.pk))
        client.post(address, {"name": "Maria", "email": "maria@example.org", "telephone": ""})

    assert Guardian.objects.count() == 1
    assert [deed for deed, _ in acts()] == [Deed.GUARDIAN_NEW, Deed.GUARDIAN_TIED, Deed.GUARDIAN_TIED]


def test_a_guardian_who_comes_to_a_pupil_with_somebody_is_said_to_sign_later_and_the_first_is_not(school, head):
    pupil = make.pupil(school)
    for name, mail in (("Maria", "maria@example.org"), ("Otto", "otto@example.org"), ("Ida", "")):
        guardian = Guardian(school=school, name=name, email=mail, telephone="" if mail else "555 0100")
        save_guardian(guardian=guardian, pupil=pupil, by=head, **WHO)

    later = ["signs on the family’s page from", (make.TODAY + SIGNS_AFTER).isoformat()]
    told = [lines for deed, lines in acts() if deed == Deed.GUARDIAN_TIED]
    assert [later in lines for lines in told] == [False, True, False]


def test_posts_given_changed_and_ended_stand_there_and_what_stays_does_not(school, head, client):
    client.post(
        reverse("people:staff-new", args=(school.slug,)), {"name": "Tom", "email": "tom@example.org", "role": "teacher"}
    )
    post = Post.objects.get(user__email="tom@example.org")
    for role in ("teacher", "technician", ""):
        change_post(post=post, role=role, by_role="head", by=head, at=make.NOW)

    assert acts() == [
        (Deed.POST_GIVEN, [["person", "Tom"], ["post", "teacher"], ["e-mail", "tom@example.org"]]),
        (Deed.POST_CHANGED, [["person", "Tom"], ["post", "teacher", "technician"]]),
        (Deed.POST_ENDED, [["person", "Tom"], ["post", "technician", ""]]),
    ]


def test_what_is_refused_leaves_no_act(school, head):
    with pytest.raises(Refused):
        change_post(post=head.posts.get(), role="", by_role="head", by=head, at=make.NOW)
    assert acts() == []


def test_settings_tell_what_was_changed_and_nothing_else(school, client):
    page = reverse("people:settings-workshop", args=(school.slug,))
    form = client.get(page).context["form"]
    said = {name: "" if value is None else value for name, value in form.initial.items()}
    client.post(page, said)
    client.post(page, {**said, "check_days": 200, "approve_above": "50"})

    assert acts() == [
        (
            Deed.SCHOOL_CHANGED,
            [["days until a horn should be checked again", "365", "200"], ["a head approves quotes above", "", "50"]],
        )
    ]


def test_a_school_begun_by_the_command_has_no_person_and_no_page(db):
    school = begin_school(name="Vale", slug="vale", head_name="Ines", head_email="ines@example.org", **WHO)

    act = Act.objects.get(school=school)
    assert (act.deed, act.by, act.by_name, act.page) == (Deed.SCHOOL_BEGUN, None, "", "")
    assert act.lines == [["person", "Ines"], ["post", "department head"]]


def test_a_horns_particulars_tell_from_what_to_what(school, head, client):
    page = reverse("register:horn-new", args=(school.slug,))
    client.post(page, {"number": "HN-7", "maker": "Bell & Sons", "value": "100"})
    horn = school.horns.get()
    place = keep_place(place=Place(school=school), room="Room 1", shelf="", by=head, at=make.NOW)
    changes = {"number": "HN-8", "value": Decimal(120), "place": place, "maker": "Bell & Sons"}
    amend_horn(horn=horn, changes=changes, by=head, at=make.NOW)
    keep_place(place=place, room="Room 2", shelf="", by=head, at=make.NOW)
    keep_place(place=place, room="Room 2", shelf="", by=head, at=make.NOW)

    new, changed = acts()[0], acts()[2]
    assert new[0] == Deed.HORN_NEW
    assert ["horn", "HN-7"] in new[1]
    assert ["maker", "Bell & Sons"] in [[label.lower(), *said] for label, *said in new[1]]
    assert changed[0] == Deed.HORN_CHANGED
    assert [line[1:] for line in changed[1]] == [["HN-7"], ["HN-7", "HN-8"], ["100.00", "120"], ["", "Room 1"]]
    told = [lines for deed, lines in acts() if deed == Deed.PLACE_KEPT]
    assert told == [[["place", "", "Room 1"]], [["place", "Room 1", "Room 2"]]]


def test_what_happens_to_a_horn_stands_there_with_its_reason(school, head):
    second = make.staff(Role.HEAD, school)
    horn = make.horn(school, build="double-full", stands_in="F")
    restring(horn=horn, stands_in="Bb", reason="asked for", by=head, **WHO)
    for kind in ("not-found", "found", "withdrawn", "kept-again"):
        change_standing(horn=horn, kind=kind, reason=f"for {kind}", by=head, **WHO)
        horn.refresh_from_db()
    proposed = propose(horn=horn, method="scrapped", on=make.TODAY, reason="Cracked", by=head, **WHO)
    decide(disposal=proposed, approved=False, answer="Not yet", by=second, **WHO)

    assert [(deed, lines[-1][-1]) for deed, lines in acts()] == [
        (Deed.HORN_RESTRUNG, "asked for"),
        (Deed.HORN_NOT_FOUND, "for not-found"),
        (Deed.HORN_FOUND, "for found"),
        (Deed.HORN_WITHDRAWN, "for withdrawn"),
        (Deed.HORN_KEPT_AGAIN, "for kept-again"),
        (Deed.DISPOSAL_PROPOSED, "Cracked"),
        (Deed.DISPOSAL_TURNED_DOWN, "Not yet"),
    ]
    assert set(Act.objects.values_list("horn", flat=True)) == {horn.pk}


def test_a_loans_dates_charges_and_end_stand_there_about_horn_pupil_and_guardian(school, head):
    pupil = make.pupil(school, make.guardian(school))
    loan = make.loan(make.horn(school), pupil, head)
    sooner, later = loan.due_on - timedelta(days=9), loan.due_on + timedelta(days=9)
    moved = {"reason": "concert", "by": head, "at": make.NOW}
    dates.renew(loan=loan, due_on=later, due_seen=loan.due_on, **moved)
    dates.recall(loan=loan, due_on=sooner, due_seen=later, **moved)
    owed = charges.charge(loan=loan, what="a string", amount=Decimal(5), due_on=make.TODAY, by=head, **WHO)
    charges.settle(charge=owed, state="paid", by=head, **WHO)
    returning.lose(loan=loan, words="On the bus.", by=head, **WHO)

    assert [(deed, lines[3:]) for deed, lines in acts()] == [
        (Deed.LOAN_RENEWED, [["due", str(later - timedelta(days=9)), str(later)], ["reason", "concert"]]),
        (Deed.LOAN_RECALLED, [["due", str(later), str(sooner)], ["reason", "concert"]]),
        (Deed.CHARGED, [["charge", "a string, 5.00 EUR"]]),
        (Deed.CHARGE_SETTLED, [["charge", "a string, 5.00 EUR"], ["state", "due", "paid"]]),
        (Deed.HORN_NOT_FOUND, []),
        (Deed.LOAN_LOST, [["words", "On the bus."]]),
    ]
    last = Act.objects.latest("pk")
    assert (last.horn, last.pupil, last.guardian) == (loan.horn, pupil, loan.guardian)


def test_a_return_and_what_a_family_signs_stand_there(school, head):
    guardian = make.guardian(school)
    pupil = make.pupil(school, guardian)
    horn = make.horn(school)
    loan = make.loan(horn, pupil, head)
    returning.give_back(
        loan=loan,
        returned_on=make.TODAY,
        came_back=[thing.pk for thing in loan.accessories.all()],
        look_over=lambda horn: make.check(horn, head),
        mouthpiece_cleaned_on=make.TODAY,
        notes="",
        by=head,
        **WHO,
    )
    horn.refresh_from_db()
    asked = putting_before.put_before(
        horn=horn,
        pupil=pupil,
        guardian=guardian,
        agreement_version=1,
        check_seen=horn.checks.latest("pk").pk,
        due_on=make.TODAY + timedelta(days=9),
        accessories=[],
        by=head,
        **WHO,
    )
    signing.sign(signature=asked, typed_name="Maria", by=guardian.user, **WHO)
    putting_before.take_back(signature=asked, signed_seen=True, by=head, **WHO)
    putting_before.take_back(signature=asked, signed_seen=True, by=head, **WHO)

    assert [deed for deed, _ in acts()] == [Deed.LOAN_RETURNED, Deed.PUT_BEFORE, Deed.SIGNED, Deed.TAKEN_BACK]
    assert Act.objects.get(deed=Deed.SIGNED).by == guardian.user


def test_lists_taken_along_stand_there_and_looking_at_one_person_does_not(school, head, client):
    pupil = make.pupil(school, make.guardian(school))
    client.get(reverse("people:pupil-edit", args=(school.slug, pupil.pk)))
    client.get(reverse("exchange:pupils-out", args=(school.slug,)))
    client.get(reverse("desk:pupil-data", args=(school.slug, pupil.pk)))

    assert [deed for deed, _ in acts()] == [Deed.TAKEN_ALONG, Deed.TAKEN_OF_PUPIL]
    assert list(Act.objects.order_by("-pk").values_list("page", flat=True))[:2] == [
        "desk:pupil-data",
        "exchange:pupils-out",
    ]


def test_signing_in_stands_at_each_school_of_the_person_and_at_no_other(school, head):
    other, elsewhere = make.school(), make.school()
    make.staff(Role.TEACHER, elsewhere)
    make.guardian(elsewhere)
    Post.objects.create(user=head, school=other, role="teacher")
    end_sessions(user=head, by=head, **WHO)

    assert {one.school for one in Act.objects.filter(deed=Deed.SIGNED_OUT_EVERYWHERE)} == {school, other}
    assert not Act.objects.filter(school=elsewhere).exists()
