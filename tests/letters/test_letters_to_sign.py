"""Letters that an agreement waits to be signed, against a real mail server on the loopback interface."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet.letters.actions.reminding import plan
from fleet.letters.models import LendingRules, Letter
from fleet.letters.queries.due import unwritten
from fleet.letters.queries.next import next_letters
from fleet.people.models import Guardian
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn
from fleet.signing.actions import putting_before, signing
from tests import make
from tests.letters.running import run
from tests.mail.postbox import open_postbox

DAY = timedelta(days=1)


def say(horn, kind, lending):
    change_standing(horn=horn, kind=kind, reason="Looked everywhere.", by=lending.teacher, at=make.NOW)


@pytest.fixture
def asked(lending):
    """An agreement that was put before the guardian."""
    """An agreement that was put before the guardian."""
    return lending.put_before()


def test_a_guardian_is_written_once_that_an_agreement_waits_to_be_signed(lending, asked, postbox):
    run(lending, 0)
    run(lending, 1)

    (letter,) = postbox.arrived
    assert (letter["To"], letter["Subject"]) == (lending.guardian.email, f"Please sign for {lending.pupil}’s horn")
    assert f"https://horns.example.org/family/sign/{asked.pk}/" in letter.get_content()
    assert (Letter.objects.get().signature, Letter.objects.get().state) == (asked, "sent")


def test_with_the_mail_server_down_the_asking_waits_and_goes_once_it_is_back(lending, asked, mail):
    assert run(lending, 0).server_trouble
    with open_postbox(mail) as box:
        run(lending, 1)
        run(lending, 1, 1)
    assert len(box.arrived) == 1


@pytest.mark.parametrize("how", ["signed", "taken back", "issued on paper"])
def test_nobody_is_asked_to_sign_what_need_not_be_signed_any_more(lending, asked, mail, how):
    plan(lending.school, make.NOW)
    if how == "signed":
        signing.sign(signature=asked, typed_name="Maria", by=lending.guardian.user, at=make.NOW)
    elif how == "taken back":
        putting_before.take_back(signature=asked, signed_seen=False, by=lending.teacher, at=make.NOW)
    else:
        lending.issue()
    with open_postbox(mail) as box:
        run(lending, 0)
    assert lending.guardian.email not in box.to()
    assert asked.letters.get().state == "dropped"


def test_an_asking_that_came_back_stands_on_today_until_the_address_is_right(lending, asked, postbox, as_):
    postbox.refuses[lending.guardian.email] = "550 no such mailbox"
    run(lending, 0)
    assert list(Letter.objects.undelivered()) == [asked.letters.get()]
    client = as_(lending.teacher)
    for address in ("", "loans/letters/", f"loans/letters/{asked.letters.get().pk}/"):
        page = client.get(f"/s/{lending.school.slug}/{address}")
        assert page.status_code == 200
        assert str(lending.horn) in page.content.decode()

    Guardian.objects.filter(pk=lending.guardian.pk).update(email="right@example.org")
    run(lending, 1)
    assert postbox.to() == ["right@example.org"]
    assert not Letter.objects.undelivered().exists()


def test_a_school_that_wants_no_letters_asks_nobody_by_letter(lending, asked):
    LendingRules.objects.create(school=lending.school, reminds=False)
    assert plan(lending.school, make.NOW) == []
    assert not asked.letters.exists()


@pytest.mark.parametrize("why", ["signed", "taken back", "the day has passed", "looked over again", "another school’s"])
def test_an_agreement_gets_no_letter_while_there_is_nothing_to_sign(lending, elsewhere, asked, why):
    school, now = lending.school, make.NOW
    if why == "signed":
        signing.sign(signature=asked, typed_name="Maria", by=lending.guardian.user, at=make.NOW)
    elif why == "taken back":
        putting_before.take_back(signature=asked, signed_seen=False, by=lending.teacher, at=make.NOW)
    elif why == "the day has passed":
        now = make.NOW + 101 * DAY
    elif why == "looked over again":
        make.check(lending.horn, lending.teacher, at=make.NOW + DAY)
    else:
        school = elsewhere.school
    plan(school, now)
    assert not Letter.objects.filter(occasion="to-sign").exists()


def test_the_command_shows_what_waits_to_be_signed_until_its_letter_is_made(lending, asked, monkeypatch):
    monkeypatch.setattr("fleet.letters.management.commands.remind.timezone.now", lambda: make.NOW)
    call_command("remind", "--show", stdout=(before := StringIO()))
    plan(lending.school, make.NOW)
    call_command("remind", "--show", stdout=(after := StringIO()))
    assert before.getvalue() == f"{lending.school.slug}, agreement {asked.pk}: to be signed\n"
    assert after.getvalue() == ""


def test_the_command_keeps_to_the_school_that_is_named_and_refuses_one_that_is_not(
    lending, elsewhere, asked, mail, monkeypatch
):
    monkeypatch.setattr("fleet.letters.management.commands.remind.timezone.now", lambda: make.NOW)
    make.signature(make.horn(elsewhere.school), elsewhere.pupil, elsewhere.teacher)
    with open_postbox(mail) as box:
        call_command("remind", "--school", lending.school.slug, stdout=StringIO())
    assert box.to() == [lending.guardian.email]
    with pytest.raises(CommandError, match="There is no school 'nowhere'"):
        call_command("remind", "--school", "nowhere")


def test_what_waits_to_be_signed_is_found_in_one_query(lending, asked, django_assert_num_queries):
    with django_assert_num_queries(1):
        assert [(one, one.guardian) for one in unwritten(lending.school, make.TODAY)] == [(asked, lending.guardian)]


@pytest.mark.parametrize("kept_back", [{"not_found_on": make.TODAY}, {"grade": 3}])
def test_nobody_is_asked_by_letter_to_sign_for_a_horn_that_cannot_be_lent_at_the_moment(lending, asked, kept_back):
    Horn.objects.filter(pk=asked.horn_id).update(**kept_back)

    assert unwritten(lending.school, make.TODAY) == []


def test_a_letter_about_what_the_horn_was_looked_over_since_waits_and_is_not_counted_as_due(lending, asked, postbox):
    plan(lending.school, make.NOW)
    assert next_letters(lending.school, make.NOW).now == 1
    make.check(lending.horn, lending.teacher, at=make.NOW + DAY)

    run(lending, 0)

    assert postbox.to() == []
    assert next_letters(lending.school, make.NOW).now == 0


def test_a_letter_that_waits_goes_once_the_horn_that_was_not_found_is_there_again(lending, asked, postbox):
    plan(lending.school, make.NOW)
    for kind, sent in (("not-found", []), ("found", [lending.guardian.email])):
        say(asked.horn, kind, lending)
        run(lending, 0)
        assert postbox.to() == sent
