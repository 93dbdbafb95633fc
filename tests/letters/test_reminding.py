"""Letters, against a real mail server on the loopback interface."""

from __future__ import annotations

from datetime import timedelta
from functools import partial
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from hypothesis import example, given
from hypothesis import strategies as st

from fleet.lending.actions import dates
from fleet.lending.models import Loan, LoanPeriod
from fleet.letters.models import LendingRules, Letter
from fleet.letters.queries.due import due_letters, occasion_of
from fleet.people.models import Guardian
from tests import make
from tests.at_once import all_at_once
from tests.lent import set_up
from tests.letters.running import run
from tests.mail.postbox import open_postbox

DAY = timedelta(days=1)


@pytest.fixture
def out(lending):
    """Issued today, due in 40 days."""
    return lending.issue(due_on=make.TODAY + 40 * DAY)


def test_a_guardian_is_written_14_and_3_days_before_and_1_7_and_21_days_after(lending, out, postbox):
    wrote = []
    for day in range(80):
        before = len(postbox.arrived)
        run(lending, day)
        wrote += [day - 40] * (len(postbox.arrived) - before)

    assert wrote == [-14, -3, 1, 7, 21]
    assert set(postbox.to()) == {lending.guardian.email}
    assert list(Letter.objects.order_by("pk").values_list("occasion", flat=True)) == [
        "before-14",
        "before-3",
        "after-1",
        "after-7",
        "after-21",
    ]


def test_a_letter_says_who_what_and_when_in_the_schools_words(lending, out, postbox):
    LendingRules.objects.create(
        school=lending.school, before_subject="Horn {horn}", before_words="Dear {guardian}, by {due} ({days}): {page}"
    )
    run(lending, 26)

    letter = postbox.arrived[0]
    assert letter["Subject"] == f"Horn {lending.horn}"
    assert letter.get_content().strip() == (
        f"Dear {lending.guardian}, by 24 October 2026 (14 days): https://horns.example.org/family/{out.pk}/"
    )
    # RFC 3834: what a machine writes says so, and answering machines keep silent.
    assert letter["Auto-Submitted"] == "auto-generated"
    assert letter["From"] == "Horn Cupboard <horns@school.example>"


def test_the_command_may_run_any_number_of_times_and_each_letter_goes_once(lending, out, postbox):
    for hour in range(4):
        run(lending, 26, hour)
    assert len(postbox.arrived) == 1
    assert Letter.objects.get().state == "sent"


def test_with_the_mail_server_down_nothing_is_lost_and_it_goes_later_once(lending, out, mail):
    told = run(lending, 26)
    assert "refused" in told.server_trouble.lower()
    assert Letter.objects.get().state == "waiting"

    with open_postbox(mail) as box:
        run(lending, 26, 1)
        run(lending, 26, 2)
    assert len(box.arrived) == 1


def test_after_weeks_without_mail_only_the_newest_letter_goes(lending, out, mail):
    for day in range(24, 49):
        run(lending, day)
    with open_postbox(mail) as box:
        run(lending, 49)

    # The earlier ones speak of days that have passed.
    assert [str(letter["Subject"]).strip() for letter in box.arrived] == [
        f"{lending.pupil}’s horn was due back on 24 October 2026"
    ]


def test_an_address_the_server_refuses_is_a_bounce_for_staff_to_see_and_a_new_one_sends_it(lending, out, postbox):
    postbox.refuses[lending.guardian.email] = "550 no such mailbox"
    run(lending, 26)
    letter = Letter.objects.get()
    assert (letter.state, letter.trouble) == ("refused", "550 no such mailbox")
    assert list(Letter.objects.undelivered()) == [letter]
    run(lending, 27)
    assert Letter.objects.get().tries == 1

    Guardian.objects.filter(pk=lending.guardian.pk).update(email="right@example.org")
    run(lending, 28)
    assert postbox.to() == ["right@example.org"]
    # The letter before the next is refused again, and only the newest is a task.
    postbox.refuses["right@example.org"] = "550 gone"
    run(lending, 37)
    assert [one.occasion for one in Letter.objects.undelivered()] == ["before-3"]
    postbox.refuses.clear()
    run(lending, 41)
    assert not Letter.objects.undelivered().exists()


def test_one_refused_address_does_not_hold_up_the_others(lending, out, postbox):
    other = make.guardian(lending.school)
    horn = make.horn(lending.school)
    make.loan(horn, make.pupil(lending.school, other), lending.teacher, due_on=out.due_on)
    postbox.refuses[lending.guardian.email] = "550 no such mailbox"
    run(lending, 26)
    assert postbox.to() == [other.email]


def test_a_server_that_goes_away_in_the_middle_keeps_every_letter_waiting(lending, out, postbox):
    horn = make.horn(lending.school)
    other = make.pupil(lending.school, make.guardian(lending.school))
    make.loan(horn, other, lending.teacher, due_on=out.due_on)
    postbox.refuses[lending.guardian.email] = "421 closing down"
    run(lending, 26)
    assert {one.state for one in Letter.objects.all()} == {"waiting"}
    assert postbox.to() == []


