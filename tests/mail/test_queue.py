"""Codes and notices wait for the mail server in a queue, and a page never does: against servers of this machine."""

from __future__ import annotations

import socket
import threading
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.core.mail import EmailMessage, send_mail
from django.core.management import CommandError, call_command
from django.db import transaction
from django.test import Client
from django.utils import timezone

from fleet.ground.access import Role
from fleet.mail.actions.errands import beside
from fleet.mail.actions.posting import DIED_AFTER, REMEMBERED, post
from fleet.mail.actions.queueing import GOOD_FOR
from fleet.mail.models import Outgoing
from fleet.mail.queries import gone_wrong, lying, refused
from tests import make
from tests.mail.postbox import open_postbox

pytestmark = pytest.mark.django_db
MINUTE, MOMENT = timedelta(minutes=1), timedelta(seconds=1)
NOBODYS = {"address": "", "subject": "", "words": ""}


@contextmanager
def silent(port: int):
    """Takes every call and says nothing."""
    with socket.create_server(("127.0.0.1", port)) as listener:
        yield listener


@contextmanager
def speaking(port: int, *lines: bytes):
    """Says these lines, one after each that it hears, and hangs up."""

    def serve(listener: socket.socket) -> None:
        call, _ = listener.accept()
        with call:
            for line in lines:
                call.sendall(line + b"\r\n")
                call.recv(4096)

    with socket.create_server(("127.0.0.1", port)) as listener:
        thread = threading.Thread(target=serve, args=(listener,), daemon=True)
        thread.start()
        yield
        thread.join(5)


def left() -> dict[str, str]:
    return Outgoing.objects.values("address", "subject", "words").get()


def test_what_is_sent_waits_in_the_queue_and_nothing_of_it_is_left_once_it_went(queued, postbox):
    assert post(at=queued).sent == 1

    (letter,) = postbox.arrived
    assert (letter["To"], letter["Subject"], letter.get_content().strip()) == ("ada@example.org", "A code", "1234")
    assert letter["Auto-Submitted"] == "auto-generated"
    assert letter["Message-ID"].endswith("@school.example>")
    assert not Outgoing.objects.exists()
    assert (post(at=queued).sent, len(postbox.arrived)) == (0, 1)


def test_a_page_is_answered_while_the_server_is_silent(mail):
    person = make.user()
    with silent(mail) as listener:
        answer = Client().post("/account/code/", {"email": person.email})
        # Nobody has called: who does waits as long as the settings allow.
        listener.setblocking(False)
        with pytest.raises(BlockingIOError):
            listener.accept()

    assert (answer.status_code, Outgoing.objects.get().address) == (302, person.email)


def test_what_is_undone_sends_nothing(mail):
    with transaction.atomic():
        send_mail("A telling", "Words", None, ["ada@example.org"])
        transaction.set_rollback(True)

    assert not Outgoing.objects.exists()


def test_a_code_goes_no_more_once_it_is_of_no_use(mail, settings):
    Client().post("/account/code/", {"email": make.user().email})
    code = Outgoing.objects.get()
    assert code.good_until - code.queued_at == timedelta(seconds=settings.ACCOUNT_LOGIN_BY_CODE_TIMEOUT)

    with open_postbox(mail) as box:
        told = post(at=code.good_until + MOMENT)
        assert (told.given_up, box.arrived) == (1, [])

    assert left() == NOBODYS
    assert gone_wrong() == {"waited until it was of no use": 1}


def test_on_its_last_moment_it_still_goes(queued, postbox):
    assert post(at=queued + GOOD_FOR).sent == 1


def test_a_server_that_is_away_touches_none_and_gets_them_when_it_is_back(queued, mail):
    told = post(at=queued)
    assert (told.sent, bool(told.trouble), Outgoing.objects.get().tries) == (0, True, 0)

    with open_postbox(mail) as box:
        assert post(at=queued + MINUTE - MOMENT).sent == 0
        assert post(at=queued + MINUTE).sent == 1
        assert box.to() == ["ada@example.org"]


def test_a_silent_server_is_one_that_is_away(queued, mail, settings):
    settings.EMAIL_TIMEOUT = 0.2
    with silent(mail):
        assert "timed out" in post(at=queued).trouble

    assert Outgoing.objects.get().state == "waiting"


def test_a_server_that_hangs_up_before_the_words_gets_the_letter_again(queued, mail):
    with speaking(mail, b"220 here", b"250 well", b"250 yes"):
        assert post(at=queued).trouble
    with open_postbox(mail) as box:
        assert post(at=queued + MINUTE + MOMENT).sent == 1
        assert len(box.arrived) == 1


def test_a_server_that_hangs_up_over_the_words_gets_it_never_again(queued, postbox):
    postbox.hangs_up = True
    told = post(at=queued)
    postbox.hangs_up = False

    assert (told.sent, told.given_up, bool(told.trouble)) == (0, 1, True)
    assert left() == NOBODYS
    assert post(at=queued + MINUTE).sent == 0
    assert len(postbox.arrived) == 1
    assert gone_wrong() == {"may have arrived": 1}


