"""The sheet of a loan that came in by a list, signed after all."""

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.record.models import Act, Deed
from fleet.signing.actions.signed_later import record_signed
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


@pytest.fixture
def listed() -> Loan:
    school = make.school()
    head = make.staff(Role.HEAD, school)
    pupil = make.pupil(school, make.guardian(school, name="Ann Quill"), name="Ada Quill")
    issued = make.TODAY - timedelta(days=90)
    return make.loan(make.horn(school, number="H-1"), pupil, head, issued_on=issued, signed_on=None, from_list=True)


def test_the_signature_of_a_loan_from_a_list_is_recorded_on_its_page(listed: Loan, as_):
    client, slug = as_(listed.issued_by), listed.horn.school.slug
    assert "not yet: it came in with a list" in folded(client.get(reverse("loans:loan", args=[slug, listed.pk])))
    page = reverse("loans:signed", args=[slug, listed.pk])
    assert client.post(page, {"signed_on": str(make.TODAY)}).status_code == 422

    client.post(page, {"signed": "on", "signed_on": str(make.TODAY - timedelta(days=1))})

    listed.refresh_from_db()
    assert listed.signed_on == make.TODAY - timedelta(days=1)
    assert Act.objects.filter(deed=Deed.SHEET_SIGNED, horn=listed.horn).exists()
    assert not Loan.objects.unsigned().exists()
    assert "Signed on 13 September 2026." in folded(client.get(page))


def test_a_sheet_is_signed_once_and_not_on_a_day_to_come(listed: Loan):
    how = {"loan": listed, "by": listed.issued_by, "at": make.NOW}
    with pytest.raises(Refused, match="has not come yet"):
        record_signed(signed_on=make.TODAY + timedelta(days=1), **how)
    record_signed(signed_on=make.TODAY, **how)
    with pytest.raises(Refused, match="Ann Quill signed for H-1 on 14 September 2026 already"):
        record_signed(signed_on=make.TODAY, **how)


def test_a_loan_that_has_ended_is_signed_by_nobody_any_more(listed: Loan):
    Loan.objects.filter(pk=listed.pk).update(returned_on=make.TODAY)

    assert not Loan.objects.unsigned().exists()
    with pytest.raises(Refused, match="This loan ended on"):
        record_signed(loan=listed, signed_on=make.TODAY, by=listed.issued_by, at=make.NOW)
