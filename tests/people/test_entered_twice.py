"""A pupil who was entered twice: both records become one."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils.translation import override

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.actions.pupils import merge, on_record, strike_out
from fleet.lending.models import PastLoan
from fleet.people.models import Opening, Pupil
from fleet.record.models import Act, Deed
from fleet.register.models import Horn
from fleet.workshop.actions.reports import report_fault
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


def test_loans_reports_and_guardians_go_to_the_record_that_stays(as_, school, teacher, mailoutbox):
    mother, father = make.guardian(school, email="m@example.org"), make.guardian(school, email="f@example.org")
    stays = make.pupil(school, mother, name="Ada Quill", group="Band")
    twice = make.pupil(school, father, name="A. Quill", group="5a", pupil_id="S7", family_name="Quill")
    horn = make.horn(school)
    loan = make.loan(horn, twice, teacher)
    report_fault(horn=horn, words="It sticks", still_plays=True, by=teacher, pupil=twice, at=make.NOW)
    client, page = as_(teacher), reverse("people:pupil-twice", args=[school.slug, twice.pk])
    shown = folded(client.get(page))
    assert on_record(twice) == {"1 loan": 1, "1 fault report": 1}
    assert "<li>1 loan</li>" in shown
    assert "answers for the other record too" in shown

    answer = client.post(page, {"into": stays.pk})

    assert answer.url == reverse("people:pupil", args=[school.slug, stays.pk])
    loan.refresh_from_db()
    stays.refresh_from_db()
    twice.refresh_from_db()
    assert loan.pupil == stays
    assert on_record(twice) == {}
    assert (stays.group, stays.pupil_id, stays.family_name) == ("Band", "S7", "Quill")
    assert (twice.struck_out, twice.pupil_id, list(twice.guardians.all())) == ("Entered twice: Ada Quill", "", [])
    assert Horn.objects.get(pk=horn.pk).holder_name == "Ada Quill"
    assert Act.objects.filter(deed=Deed.PUPILS_MERGED, pupil=stays, told__contains="A. Quill").exists()
    # A second address must not come to sign at once by a second record.
    assert {one.name for one in stays.guardians.all()} == {mother.name, father.name}
    father.refresh_from_db()
    assert father.signs_from(father.address_since) == father.address_since + timedelta(days=7)
    assert [letter.to for letter in mailoutbox] == [["m@example.org"]]


def test_only_another_pupil_of_this_school_who_is_in_the_lists_can_stay(as_, school, teacher):
    ada, ben = make.pupil(school, name="Ada"), make.pupil(school, name="Ben")
    gone = strike_out(pupil=make.pupil(school, name="Sum"), reason="A sum", by=teacher, at=make.NOW)
    elsewhere = make.pupil(make.school(), name="Di")
    page = reverse("people:pupil-twice", args=[school.slug, ada.pk])

    form = as_(teacher).get(page).context["form"]
    assert list(form.fields["into"].queryset) == [ben]
    for other in (ada, gone, elsewhere):
        assert as_(teacher).post(page, {"into": other.pk}).status_code == 422
        with pytest.raises(Refused):
            merge(twice=ada, into=other, by=teacher, at=make.NOW)
    with pytest.raises(Refused, match="Sum is struck out already"):
        merge(twice=gone, into=ada, by=teacher, at=make.NOW)


def test_two_who_wait_to_sign_for_the_same_horn_are_not_put_together_and_nobody_is_told(
    as_, school, teacher, mailoutbox
):
    horn = make.horn(school)
    stays, twice = (make.pupil(school, make.guardian(school), name=name) for name in ("Ada", "Ada Q"))
    for one in (stays, twice):
        make.signature(horn, one, teacher)
    page = reverse("people:pupil-twice", args=[school.slug, twice.pk])

    answer = as_(teacher).post(page, {"into": stays.pk})

    assert answer.status_code == 409
    assert "Ada Q and Ada both wait to sign for the same horn. Take one of the two back first." in folded(answer)
    assert mailoutbox == []
    assert Pupil.objects.get(pk=twice.pk).struck_out == ""


def test_who_looked_at_what_would_go_over_is_noted(as_, school, teacher):
    pupil = make.pupil(school, make.guardian(school), name="Ada")

    as_(teacher).get(reverse("people:pupil-twice", args=[school.slug, pupil.pk]))

    opening = Opening.objects.get()
    assert (opening.pupil, opening.by, opening.page) == (pupil, teacher, "people:pupil-twice")
    page = as_(make.staff(Role.HEAD, school)).get(reverse("people:openings", args=[school.slug]))
    assert "what two records of a pupil hold" in folded(page)


def test_whoever_looked_at_one_record_looked_at_the_pupil(as_, school, teacher):
    stays, twice = make.pupil(school, name="Ada"), make.pupil(school, name="Ada Q")
    as_(teacher).get(reverse("people:pupil", args=[school.slug, twice.pk]))

    merge(twice=twice, into=stays, by=teacher, at=make.NOW)

    assert Opening.objects.get().pupil == stays


def test_the_horn_of_the_record_that_stays_goes_by_the_class_it_takes_over(school, teacher):
    stays = make.pupil(school, make.guardian(school), name="Ada Quill", group="")
    twice = make.pupil(school, name="A. Quill", group="5a")
    horn = make.horn(school)
    make.loan(horn, stays, teacher)

    merge(twice=twice, into=stays, by=teacher, at=make.NOW)

    assert Horn.objects.get(pk=horn.pk).holder_group == "5a"


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("en-gb", "1 loan, 2 past loans, 2 requests to sign, 2 sheets to sign, 2 wishes, 2 fault reports"),
        (
            "de",
            "1 Ausleihe, 2 frühere Ausleihen, 2 Bitten um Unterschrift, 2 Scheine zum Unterschreiben, 2 Wünsche, "
            "2 Meldungen von Familien",
        ),
    ],
)
def test_what_goes_over_is_counted_in_words(school, teacher, language, told):
    pupil = make.pupil(school, make.guardian(school))
    make.loan(make.horn(school), pupil, teacher)
    for one in (make.horn(school), make.horn(school)):
        make.signature(one, pupil, teacher)
        make.sheet(one, pupil, teacher)
        make.report(one, teacher, pupil=pupil)
        make.wish(pupil, teacher, horn=one)
        PastLoan.objects.create(horn=one, pupil=pupil, issued_on=make.TODAY, returned_on=make.TODAY)

    with override(language):
        assert sorted(on_record(pupil)) == sorted(told.split(", "))
