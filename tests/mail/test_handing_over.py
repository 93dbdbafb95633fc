"""What a letter of the queue goes through on its way to the mail server, and what ends it before."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.mail import send_mail
from django.test import Client
from django.utils import timezone

from fleet.mail.actions import posting, queueing
from fleet.mail.actions.posting import DIED_AFTER, post
from fleet.mail.actions.queueing import let_go
from fleet.mail.models import Outgoing

pytestmark = pytest.mark.django_db
MINUTE, MOMENT = timedelta(minutes=1), timedelta(seconds=1)


def test_a_letter_over_which_the_server_always_hangs_up_keeps_no_other_waiting(queued, postbox):
    send_mail("A code", "5678", None, ["eve@example.org"])
    postbox.refuses["ada@example.org"] = "421 closing down"
    Outgoing.objects.update(queued_at=queued, next_at=queued)

    assert bool(post(at=queued).trouble)
    post(at=queued + MINUTE + MOMENT)

    assert postbox.to() == ["eve@example.org"]


def test_a_letter_keeps_its_message_id_over_every_try(queued, postbox):
    name = Outgoing.objects.get().name
    postbox.answer = "451 later"
    post(at=queued)
    postbox.answer = "250 taken"
    post(at=queued + MINUTE + MOMENT)

    assert [letter["Message-ID"] for letter in postbox.arrived] == [f"<{name}@school.example>"]


def test_a_process_that_is_told_to_stop_hands_over_no_more_and_leaves_the_rest_waiting(queued, postbox, monkeypatch):
    send_mail("A code", "5678", None, ["eve@example.org"])
    said = iter([False, True])
    monkeypatch.setattr(posting, "ends", lambda: next(said))

    assert post(at=timezone.now()).sent == 1
    assert Outgoing.objects.get().state == "waiting"


def test_a_run_that_lasts_long_gives_up_no_letter_that_it_has_just_begun(queued, postbox, monkeypatch):
    later = queued + DIED_AFTER + MINUTE
    monkeypatch.setattr(posting, "going_on", lambda at: lambda: later)
    postbox.answer = "451 later"

    post(at=queued)

    assert Outgoing.objects.get().claimed_at == later


def test_an_address_as_long_as_a_form_lets_it_be_gets_an_answer(mail):
    long = f"{'a' * 60}@{'.'.join(['b' * 60] * 4)}.org"
    assert Client().post("/account/code/", {"email": long}).status_code == 302
    assert Outgoing.objects.get().address == long


def test_what_cannot_begin_beside_a_page_breaks_no_page(mail, monkeypatch, django_capture_on_commit_callbacks):
    def no_thread(*_: object) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(queueing, "post_soon", no_thread)
    with django_capture_on_commit_callbacks(execute=True):
        send_mail("A code", "1234", None, ["ada@example.org"])

    assert Outgoing.objects.get().state == "waiting"


def test_nothing_waits_any_more_for_somebody_who_is_forgotten(queued):
    send_mail("A code", "5678", None, ["eve@example.org"])
    let_go(addresses=["Ada@example.org", ""])

    assert Outgoing.objects.get().address == "eve@example.org"
