"""Whoever had a guardian's address before can say by the letter's link that they asked for no change."""

from __future__ import annotations

import re
import time
from datetime import timedelta

import pytest
from django.conf import settings as site
from django.core import mail

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.people.actions.objecting import look_into, object_to_change
from fleet.people.models import AddressChange, Guardian
from fleet.people.models.families import SIGNS_AFTER
from fleet.record.models import Act, Deed
from tests import make
from tests.at_once import all_at_once
from tests.browser_client import Browser
from tests.pages import folded
from tests.people.entrance import PASSWORD
from tests.signing.test_who_signs import MOMENT, guardian_page, said_of

pytestmark = pytest.mark.usefixtures("at_noon")
NEW = "new@example.org"


@pytest.fixture
def head(lending):
    return make.staff(Role.HEAD, lending.school, name="Hanna Head", password=PASSWORD)


@pytest.fixture
def change(lending, as_, head):
    """The address of the guardian is changed by a teacher; gives the page that the letter to the old one leads to."""
    before = lending.guardian.email
    as_(lending.teacher).post(guardian_page(lending), said_of(lending, email=NEW))
    (letter,) = (one for one in mail.outbox if one.to == [before])
    (path,) = re.findall(r"^http://testserver(/not-me/\S+/)$", letter.body, re.M)
    mail.outbox.clear()
    return path


def of(lending):
    return Guardian.objects.get(pk=lending.guardian.pk)


def test_the_button_puts_the_old_address_back_and_the_heads_read_of_it(lending, as_, change, head):
    before = lending.guardian

    page = folded(Browser().get(change))
    assert f"{lending.school} has on record for {before} was changed" in page
    assert NEW not in page
    assert of(lending).email == NEW
    answer = Browser().post(change, follow=True)

    assert "The heads of the school read of it" in folded(answer)
    now = of(lending)
    assert (now.email, now.user, now.address_by, now.address_since) == (before.email, before.user, None, make.NOW)
    with pytest.raises(Refused, match="is new"):
        lending.put_before(at=make.NOW + SIGNS_AFTER - MOMENT)
    assert f"{now}: the e-mail address" in folded(as_(head).get(f"/s/{lending.school.slug}/"))
    assert "the e-mail address" not in folded(as_(lending.teacher).get(f"/s/{lending.school.slug}/"))
    (letter,) = mail.outbox
    assert letter.to == [NEW]
    assert "is on record again, and this one is not" in letter.body
    assert head.email in letter.body
    act = Act.objects.get(deed=Deed.ADDRESS_OBJECTED)
    assert (act.by_id, act.guardian_id, act.page) == (None, now.pk, "address-objection")
    assert ["e-mail", NEW, before.email] in act.lines


def test_opening_the_page_does_nothing_and_no_store_keeps_it(change):
    answer = Browser().get(change)

    assert (answer.status_code, "no-store" in answer["Cache-Control"]) == (200, True)
    assert AddressChange.objects.get().objected_at is None


def test_the_link_works_once(change):
    Browser().post(change)

    for answer in (Browser().get(change), Browser().post(change)):
        assert (answer.status_code, "The link is used up" in folded(answer)) == (404, True)
    assert Act.objects.filter(deed=Deed.ADDRESS_OBJECTED).count() == 1


@pytest.mark.parametrize(("later", "status"), [(SIGNS_AFTER - MOMENT, 200), (SIGNS_AFTER, 404)])
def test_the_link_works_until_the_new_address_signs(change, monkeypatch, later, status):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW + later)

    assert Browser().get(change).status_code == status


@pytest.mark.parametrize("secret", ["x", "x" * 3000, "\ud800", "%00"])
def test_any_other_secret_opens_nothing(change, secret):
    path = "/not-me/" + secret.encode("utf-8", "surrogatepass").decode("latin-1") + "/"

    assert Browser().get(path).status_code == 404


def test_a_link_that_is_no_secret_is_not_kept_and_its_hash_opens_nothing(change):
    digest = AddressChange.objects.get().digest

    assert digest not in change
    assert Browser().get(f"/not-me/{digest}/").status_code == 404


def test_two_changes_do_not_take_the_first_addresss_link_away_and_end_the_seconds(lending, as_, change):
    honest = lending.guardian.email
    as_(lending.teacher).post(guardian_page(lending), said_of(lending, email="other@example.org"))
    second = re.findall(r"/not-me/\S+/", next(one.body for one in mail.outbox if one.to == [NEW]))[0]

    Browser().post(change)

    assert of(lending).email == honest
    assert Browser().post(second).status_code == 404


