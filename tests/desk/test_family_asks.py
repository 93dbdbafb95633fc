"""What a family's pages ask of the database: no more for three children at two schools than for one."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.people.models import Guardian
from fleet.signing.models import OnlineSignature
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.both_engines, pytest.mark.usefixtures("at_ten")]
MOST = 12


def child_of(guardian: Guardian) -> Loan:
    """A child of whom everything waits for the family."""
    school, account = guardian.school, guardian.user
    head, pupil = make.staff(Role.HEAD, school), make.pupil(school, guardian)
    before = make.loan(make.horn(school), pupil, head, returned_on=make.TODAY)
    before.accessories.update(came_back=False)
    make.charge(before, head)
    lost = make.loan(make.horn(school), pupil, head, returned_on=make.TODAY, lost_words="On the bus.")
    make.keep([lost.horn])
    swapped = make.loan(make.horn(school), pupil, head, returned_on=make.TODAY)
    loan = make.loan(make.horn(school, build="double-full", stands_in="F"), pupil, head, in_place_of=swapped)
    make.recalled(loan, head)
    make.charge(loan, head)
    make.ask(loan, account)
    make.finding(make.check(loan.horn, head, grade=3))
    job = make.job(loan.horn, head)
    for horn in (loan.horn, swapped.horn):
        make.report(horn, account, pupil=pupil, job=job if horn == loan.horn else None)
    for one in (loan, before, make.signature(make.horn(school), pupil, head)):
        make.letter(one, subject="Your horn", words="Dear")
    make.signature(make.horn(school), pupil, head, signed_at=make.NOW, typed_name="A B")
    make.signed_sheet(loan, head)
    return loan


def asked(as_, guardians: Iterable[Guardian]) -> dict[str, int]:
    """How many questions each page asks, once what is kept of them is there."""
    loan, *_ = [child_of(one) for one in guardians]
    client, many = as_(loan.guardian.user), {}
    signature = OnlineSignature.objects.filter(pupil=loan.pupil, signed_at=None)[0]
    whole = ["desk:family", "desk:family-papers", "desk:family-calendar", "desk:family-due"]
    one = {"desk:family-horn": loan.pk, "desk:family-renew": loan.pk, "desk:family-sign": signature.pk}
    for page, *args in [*([page] for page in whole), *one.items()]:
        address = reverse(page, args=args)
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        many[page] = len(queries)
    return many


def test_a_familys_pages_ask_as_much_for_three_children_as_for_one(as_):
    one = make.guardian(make.school())
    alone = asked(as_, [one])

    first = make.guardian(make.school())
    other = make.guardian(make.school(), with_account=False, email=first.email)
    other.user = first.user
    other.save()
    several = asked(as_, [first, first, other])

    assert several == alone
    assert max(several.values()) <= MOST
