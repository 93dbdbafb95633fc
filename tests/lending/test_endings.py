"""How a loan ended is said in the same way on the loan's page and sheet, in the story, the list and the figures."""

from datetime import date, timedelta

import pytest

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.actions import returning, swapping
from fleet.lending.models import Loan
from fleet.lending.queries.told import STORY
from fleet.people.models import School
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn
from fleet.reports.queries.figures import figures
from fleet.reports.queries.whole_picture import sections
from tests import make
from tests.pages import on_paper
from tests.reading import horn_now, story_of

ENDINGS = ["running", "returned", "swapped", "lost"]


@pytest.fixture
def ended(lending, out):
    """The loan after it ended in the way asked for; HN-9000 is what it is swapped for."""

    def end(how: str) -> Loan:
        if how == "returned":
            lending.give_back(out)
        elif how == "lost":
            returning.lose(loan=out, words="Left on the bus.", by=lending.teacher, at=make.NOW)
        elif how == "swapped":
            other = make.horn(lending.school, number="HN-9000")
            make.check(other, lending.teacher)
            swapping.swap(
                loan=out,
                to=other,
                came_back=(),
                look_over=lambda horn: make.check(horn, lending.teacher, occasion="on-return"),
                mouthpiece_cleaned_on=None,
                notes="",
                by=lending.teacher,
                at=make.NOW,
            )
        return Loan.objects.get(pk=out.pk)

    return end


@pytest.fixture
def at(lending, out, as_):
    """The words of a page of the school; of a PDF those of its first page."""

    def words(page: str) -> str:
        answer = as_(lending.teacher).get(f"/s/{lending.school.slug}/{page}")
        if answer.headers["Content-Type"] == "application/pdf":
            return on_paper(answer.content)[0]
        content = b"".join(answer) if answer.streaming else answer.content
        return " ".join(content.decode().split())

    return words


@pytest.mark.parametrize(
    ("how", "code", "told"),
    [
        ("running", None, []),
        ("returned", "came-back", ["Came back from {}, complete."]),
        ("swapped", "swapped", ["Swapped: {} got HN-9000 instead."]),
        ("lost", "lost", ["Lost while {} had it."]),
    ],
)
def test_a_loan_and_the_horns_story_say_how_it_ended(lending, ended, how, code, told):
    assert ended(how).ended_as == code
    ends = [one.sentence for one in story_of(lending.horn, STORY).told() if one.kind == "return"]
    assert ends == [one.format(lending.pupil) for one in told]


def test_a_lost_horn_that_is_taken_back_too_is_refused_as_lost(lending, ended, out):
    ended("lost")
    with pytest.raises(Refused, match="was lost on 14 September 2026"):
        lending.give_back(out)


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ("returned", f"Came back on {day(make.TODAY)}."),
        ("swapped", f"Swapped on {day(make.TODAY)} for HN-9000."),
        ("lost", f"Lost, recorded on {day(make.TODAY)}."),
    ],
)
def test_the_loans_page_begins_with_how_it_ended(at, ended, how, says):
    assert f'<p class="lead"> {says} </p>' in at(f"loans/{ended(how).pk}/")


def test_the_sheet_of_a_lost_horn_says_lost_and_nothing_of_coming_back(lending, at, ended):
    said = at(f"prints/loans/{ended('lost').pk}/sheet.pdf")

    assert f"Recorded {day(make.TODAY)}, {lending.teacher}" in said
    assert "Lost" in said
    assert [words for words in ("Comes back", "Came back", "Mouthpiece", "Missing", "bus") if words in said] == []


def test_the_sheet_of_a_swapped_horn_says_which_horn_went_out_instead(at, ended):
    said = at(f"prints/loans/{ended('swapped').pk}/sheet.pdf")

    assert "For HN-9000" in said
    assert "Swapped" in said
    assert [words for words in ("Comes back", "Came back") if words in said] == []


@pytest.mark.parametrize(
    ("how", "in_list", "in_history"),
    [("swapped", "swapped", "swapped for HN-9000"), ("lost", "lost", "lost,"), ("returned", "", "back on 14")],
)
def test_the_lists_of_loans_and_the_download_say_how_it_ended(lending, at, ended, how, in_list, in_history):
    code = ended(how).ended_as

    assert in_list in at("loans/?state=ended")
    assert in_history in at(f"horns/{lending.horn.pk}/loans/")
    assert f"2026-09-14,{code.label}" in at("exchange/loans/?state=ended&as=csv").replace('"', "")


def test_a_swapped_and_a_lost_horn_are_not_counted_as_returned(lending):
    until, pupil = date(2026, 9, 14), lending.pupil
    head = make.staff(Role.HEAD, lending.school)
    back = [make.loan(make.horn(lending.school), pupil, head, issued_on=until, returned_on=until) for _ in range(3)]
    Loan.objects.filter(pk=back[0].pk).update(lost_words="On the bus.")
    make.loan(make.horn(lending.school), pupil, head, issued_on=until, in_place_of=back[1])

    told = figures(lending.school, until)

    now = told.months[-1]
    assert (now.issued, now.returned, now.swapped, now.lost, now.out) == (4, 1, 1, 1, 1)
    shown = next(one for one in sections(told) if one.key == "loans")
    assert shown.sentence == "4 issued, 1 returned, 1 swapped and 1 lost since 1 October 2025."
    assert shown.rows[-1] == ["All", "4", "1", "1", "1", ""]


def test_the_sheet_of_the_horn_that_went_out_instead_does_not_say_that_paper_was_signed_for_it(at, ended):
    new = ended("swapped").goes_on_as

    said = at(f"prints/loans/{new.pk}/sheet.pdf")

    assert "with the agreement for HN-" in said
    assert "on the paper sheet" not in said


def test_a_lost_horns_loan_does_not_ask_for_what_went_with_it_since_nothing_else_does(at, ended):
    lost = ended("lost")

    assert lost.accessories.exists()
    assert "Say what became of it" not in at(f"loans/{lost.pk}/")
    assert "did not come back" in at(f"loans/{lost.pk}/")


def test_what_a_horn_that_is_back_came_without_is_asked_for_on_its_loan(at, lending, out):
    lending.give_back(out, came_back=[])

    assert "Say what became of it" in at(f"loans/{out.pk}/")


@pytest.mark.parametrize(("checked", "owed"), [(0, set()), (1, {"found"}), (300, {"found"}), (301, {"check"})])
def test_a_lost_horn_that_is_found_is_to_be_looked_over_once(lending, checked, owed):
    School.objects.update(check_days=300)
    horn = make.horn(lending.school)
    seen = make.check(horn, lending.teacher, at=make.NOW - timedelta(days=checked))
    issued = {"issued_on": make.TODAY - timedelta(days=400), "check_at_issue": seen}
    loan = make.loan(horn, lending.pupil, lending.teacher, **issued)
    found = {"by": lending.teacher, "at": make.NOW}

    def asked():
        return {one.code for one in horn_now(Horn.objects.get(pk=horn.pk), today=make.TODAY).owed} & {"found", "check"}

    returning.lose(loan=loan, words="Left on the bus.", **found)
    assert asked() == set()
    change_standing(horn=horn, kind="found", reason="In the depot", **found)
    assert asked() == owed
    make.check(horn, lending.teacher, at=make.NOW)
    assert asked() == set()