def test_a_server_that_says_later_is_asked_later(lending, out, postbox):
    postbox.refuses[lending.guardian.email] = "451 greylisted, come back"
    run(lending, 26)
    assert (Letter.objects.get().state, Letter.objects.get().trouble) == ("waiting", "451 greylisted, come back")
    postbox.refuses.clear()
    run(lending, 26, 1)
    assert Letter.objects.get().state == "sent"


def test_a_letter_over_which_the_server_always_hangs_up_keeps_no_other_waiting(lending, out, postbox):
    other = make.guardian(lending.school)
    make.loan(make.horn(lending.school), make.pupil(lending.school, other), lending.teacher, due_on=out.due_on)
    postbox.refuses[lending.guardian.email] = "421 closing down"
    run(lending, 26)
    run(lending, 26, 1)
    assert postbox.to() == [other.email]


def test_a_letter_keeps_its_message_id_until_it_is_handed_over(lending, out, postbox):
    postbox.answer = "451 later"
    run(lending, 26)
    postbox.answer = "250 taken"
    run(lending, 26, 1)
    assert [letter["Message-ID"] for letter in postbox.arrived] == [
        f"<letter-{Letter.objects.get().pk}-1@school.example>"
    ]


@pytest.mark.parametrize(
    ("answer", "state"),
    [("552 too large", "refused"), ("500 no", "refused"), ("499 full", "waiting"), ("452 full", "waiting")],
)
def test_a_letter_refused_after_it_was_read_is_known_as_not_arrived(lending, out, postbox, answer, state):
    postbox.answer = answer
    run(lending, 26)
    assert Letter.objects.get().state == state
    assert postbox.arrived == []


def test_when_the_line_breaks_while_the_letter_is_handed_over_it_is_not_sent_a_second_time(lending, out, postbox):
    postbox.hangs_up = True
    told = run(lending, 26)
    postbox.hangs_up = False
    run(lending, 26, 3)

    assert told.server_trouble
    assert len(postbox.arrived) == 1
    assert Letter.objects.get().state == "unsure"
    assert Letter.objects.undelivered().exists()


def test_a_run_that_died_half_way_leaves_its_letter_to_staff(lending, out, postbox):
    made = make.NOW + 26 * DAY
    make.letter(out, occasion="before-14", state="going", claimed_at=made - timedelta(hours=2), made_at=made)
    run(lending, 26)
    assert postbox.arrived == []
    letter = Letter.objects.get()
    assert (letter.state, letter.trouble) == ("unsure", "The machine stopped while it was being sent.")


def test_a_guardian_without_an_address_is_listed_until_there_is_one(lending, postbox):
    silent = make.guardian(lending.school, email="", telephone="01 234")
    horn = make.horn(lending.school)
    make.loan(horn, make.pupil(lending.school, silent), lending.teacher, due_on=make.TODAY + 20 * DAY)
    run(lending, 6)
    assert Letter.objects.undelivered().get().state == "no-address"

    Guardian.objects.filter(pk=silent.pk).update(email="now@example.org", telephone="")
    run(lending, 7)
    assert postbox.to() == ["now@example.org"]


def renew(lending, loan, **changes):
    said = {"due_on": make.TODAY + 300 * DAY, "due_seen": loan.due_on, "reason": "", "by": lending.teacher}
    return dates.renew(loan=loan, at=make.NOW + 26 * DAY, **{**said, **changes})


def test_a_due_date_moved_before_the_letter_goes_drops_it_and_the_new_date_has_its_own(lending, out, mail):
    run(lending, 26)
    renew(lending, out)
    with open_postbox(mail) as box:
        run(lending, 26, 1)
        assert (box.arrived, Letter.objects.get().state) == ([], "dropped")
        run(lending, 286)
    assert [str(letter["Subject"]).strip() for letter in box.arrived] == [
        f"{lending.pupil}’s horn is due back on 11 July 2027"
    ]


def test_a_horn_that_came_back_meanwhile_is_not_asked_for(lending, out, mail):
    run(lending, 26)
    lending.give_back(out)
    with open_postbox(mail) as box:
        run(lending, 26, 1)
    assert (box.arrived, Letter.objects.get().trouble) == ([], "The horn is back.")


@pytest.mark.django_db(transaction=True)
def test_a_due_date_moved_in_the_very_moment_the_letter_is_read_is_put_right_by_another(mail):
    lending = set_up()
    loan = lending.issue(due_on=make.TODAY + 40 * DAY)

    def move() -> None:
        try:
            renew(lending, loan)
        finally:
            connection.close()

    with open_postbox(mail) as box:
        box.while_receiving = move
        run(lending, 26)
        box.while_receiving = None
        run(lending, 26, 1)
        run(lending, 26, 2)

    loan.refresh_from_db()
    assert (loan.due_on, {one.school for one in loan.letters.all()}) == (make.TODAY + 300 * DAY, {lending.school})
    assert [str(letter["Subject"]).strip() for letter in box.arrived] == [
        f"{lending.pupil}’s horn is due back on 24 October 2026",
        f"{lending.pupil}’s horn: the due date is 11 July 2027",
    ]