def test_what_a_process_died_over_goes_never_again(queued, postbox):
    Outgoing.objects.update(state="going", claimed_at=queued)
    post(at=queued + DIED_AFTER)
    assert Outgoing.objects.get().state == "going"

    post(at=queued + DIED_AFTER + MOMENT)

    assert (Outgoing.objects.get().state, left(), postbox.arrived) == ("unsure", NOBODYS, [])


def test_an_address_that_is_refused_keeps_no_other_waiting_and_no_name_in_the_log(queued, postbox, caplog):
    send_mail("A code", "5678", None, ["eve@example.org"])
    postbox.refuses["ada@example.org"] = "550 ada@example.org is unknown"

    told = post(at=timezone.now())

    assert (told.sent, told.given_up, postbox.to()) == (1, 1, ["eve@example.org"])
    assert left() == NOBODYS
    assert ("(550)" in caplog.text, "ada" in caplog.text) == (True, False)


@pytest.mark.parametrize(("answer", "told"), [("550 unknown", True), ("451 later", False)])
def test_staff_are_told_beside_an_address_that_its_letters_are_refused_until_it_is_another(
    queued, postbox, as_, answer, told
):
    school = make.school()
    guardian = make.guardian(school, email="Ada@example.org")
    postbox.refuses["ada@example.org"] = answer
    post(at=timezone.now())

    client, page = as_(make.staff(Role.HEAD, school)), f"/s/{school.slug}/guardians/{guardian.pk}/"
    assert ("refused a letter to this address" in client.get(page).content.decode()) is told
    assert ("takes no letters" in client.get(f"/s/{school.slug}/").content.decode()) is told
    # Another's, and who has none.
    assert refused(["eve@example.org", ""]) == set()
    guardian.email = "ada@new.example.org"
    guardian.save(update_fields=["email"])
    assert "refused a letter to this address" not in client.get(page).content.decode()
    assert "takes no letters" not in client.get(f"/s/{school.slug}/").content.decode()


def test_a_server_that_asks_for_patience_gets_it_with_longer_and_longer_waits(queued, postbox):
    postbox.refuses["ada@example.org"] = "451 later"
    waits, at = [], queued
    for _ in range(8):
        post(at=at)
        waits.append((Outgoing.objects.get().next_at - at) // MINUTE)
        at = Outgoing.objects.get().next_at

    assert waits == [1, 2, 4, 8, 16, 32, 60, 60]
    postbox.refuses.clear()
    assert post(at=at).sent == 1


def test_each_address_has_its_own_letter_and_a_line_end_begins_no_header(mail):
    EmailMessage("A\nBcc: eve@example.org", "Words", None, ["ada@example.org", "bob@example.org"]).send()

    rows = Outgoing.objects.order_by("pk")
    assert [(row.address, row.subject) for row in rows] == [
        ("ada@example.org", "A Bcc: eve@example.org"),
        ("bob@example.org", "A Bcc: eve@example.org"),
    ]
    assert len({row.name for row in rows}) == 2


def test_what_did_not_go_is_remembered_for_a_week(queued, mail):
    Outgoing.objects.update(state="refused", **NOBODYS)
    post(at=queued + REMEMBERED)
    assert Outgoing.objects.exists()
    post(at=queued + REMEMBERED + MOMENT)
    assert not Outgoing.objects.exists()


def test_what_waits_longer_than_is_usual_is_counted(queued):
    assert (lying(queued + 15 * MINUTE), lying(queued + 15 * MINUTE + MOMENT)) == (0, 1)


def test_the_command_sends_and_says_what_keeps_it(queued, mail, settings, capsys):
    with pytest.raises(CommandError, match="The mail server is away"):
        call_command("send_mail")
    Outgoing.objects.update(next_at=queued)
    with open_postbox(mail) as box:
        call_command("send_mail")
        assert len(box.arrived) == 1
    assert capsys.readouterr().out == ""
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    with pytest.raises(CommandError, match="No mail server is set"):
        call_command("send_mail")


@pytest.mark.either_engine
def test_an_errand_asked_for_again_meanwhile_is_done_once_more_and_one_that_fails_keeps_no_other():
    done: list[str] = []
    begun, go_on = threading.Event(), threading.Event()

    def first() -> None:
        begun.set()
        go_on.wait(5)
        done.append("first")
        raise OSError

    thread = beside("tried", first)
    assert thread
    begun.wait(5)
    for _ in range(3):
        assert beside("tried", lambda: done.append("again")) is None
    go_on.set()
    thread.join(5)
    assert done == ["first", "again"]
    last = beside("tried", lambda: done.append("later"))
    assert last
    last.join(5)
    assert done[-1] == "later"


@pytest.mark.django_db(transaction=True)
def test_a_code_leaves_by_itself_at_once(postbox):
    def by_itself() -> list[threading.Thread]:
        return [thread for thread in threading.enumerate() if thread.name == "mail"]

    person = make.user()
    Client().post("/account/code/", {"email": person.email})
    for thread in by_itself():
        thread.join(10)

    assert postbox.to() == [person.email]
    assert not Outgoing.objects.exists()
