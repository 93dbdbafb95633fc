"""A change of address and the letters that tell of it are done together, and a dead old address keeps nobody from a new
one."""

from __future__ import annotations

from django.utils import timezone

from fleet.ground.refusal import Refused
from fleet.mail.actions.posting import post
from fleet.mail.models import Outgoing
from fleet.people.actions.telling import tell
from fleet.people.models import Guardian, School
from fleet.people.queries.addresses import Telling
from tests.signing.test_who_signs import guardian_page, said_of

NEW = "new@example.org"
LETTERS = [
    Telling(name, address, {"guardian": "Ann", "language": "en-gb", "school": School()})
    for name, address in (("address_before", "old@example.org"), ("address_new", NEW))
]


def test_an_old_address_that_is_dead_does_not_keep_the_new_one_from_its_letter(postbox, db):
    postbox.refuses["old@example.org"] = "550 no such mailbox"
    tell(LETTERS)
    post(at=timezone.now())
    assert postbox.to() == [NEW]


def test_what_is_refused_is_told_to_nobody(lending, as_, mail, monkeypatch):
    def no_more(**_: object) -> None:
        raise Refused("Somebody was quicker.")

    monkeypatch.setattr("fleet.desk.pages.pupils.take_off", no_more)

    answer = as_(lending.teacher).post(guardian_page(lending), said_of(lending, email=NEW, pupils=[]))

    assert (answer.status_code, Outgoing.objects.count()) == (409, 0)
    assert Guardian.objects.get(pk=lending.guardian.pk).email == lending.guardian.email
    assert lending.pupil.guardians.exists()


def test_a_mail_server_that_is_away_keeps_no_address_from_being_changed_and_both_letters_wait(lending, as_, mail):
    answer = as_(lending.teacher).post(guardian_page(lending), said_of(lending, email=NEW))

    assert answer.status_code == 302
    assert set(Outgoing.objects.values_list("address", flat=True)) == {NEW, lending.guardian.email}
