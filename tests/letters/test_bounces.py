"""Reports that a letter came back. The messages are written after the examples of RFC 3464, appendix E."""

from __future__ import annotations

import io
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection
from hypothesis import given
from hypothesis import strategies as st

from fleet.letters.actions.bounces import failures, take
from fleet.letters.models import Letter
from fleet.record.models import Act, Deed
from tests import make
from tests.test_settings import manage

REPORT = """\
Date: Thu, 7 Jul 1994 17:16:05 -0400
From: Mail Delivery Subsystem <MAILER-DAEMON@cs.example.org>
To: <horns@school.example>
Subject: Returned mail
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status; boundary="RAA14128.773615765/CS.UTK.EDU"

--RAA14128.773615765/CS.UTK.EDU

The original message was not delivered.

--RAA14128.773615765/CS.UTK.EDU
Content-Type: message/delivery-status

Reporting-MTA: dns; cs.example.org

Original-Recipient: rfc822;{address}
Final-Recipient: rfc822;forwarded@elsewhere.example
Action: {action}
Status: 5.1.1
Diagnostic-Code: smtp; 550 5.1.1 no such
 mailbox

--RAA14128.773615765/CS.UTK.EDU
Content-Type: {returned}

{head}
--RAA14128.773615765/CS.UTK.EDU--
"""


def report(letter, *, action="failed", returned="message/rfc822", head=None, address=None):
    own = f"Message-ID: <letter-{letter.pk}-{letter.tries}@school.example>\nSubject: The horn\n\nDear …\n"
    said = REPORT.format(
        address=address or letter.address, action=action, returned=returned, head=own if head is None else head
    )
    return said.replace("\n", "\r\n").encode()


@pytest.fixture
def sent(lending):
    loan = lending.issue()
    return make.letter(loan, state="sent", tries=1, address="maria@example.org", sent_at=make.NOW)


@pytest.mark.parametrize("returned", ["message/rfc822", "text/rfc822-headers"])
def test_a_letter_that_came_back_stands_among_those_that_did_not_arrive(sent, returned):
    assert take(raw=report(sent, returned=returned), at=make.NOW) == [sent]

    sent.refresh_from_db()
    assert (sent.state, sent.trouble) == ("bounced", "5.1.1 550 5.1.1 no such mailbox")
    assert list(Letter.objects.undelivered()) == [sent]


@pytest.mark.parametrize("returned", ["message/rfc822", "text/rfc822-headers", "message/rfc822-headers"])
def test_of_two_letters_to_an_address_the_one_that_the_report_returns_came_back(sent, returned):
    later = make.NOW + timedelta(minutes=1)
    make.letter(sent.loan, occasion="after-2", state="sent", tries=1, address=sent.address, sent_at=later)

    assert take(raw=report(sent, returned=returned), at=later) == [sent]


def test_the_same_report_twice_marks_nothing_twice_nor_a_letter_sent_again(sent):
    take(raw=report(sent), at=make.NOW)
    assert take(raw=report(sent), at=make.NOW) == []
    act = Act.objects.get(deed=Deed.LETTER_CAME_BACK)
    assert (act.by, act.guardian, act.lines[1]) == (None, sent.guardian, ["why", Letter.objects.get().trouble])
    Letter.objects.update(state="sent", tries=2)
    assert take(raw=report(sent), at=make.NOW) == []
    assert Letter.objects.get().state == "sent"


@pytest.mark.parametrize("action", ["delayed", "delivered", "relayed", "expanded", ""])
def test_what_is_not_a_failure_marks_nothing(sent, action):
    assert take(raw=report(sent, action=action), at=make.NOW) == []


def test_a_report_without_the_letter_goes_by_the_newest_one_to_that_address(sent):
    older = make.letter(
        sent.loan, occasion="before-3", state="sent", address=sent.address, sent_at=make.NOW - timedelta(days=3)
    )
    assert take(raw=report(sent, head="", address="Maria@Example.org"), at=make.NOW) == [sent]
    older.refresh_from_db()
    assert older.state == "sent"


def test_a_report_about_somebody_elses_letter_marks_nothing(sent):
    foreign = "Message-ID: <20260914.1@elsewhere.example>\n\n"
    assert take(raw=report(sent, head=foreign), at=make.NOW) == []
    assert take(raw=report(sent, head="", address="nobody@example.org"), at=make.NOW) == []


@pytest.mark.parametrize("raw", [b"", b"Subject: hello\n\nI cannot come on Friday.\n", b"\xff\xfe\x00" * 50])
def test_any_other_mail_is_none_of_ours(db, raw):
    assert take(raw=raw, at=make.NOW) == []


@given(st.binary(max_size=400), st.integers(0, 900))
def test_no_message_however_broken_makes_it_stumble(junk, at):
    whole = REPORT.format(address="a@example.org", action="failed", returned="message/rfc822", head="x").encode()
    assert all(one.address is not None for one in failures(whole[:at] + junk + whole[at:]))


def test_the_command_reads_a_message_from_a_pipe(sent, monkeypatch):
    for said in ("1 letter came back.\n", "0 letters came back.\n"):
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(report(sent))))
        call_command("bounced", stdout=(out := StringIO()))
        assert out.getvalue() == said


def test_a_report_that_cannot_be_taken_in_now_is_left_to_the_mail_server_to_bring_again(tmp_path, sent, monkeypatch):
    # As nobody, whom a line in the server's aliases would run it as: what is the site's is closed to others.
    (tmp_path / "file").touch()
    told = manage("bounced", data=tmp_path / "file" / "closed")
    assert (told.returncode, len(told.stderr.splitlines()), "cannot be made" in told.stderr) == (75, 1, True)

    def away(*args, **more):
        raise DatabaseError("away")

    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(report(sent))))
    with connection.execute_wrapper(away), pytest.raises(CommandError, match="does not answer: away") as refused:
        call_command("bounced")
    assert refused.value.returncode == 75


def test_staff_who_get_the_report_themselves_record_it_on_the_letters_page(lending, sent, as_):
    client, address = as_(lending.teacher), f"/s/{lending.school.slug}/loans/letters/{sent.pk}/"
    assert "It came back undelivered" in client.get(address).content.decode()
    client.post(address, {"do": "came-back"})

    sent.refresh_from_db()
    assert (sent.state, sent.trouble) == ("bounced", f"{lending.teacher} recorded that it came back.")
    assert f"{sent.guardian} was not reached" in client.get(f"/s/{lending.school.slug}/").content.decode()