def test_who_takes_an_address_away_first_and_gives_another_later_is_noticed_all_the_same(lending, as_, head):
    honest, teacher = lending.guardian.email, as_(lending.teacher)
    teacher.post(guardian_page(lending), said_of(lending, email="", telephone="1"))
    teacher.post(guardian_page(lending), said_of(lending, email=NEW, telephone=""))

    first = next(one for one in mail.outbox if one.to == [honest])
    assert "took your e-mail address off the record" in first.body
    Browser().post(re.findall(r"/not-me/\S+/", first.body)[0])
    assert (of(lending).email, of(lending).telephone) == (honest, "")


def test_an_address_that_was_put_back_already_is_told_of_no_more_and_heads_still_look(lending, as_, change, head):
    as_(lending.teacher).post(guardian_page(lending), said_of(lending))
    mail.outbox.clear()

    Browser().post(change)

    assert mail.outbox == []
    assert AddressChange.objects.get().objected_at == make.NOW


def test_where_somebody_else_has_the_address_by_now_the_new_one_waits_longer_and_heads_look(lending, change, head):
    make.guardian(lending.school, email=lending.guardian.email, with_account=False)

    Browser().post(change)

    assert (of(lending).email, of(lending).address_since) == (NEW, make.NOW)
    assert AddressChange.objects.get().objected_at == make.NOW


def test_without_a_mail_server_it_is_put_back_all_the_same(lending, change, settings):
    settings.EMAIL_BACKEND = "fleet.mail.actions.queueing.Queue"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_USE_TLS = "127.0.0.1", 1, False

    assert Browser().post(change).status_code == 302
    assert of(lending).email == lending.guardian.email


def test_until_a_head_has_looked_only_heads_change_the_address(lending, as_, change, head):
    Browser().post(change)
    teacher, page = as_(lending.teacher), guardian_page(lending)

    refused = teacher.post(page, said_of(lending, email="third@example.org"))
    assert (refused.status_code, "A head looks first." in folded(refused)) == (409, True)
    assert mail.outbox[1:] == []
    assert teacher.post(page, said_of(lending, name="Maria Renamed")).status_code == 302
    assert "A head looks into it." in folded(teacher.get(page))
    assert "It is looked into" in folded(as_(head).get(page))
    as_(head).post(f"{page}looked-into/")

    assert not AddressChange.objects.exists()
    assert Act.objects.get(deed=Deed.OBJECTION_SETTLED).by_id == head.pk
    with pytest.raises(Refused, match="looked into it already"):
        look_into(guardian=of(lending), by=head, at=make.NOW)
    assert teacher.post(page, said_of(lending, email="third@example.org")).status_code == 302


def test_a_head_may_change_it_before(lending, as_, change, head):
    Browser().post(change)

    assert as_(head).post(guardian_page(lending), said_of(lending, email=NEW)).status_code == 302
    assert of(lending).email == NEW


# An open session alone changes no address


@pytest.mark.parametrize("role", [Role.TEACHER, Role.HEAD, Role.SERVICE])
def test_an_old_session_changes_an_address_only_after_a_proof(lending, as_, role):
    client = as_(make.staff(role, lending.school, password=PASSWORD))
    session = client.session
    session["signed_in"] = time.time() - (site.PROOF_MINUTES + 0.5) * 60
    session.save()
    page = guardian_page(lending)

    assert client.get(page).status_code == 200
    assert client.post(page, said_of(lending, name="Maria Renamed")).url != "/account/reauthenticate/"
    answer = client.post(page, said_of(lending, email=NEW))

    assert answer.url == "/account/reauthenticate/"
    assert (of(lending).email, mail.outbox) == (lending.guardian.email, [])
    kept = client.post(answer.url, {"password": PASSWORD})
    client.post(kept.context["to"], dict(kept.context["pairs"]))
    assert of(lending).email == NEW


@pytest.mark.django_db(transaction=True)
def test_of_two_presses_at_one_moment_one_counts():
    guardian = make.guardian(make.school())
    change = guardian.address_changes.create(before="old@example.org", at=make.NOW, digest="x")
    later = make.NOW + timedelta(hours=1)

    done = all_at_once([lambda: object_to_change(change=change, by=None, at=later)] * 2)

    assert sorted(type(one).__name__ for one in done) == ["AddressChange", "Refused"]
    assert Act.objects.filter(deed=Deed.ADDRESS_OBJECTED).count() == 1
