"""What went home under one version of the agreement stays good when the school writes another."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.ground.refusal import Refused
from fleet.lending.actions.agreements import write_version
from fleet.lending.models import Loan
from fleet.signing.actions.putting_before import put_before
from fleet.signing.actions.sheets import send_home
from fleet.signing.actions.signing import sign
from fleet.signing.queries.awaited import address_of
from tests import make
from tests.pages import folded
from tests.signing.test_batch import pair_of
from tests.signing.test_issue_pages import action_of

pytestmark = pytest.mark.usefixtures("at_noon")


def terms(lending, pupil=None, horn=None, guardian=None):
    horn = horn or lending.horn
    return {
        "horn": horn,
        "pupil": pupil or lending.pupil,
        "guardian": guardian or lending.guardian,
        "agreement_version": 1,
        "check_seen": horn.checks.get().pk,
        "due_on": make.TODAY.replace(year=2027),
        "accessories": ["case"],
    }


def sent_home(lending, *loans):
    return send_home(loans=loans or [terms(lending)], by=lending.teacher, at=make.NOW)


def new_words(lending):
    return write_version(school=lending.school, words="New words.", seen=1, by=lending.teacher, at=make.NOW)


def test_a_sheet_from_before_brings_its_own_version(lending):
    sent_home(lending)
    new_words(lending)

    assert lending.issue(**terms(lending)).agreement.version == 1


def test_what_the_sheet_does_not_say_is_not_signed_by_it(lending):
    sent_home(lending)
    new_words(lending)

    with pytest.raises(Refused, match="newer version"):
        lending.issue(**{**terms(lending), "accessories": ["case", "mute"]})


def test_no_sheet_of_an_earlier_version_goes_home(lending):
    new_words(lending)

    with pytest.raises(Refused, match="newer version"):
        sent_home(lending)


@pytest.mark.parametrize("signed_before", [True, False])
def test_what_a_family_was_shown_on_its_page_it_signs_and_gets_the_horn_by(client, lending, signed_before):
    asked = put_before(**terms(lending), by=lending.teacher, at=make.NOW)
    if not signed_before:
        new_words(lending)
    sign(signature=asked, typed_name="Maria Quill", by=lending.guardian.user, at=make.NOW)
    if signed_before:
        new_words(lending)

    page = client.get(address_of(lending.school, [asked]))
    client.post(reverse("loans:issue", args=[lending.school.slug]) + action_of(page), {})

    assert "The family has version 1 of the agreement" in folded(page)
    assert Loan.objects.get().agreement.version == 1


def test_the_page_of_a_sheet_from_before_prints_no_more_of_it_and_leads_to_the_newest(client, lending):
    [sheet] = sent_home(lending)
    new_words(lending)

    page = client.get(address_of(lending.school, [sheet]))
    newest = client.get(f"{reverse('loans:issue', args=[lending.school.slug])}?{page.context['newest']}")

    assert b'value="print"' not in page.content
    assert b'value="ask"' not in page.content
    assert b'value="print"' in newest.content
    assert "It says something else than what stands here." in folded(newest)


def test_of_a_class_those_with_a_sheet_come_in_and_the_others_are_to_be_printed(client, lending):
    second, other = pair_of(lending, "Yara Two", lending.guardian), pair_of(lending, "Zoe Three", lending.guardian)
    sheets = sent_home(lending, terms(lending), terms(lending, *second))
    new_words(lending)

    address = address_of(lending.school, sheets) + f"&pair={other[0].pk}.{other[1].pk}.{other[1].checks.get().pk}"
    page = client.get(address)
    client.post(address, {"signed": [f"{one.pupil_id}.{one.horn_id}" for one in sheets], "signed_on": make.TODAY})

    stops = {entry.pupil.name: entry.stop for entry in page.context["batch"].entries}
    assert stops.pop("Zoe Three") == "The agreement has a newer version than the sheet. Print it again."
    assert set(stops.values()) == {""}
    assert "These families have version 1" in folded(page)
    assert [loan.agreement.version for loan in Loan.objects.all()] == [1, 1]
    again = client.get(f"{reverse('loans:batch', args=[lending.school.slug])}?{page.context['fresh']}")
    assert b'value="print"' in again.content
