"""The page says when letters were last sent and what goes next, and sends what is due, each letter once."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.letters.actions import reminding
from fleet.letters.actions.reminding import send_now
from fleet.letters.models import LendingRules, Letter
from fleet.letters.queries.next import Next, next_letters
from fleet.record.models import Act, Deed
from tests import make
from tests.letters.running import run
from tests.pages import folded

DAY = timedelta(days=1)
DUE = make.TODAY + 40 * DAY


@pytest.fixture
def pressed(django_capture_on_commit_callbacks, monkeypatch):
    """What is done beside the page is done at the end of this, so that it can be looked at."""
    monkeypatch.setattr(reminding, "beside", lambda name, do: do())
    return partial(django_capture_on_commit_callbacks, execute=True)


@pytest.fixture
def out(lending):
    """Issued today, due in 40 days."""
    return lending.issue(due_on=DUE)


def on(lending, days: int) -> Next:
    return next_letters(lending.school, make.NOW + days * DAY)


def test_what_goes_next_is_told_before_on_and_after_each_day(lending, out, elsewhere):
    first, second = DUE - 14 * DAY, DUE - 3 * DAY
    assert on(lending, 0) == Next(True, None, 0, first, 1, [])
    assert on(lending, 25) == Next(True, None, 0, first, 1, [])
    assert on(lending, 26) == Next(True, None, 1, second, 1, [])
    assert on(lending, 60) == Next(True, None, 1, DUE + 21 * DAY, 1, [])
    assert on(lending, 61) == Next(True, None, 1, None, 0, [])


def test_a_letter_that_has_gone_is_not_due_any_more_and_says_when_it_went(lending, out, postbox):
    run(lending, 26)
    assert on(lending, 26) == Next(True, make.NOW + 26 * DAY, 0, DUE - 3 * DAY, 1, [])
    Letter.objects.update(state="waiting")
    assert on(lending, 26).now == 1


def test_a_school_that_sends_no_letters_has_none_due(lending, out):
    LendingRules.objects.create(school=lending.school, reminds=False)
    assert on(lending, 30) == Next(False, None, 0, None, 0, [])


def test_an_agreement_that_waits_is_among_what_goes(lending):
    horn, pupil = make.horn(lending.school), lending.pupil
    make.check(horn, make.staff(Role.TEACHER, lending.school))
    make.keep([horn])
    make.signature(horn, pupil, make.staff(Role.TEACHER, lending.school))
    assert on(lending, 0).now == 1


@pytest.mark.parametrize("rows", [1, 3])
def test_what_goes_next_takes_ten_queries_however_many_loans(lending, django_assert_num_queries, rows):
    for _ in range(rows):
        make.loan(make.horn(lending.school), lending.pupil, make.staff(Role.HEAD, lending.school), due_on=make.TODAY)
    with django_assert_num_queries(10):
        assert on(lending, 1).now == rows


def test_due_loans_are_counted_so_far_as_is_asked_and_then_there_are_more(lending):
    for _ in range(3):
        make.loan(make.horn(lending.school), lending.pupil, make.staff(Role.HEAD, lending.school), due_on=make.TODAY)
    told = [next_letters(lending.school, make.NOW + DAY, count_to=most) for most in (2, 3, 4)]
    assert [(one.now, one.more) for one in told] == [(2, True), (3, False), (3, False)]


@pytest.mark.parametrize(
    ("addresses", "said"), [(10, "Adult 9:"), (11, "Adult 8 and others:"), (12, "Adult 8 and perhaps others:")]
)
def test_more_loans_than_are_counted_and_more_names_than_ten_are_said_as_more(
    lending, postbox, as_, addresses, said, monkeypatch
):
    monkeypatch.setattr("fleet.letters.pages.letters.COUNTED_TO", 11)
    teacher = make.staff(Role.TEACHER, lending.school)
    for n in range(addresses):
        guardian = make.guardian(
            lending.school, with_account=False, name=f"Adult {n}", email="", telephone="01 555 0100"
        )
        pupil = make.pupil(lending.school, guardian)
        make.loan(make.horn(lending.school), pupil, teacher, due_on=make.TODAY - DAY, issued_on=make.TODAY - 300 * DAY)
    client, page = as_(teacher), reverse("loans:letters", args=[lending.school.slug])

    shown = folded(client.get(page))
    assert said in shown
    more = addresses > 11
    assert ("Letters about more than 11 loans" in shown, "Send now" in shown) == (more, more)
    typed = folded(client.get(page, headers={"HX-Request": "true", "HX-Target": "found"}))
    assert "No letters here yet" in typed
    assert "When they go" not in typed


def test_the_page_sends_what_is_due_and_never_twice(lending, out, postbox, as_, pressed):
    Loan.objects.update(issued_on=make.TODAY - 300 * DAY, signed_on=make.TODAY - 300 * DAY, due_on=make.TODAY - DAY)
    client = as_(make.staff(Role.TEACHER, lending.school))
    page = reverse("loans:letters", args=[lending.school.slug])
    before = next_letters(lending.school, timezone.now()).now
    assert before == 1
    assert "Send now" in client.get(page).content.decode()

    for _ in range(2):
        with pressed():
            client.post(page)

    assert len(postbox.arrived) == 1
    shown = folded(client.get(page))
    assert "None is due now." in shown
    assert "Send now" not in shown
    assert Act.objects.filter(deed=Deed.LETTERS_SENT, school=lending.school).count() == 2


def test_without_a_mail_server_nothing_is_sent_and_the_page_says_why(lending, out, as_, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    client = as_(make.staff(Role.TEACHER, lending.school))
    page = reverse("loans:letters", args=[lending.school.slug])

    assert "This site has no mail server" in folded(client.get(page))
    refused = client.post(page)
    assert refused.status_code == 409
    assert "so nothing was sent" in folded(refused)
    with pytest.raises(Refused):
        send_now(school=lending.school, by=make.user(), at=make.NOW)
    assert not Letter.objects.exists()


def test_a_mail_server_that_is_away_leaves_the_letters_waiting(lending, out, mail, as_, pressed):
    Loan.objects.update(issued_on=make.TODAY - 300 * DAY, signed_on=make.TODAY - 300 * DAY, due_on=make.TODAY - DAY)
    page = reverse("loans:letters", args=[lending.school.slug])

    with pressed():
        said = as_(make.staff(Role.TEACHER, lending.school)).post(page, follow=True)

    assert "1 letter goes out now." in folded(said)
    assert [letter.state for letter in Letter.objects.all()] == ["waiting"]


def test_who_has_no_address_is_named_and_not_among_the_letters_that_go(lending, postbox, as_, pressed):
    teacher = make.staff(Role.TEACHER, lending.school)
    for name, email in (("Cara Low", "cara@example.org"), ("Dora Quill", "")):
        guardian = make.guardian(lending.school, with_account=False, name=name, email=email, telephone="01 555 0100")
        pupil = make.pupil(lending.school, guardian)
        make.loan(make.horn(lending.school), pupil, teacher, due_on=make.TODAY - DAY, issued_on=make.TODAY - 300 * DAY)
    told = next_letters(lending.school, timezone.now())
    assert (told.now, told.without) == (1, ["Dora Quill"])
    client, page = as_(teacher), reverse("loans:letters", args=[lending.school.slug])
    assert "No e-mail address is on record for Dora Quill:" in folded(client.get(page))

    with pressed():
        said = client.post(page, follow=True)

    assert "1 letter goes out now." in folded(said)
    assert len(postbox.arrived) == 1
    told = next_letters(lending.school, timezone.now())
    assert (told.now, told.without) == (0, [])
    assert Letter.objects.get(guardian__name="Dora Quill").state == "no-address"


def test_a_letter_about_a_horn_that_cannot_be_lent_now_is_not_said_to_be_due(lending, postbox):
    horn = make.horn(lending.school)
    teacher = make.staff(Role.TEACHER, lending.school)
    make.check(horn, teacher)
    asked = make.signature(horn, lending.pupil, teacher)
    make.letter(asked, state="waiting")
    make.keep([horn])
    assert on(lending, 0).now == 1

    make.check(horn, teacher, grade=4, at=make.NOW + timedelta(minutes=1))

    assert on(lending, 0).now == 0
