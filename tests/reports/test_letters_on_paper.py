"""Letters that are printed, for those whom no e-mail reaches, read back from their PDFs."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.ground.wording import day
from fleet.letters.models import LendingRules
from fleet.mail.queries import QUEUE
from tests import make
from tests.pages import on_paper
from tests.reports.test_prints import pages, text

pytestmark = pytest.mark.either_engine
DAY = timedelta(days=1)


def test_letters_are_printed_for_those_whom_no_mail_reaches_and_for_no_others(school, head, get, settings):
    settings.SITE_ORIGIN, settings.EMAIL_BACKEND = "https://horns.example.org", QUEUE

    def overdue(guardian, number):
        horn = make.horn(school, number=number)
        return make.loan(
            horn, make.pupil(school, guardian), head, issued_on=make.TODAY - 40 * DAY, due_on=make.TODAY - 3 * DAY
        )

    overdue(make.guardian(school, name="Silent", email="", telephone="0123"), "HN-1")
    bounced = overdue(make.guardian(school, name="Bounced"), "HN-2")
    make.letter(bounced, state="refused")
    overdue(make.guardian(school, name="Reached"), "HN-3")
    content = get("overdue-letters")
    said = text(content)
    assert pages(content) == 2
    assert "Dear Silent, The horn HN-1" in said
    assert "Dear Bounced, The horn HN-2" in said
    assert "Reached" not in said
    assert "was due back on 11 September 2026" in said
    assert "For the school, signature" in said
    # Who has no page of their own is sent to none.
    silent, bounced_page = on_paper(content)
    if "Bounced" in silent:
        silent, bounced_page = bounced_page, silent
    assert "tell the school. Questions" in silent
    assert f"Your page: https://horns.example.org/family/{bounced.pk}/" in bounced_page


def test_letters_take_the_same_queries_for_three_as_for_one(school, head, as_, django_assert_num_queries):
    client, address = as_(head), reverse("reports:overdue-letters", args=(school.slug,))
    for more in (1, 2):
        for _ in range(more):
            guardian = make.guardian(school, email="", telephone="0123")
            due = make.TODAY - 3 * DAY
            make.loan(make.horn(school), make.pupil(school, guardian), head, issued_on=due - 40 * DAY, due_on=due)
        # Session, account, seat, words, those due, letters, their periods; the act, its savepoint.
        with django_assert_num_queries(13):
            client.get(address)


@pytest.fixture
def lent(school, head):
    """A loan of 40 days ago, due in so many days."""

    def lend(days, **of):
        guardian = make.guardian(school, **of)
        since, due = make.TODAY - 40 * DAY, make.TODAY + days * DAY
        return make.loan(make.horn(school), make.pupil(school, guardian), head, issued_on=since, due_on=due)

    return lend


@pytest.mark.parametrize("server", [True, False])
def test_whom_no_mail_reaches_is_told_on_paper_what_mail_would_tell_by_now(head, get, lent, settings, server):
    if server:
        settings.EMAIL_BACKEND = QUEUE
    silent = {"name": "Silent", "email": "", "telephone": "0123"}
    soon, recalled, here = lent(7, **silent), make.recalled(lent(20, **silent), head), lent(-1, **silent)
    lent(15, **silent)
    reached = lent(7, name="Reached")
    make.job(here.horn, head, brought_at=make.NOW)

    content = get("overdue-letters")

    said = text(content)
    assert pages(content) == (2 if server else 3)
    assert (str(reached.horn) in said) is not server
    assert f"The horn {soon.horn} that {soon.pupil} has on loan from {soon.horn.school} is due back" in said
    assert f"needs the horn {recalled.horn} that {recalled.pupil} has on loan sooner than agreed" in said


def test_a_school_that_sends_no_letters_prints_what_is_overdue_alone(school, get, lent):
    LendingRules.objects.create(school=school, reminds=False)
    lent(7), lent(-1)

    content = get("overdue-letters")

    assert pages(content) == 1
    assert f"was due back on {day(make.TODAY - DAY)}" in text(content)
