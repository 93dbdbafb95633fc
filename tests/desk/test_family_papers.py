"""What a family signed and was sent stays to be read, and what it said can be taken back. Another family sees none."""

from __future__ import annotations

from datetime import timedelta

import pytest
from icalendar import Calendar

from fleet.ground.access import Role
from fleet.lending.actions.dates import recall
from fleet.lending.models import FamilyAsk
from fleet.workshop.models import FaultReport
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]
BEGAN = make.TODAY - timedelta(days=40)


@pytest.fixture
def lent():
    """A loan that ended and one that runs, of a child with two guardians; another family's beside them."""
    school = make.school(name="Alder Row", family_languages=["de"])
    head = make.staff(Role.HEAD, school)
    mine, other = make.guardian(school, name="Maria"), make.guardian(school, name="Nils")
    pupil, stranger = make.pupil(school, mine, other, name="Ada"), make.pupil(school, make.guardian(school), name="Zoe")
    ended = make.loan(
        make.horn(school, number="HN-1"), pupil, head, issued_on=BEGAN, returned_on=make.TODAY, language="de"
    )
    open_loan = make.loan(make.horn(school, number="HN-2"), pupil, head)
    theirs = make.loan(make.horn(school, number="HN-9"), stranger, head)
    return mine, other, head, ended, open_loan, theirs


def test_the_papers_of_every_loan_stay_with_their_language_and_nothing_of_another_family_shows(as_, lent):
    mine, _, head, ended, _, theirs = lent
    letter = make.letter(ended, subject="It was due", words="Dear Maria, look at https://a.example/")
    make.letter(theirs, subject="Not yours", words="Dear somebody")
    make.charge(ended, head, what="hire", state="paid", settled_on=make.TODAY)

    page = folded(as_(mine.user).get("/family/papers/"))
    read = folded(as_(mine.user).get(f"/family/letters/{letter.pk}/"))

    for said in ("HN-1", "HN-2", "PDF Deutsch", "It was due", "Paid", "hire, 30.00 EUR", "Maria", "Ada"):
        assert said in page, said
    assert ("HN-9" in page, "Not yours" in page, "Zoe" in page) == (False, False, False)
    assert '<a href="https://a.example/"' in read
    assert as_(mine.user).get(f"/family/{ended.pk}/sheet.pdf").content.startswith(b"%PDF")


def test_the_other_guardian_reads_neither_the_letters_nor_the_loans_of_others(as_, lent):
    _, other, _, ended, _, theirs = lent
    letter = make.letter(ended, subject="It was due", words="Dear Maria")

    assert "It was due" not in folded(as_(other.user).get("/family/papers/"))
    assert as_(other.user).get(f"/family/letters/{letter.pk}/").status_code == 404
    assert as_(other.user).get(f"/family/{theirs.pk}/sheet.pdf").status_code == 404


def test_the_calendar_file_tells_the_due_days_of_the_horns_and_nothing_else(as_, lent):
    mine, _, _, _, open_loan, _ = lent

    answer = as_(mine.user).get("/family/papers/due.ics")
    [event] = Calendar.from_ical(answer.content).walk("VEVENT")

    assert (event.decoded("dtstart"), str(event["summary"])) == (open_loan.due_on, "HN-2 is due back")
    assert b"Ada" not in answer.content


def test_what_was_said_is_taken_back_by_who_said_it_until_the_school_answers(as_, lent):
    mine, other, head, _, loan, _ = lent
    address = f"/family/{loan.pk}/taken-back/"
    report = make.report(loan.horn, mine.user, pupil=loan.pupil)
    lost = make.ask(loan, mine.user, kind="lost", words="On the bus")
    answered = make.report(loan.horn, mine.user, pupil=loan.pupil, answered_at=make.NOW, answered_by=head, answer="Yes")

    as_(other.user).post(address, {"report": report.pk})
    still = FaultReport.objects.unanswered().count()
    page = folded(as_(mine.user).get(f"/family/{loan.pk}/"))
    as_(mine.user).post(address, {"report": report.pk})
    as_(mine.user).post(address, {"ask": lost.pk})
    as_(mine.user).post(address, {"report": answered.pk})
    after = folded(as_(mine.user).get(f"/family/{loan.pk}/"))

    assert still == 1
    assert ("I found it" in page, "Nothing is wrong after all" in page) == (True, True)
    assert (FaultReport.objects.unanswered().count(), FamilyAsk.objects.unanswered().count()) == (0, 0)
    assert FaultReport.objects.get(pk=answered.pk).answer == "Yes"
    assert after.count("This was taken back.") == 2
    assert "I found it" not in after


def test_a_horn_that_must_come_back_says_so_on_top_with_whom_to_ask(as_, lent):
    mine, _, head, _, loan, _ = lent
    school = loan.horn.school
    school.contact = "music@alder.example"
    school.save()
    recall(loan=loan, due_on=make.TODAY, due_seen=loan.due_on, reason="It is needed", by=head, at=make.NOW)

    page = folded(as_(mine.user).get(f"/family/{loan.pk}/"))

    on_top = page.split("The school needs it back sooner")[1].split("Number on the horn")[0]
    assert '<a href="mailto:music@alder.example">music@alder.example</a>' in on_top