@pytest.mark.django_db(transaction=True)
def test_runs_at_the_same_moment_send_each_letter_once(mail):
    lending = set_up()
    lending.issue(due_on=make.TODAY + 40 * DAY)
    for _ in range(4):
        horn = make.horn(lending.school)
        make.loan(horn, lending.pupil, lending.teacher, due_on=make.TODAY + 40 * DAY)

    with open_postbox(mail) as box:
        outcomes = all_at_once([partial(run, lending, 26)] * 4)

    assert [one for one in outcomes if isinstance(one, Exception)] == []
    assert len(box.arrived) == 5
    assert set(Letter.objects.values_list("state", flat=True)) == {"sent"}


def test_a_recall_is_written_at_once_with_its_reason(lending, out, postbox):
    dates.recall(
        loan=out,
        due_on=make.TODAY + 10 * DAY,
        due_seen=out.due_on,
        reason="The band travels.",
        by=lending.teacher,
        at=make.NOW,
    )
    run(lending, 0)
    run(lending, 1)
    assert len(postbox.arrived) == 1
    assert "Why: The band travels." in postbox.arrived[0].get_content()


def test_a_school_that_wants_no_letters_sends_none_and_others_are_not_touched(lending, out, elsewhere, postbox):
    LendingRules.objects.create(school=lending.school, reminds=False)
    Loan.objects.filter(horn__school=elsewhere.school).update(due_on=make.TODAY + 40 * DAY)
    run(lending, 26)
    assert postbox.arrived == []
    assert not Letter.objects.exists()


def test_a_name_with_a_line_end_makes_no_header_of_its_own(lending, out, postbox):
    lending.pupil.name = "Ann\r\nBcc: all@example.org"
    lending.pupil.save()
    run(lending, 26)
    assert postbox.arrived[0]["Bcc"] is None
    assert str(postbox.arrived[0]["Subject"]).strip().startswith("Ann Bcc: all@example.org’s horn")


def test_the_command_says_what_it_did_and_fails_when_the_server_is_away(lending, out, mail, monkeypatch):
    monkeypatch.setattr("fleet.letters.management.commands.remind.timezone.now", lambda: make.NOW + 26 * DAY)
    said = StringIO()
    call_command("remind", "--show", stdout=said)
    assert said.getvalue() == f"{lending.school.slug}, loan {out.pk}: 14 days before the due date\n"
    assert not Letter.objects.exists()
    for _ in range(2):
        with pytest.raises(CommandError, match="1 letter waits for the next run"):
            call_command("remind")
    with open_postbox(mail):
        call_command("remind", stdout=(sent := StringIO()))
    assert sent.getvalue() == "1 sent.\n"
    Loan.objects.filter(pk=out.pk).update(due_on=make.TODAY + 39 * DAY)
    with pytest.raises(CommandError, match="1 letter waits for the next run"):
        call_command("remind")


def test_without_a_mail_server_the_command_sends_nothing_and_says_why(lending, out, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    with pytest.raises(CommandError, match="HORN_MAIL_HOST"):
        call_command("remind")
    assert not Letter.objects.exists()


def test_planning_takes_as_many_queries_for_three_loans_as_for_one(lending, out, django_assert_num_queries):
    today = make.TODAY + 26 * DAY
    rules = LendingRules(school=lending.school)
    for more in (0, 2):
        for _ in range(more):
            make.loan(make.horn(lending.school), lending.pupil, lending.teacher, due_on=out.due_on)
        with django_assert_num_queries(3):
            assert len(list(due_letters(lending.school, rules, today))) == more + 1


def unsaved(**fields):
    """A loan with no moved dates at hand, so that the rule can be tried without a database."""
    loan = Loan(pk=1, **fields)
    loan._prefetched_objects_cache = {"periods": LoanPeriod.objects.none()}
    return loan


@given(
    length=st.integers(0, 400),
    days=st.sets(st.integers(1, 60), max_size=4),
    after=st.sets(st.integers(1, 60), max_size=4),
    on=st.integers(0, 500),
)
@example(length=10, days={10}, after=set(), on=0)
def test_a_letter_is_never_early_and_never_from_before_the_loan(length, days, after, on):
    loan = unsaved(issued_on=make.TODAY, due_on=make.TODAY + length * DAY)
    today = make.TODAY + on * DAY

    occasion = occasion_of(loan, sorted(days), sorted(after), today)

    due = {f"before-{one}": length - one for one in days} | {f"after-{one}": length + one for one in after}
    come = {name: when for name, when in due.items() if 0 < when <= on}
    if occasion:
        assert come[occasion] == max(come.values())
    else:
        assert come == {}
