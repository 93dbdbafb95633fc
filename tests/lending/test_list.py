import re
from datetime import timedelta

import pytest
from django.http import QueryDict

from fleet.ground.access import Role
from fleet.ground.paging import COUNTED_TO, PAGE
from fleet.ground.wording import short_day
from fleet.lending.models import Ended, Loan
from fleet.lending.queries.listing import loans_asked, page_of
from fleet.people.models import searched
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.both_engines, pytest.mark.usefixtures("at_noon")]
DAY = timedelta(days=1)
BEGAN = make.TODAY - 30 * DAY


@pytest.fixture
def lend(lending):
    def lend(name="", number="", **fields):
        pupil = make.pupil(lending.school, lending.guardian, **({"name": name} if name else {}))
        horn = make.horn(lending.school, **({"number": number} if number else {}))
        return make.loan(horn, pupil, lending.teacher, **{"issued_on": BEGAN, **fields})

    return lend


@pytest.fixture
def rows(lending, as_):
    client = as_(lending.teacher)

    def rows(**asked):
        return client.get(f"/s/{lending.school.slug}/loans/", asked).context["page"].rows

    return rows


def test_the_list_shows_what_is_out_and_nothing_of_another_school(rows, lend, elsewhere):
    out = lend()
    lend(returned_on=make.TODAY)

    assert rows() == [out]


def test_each_state_shows_its_loans(rows, lend, elsewhere):
    late = lend(due_on=make.TODAY - DAY)
    soon = lend(due_on=make.TODAY + DAY)
    later = lend(due_on=make.TODAY + 90 * DAY)
    ended = lend(due_on=make.TODAY + 91 * DAY, returned_on=make.TODAY)

    assert rows(state="overdue") == [late]
    assert rows(state="soon") == [soon]
    assert rows(state="open") == [late, soon, later]
    assert rows(state="ended") == [ended]
    assert rows(state="") == [late, soon, later, ended]


def test_all_days_of_a_list_of_loans_are_written_alike(lend, lending, as_):
    lend(returned_on=make.TODAY, due_on=make.TODAY + DAY)

    page = folded(as_(lending.teacher).get(f"/s/{lending.school.slug}/loans/", {"state": "ended"}))

    days = (BEGAN, make.TODAY + DAY, make.TODAY)
    cells = re.findall(r'data-label="(?:Out since|Due back|Ended)"> *([^<]*?) *<', page)
    assert cells == [short_day(one, make.TODAY) for one in days]


def test_loans_are_found_by_pupil_and_by_number(rows, lend):
    noor = lend(name="Noor Haddad", number="HN-7001")
    lend(name="Mia Berg", number="HN-7002")

    assert rows(q="haddad noor") == [noor]
    assert rows(q="7001") == [noor]
    assert rows(q="nobody") == []


@pytest.mark.parametrize("typed", ["hn5", "HN-5", "hn 5", "hn-0005", "ömer", "OMER hn5"])
def test_a_loan_is_found_however_its_number_and_its_pupil_are_spelled(rows, lend, typed):
    loan = lend(name="Ömer Öz", number="HN-0005")
    lend(name="Omar Az", number="HN-0016")
    lend(name="Omar Az", number="WH-0005")

    assert rows(q=typed) == [loan]


@pytest.mark.parametrize("counted", [0, COUNTED_TO])
def test_loans_are_found_by_their_letters_as_row_by_row_however_many_have_them(rows, lend, monkeypatch, counted):
    monkeypatch.setattr(searched, "COUNTED_TO", counted)
    isil, ann = lend(name="Işıl Öz", number="HN-0089"), lend(name="Ann O’Hara", number="ANN-7")
    lend(name="Ann Lind", number="HN-0007", returned_on=make.TODAY)

    assert rows(q="isil") == rows(q="öz 089") == rows(q="hn89") == rows(q="089") == rows(q="89") == [isil]
    assert rows(q="ann") == rows(q="o’hara") == rows(q="o'hara") == rows(q="ann o") == [ann]
    assert {loan.horn.number for loan in rows(q="ann 7", state="", sort="horn")} == {"ANN-7", "HN-0007"}
    assert rows(q="lind") == rows(q="zq ann") == rows(q="nz") == []
    assert rows(q="öz") == rows(q="ış") == rows(q="I") == rows(q="hn öz") == rows(q="ö i h") == [isil]
    assert rows(q="o'") == rows(q="o a") == rows(q="7") == rows(q="-7") == rows(q="an 7") == rows(q="a") == [ann]
    assert rows(q="ö") == rows(q="O", sort="issued_on") == [isil, ann]
    # Within a word, or with another's beginning.
    assert rows(q="nn") == rows(q="z") == rows(q="9") == rows(q="i a") == rows(q="x") == []


@pytest.mark.parametrize(
    "asked", [{"state": "nonsense"}, {"sort": "value"}, {"page": "x"}, {"q": "\0"}, {"page": "9" * 30}]
)
def test_nonsense_in_the_address_shows_the_list(rows, lend, asked):
    lend()

    assert isinstance(rows(**asked), list)


@pytest.mark.parametrize("page", ["loans", "loans/letters"])
def test_a_state_that_there_is_not_is_said_to_be_left_out(lending, as_, lend, page):
    loan, address = lend(returned_on=make.TODAY), f"/s/{lending.school.slug}/{page}/"
    teacher, left_out = as_(lending.teacher), "Part of this address made no sense and was left out: state."

    nonsense, known = (folded(teacher.get(address, {"state": state})) for state in ("zz", ""))

    assert left_out in nonsense
    assert left_out not in known
    if page == "loans":
        # All are shown, with when they ended.
        assert loan.horn.number in nonsense
        assert "Ended" in nonsense


def test_numbers_sort_as_numbers_both_ways(rows, lend):
    ten, nine = lend(number="HX-10"), lend(number="HX-9")

    assert rows(sort="horn") == [nine, ten]
    assert rows(sort="-horn") == [ten, nine]


@pytest.mark.parametrize(
    ("role", "state", "told"),
    [(Role.TEACHER, "overdue", True), (Role.TEACHER, "open", False), (Role.TECHNICIAN, "overdue", False)],
)
def test_what_is_overdue_says_how_to_reach_the_family_to_those_who_call(lending, as_, lend, role, state, told):
    lending.guardian.telephone = "555 0100"
    lending.guardian.save()
    lend(due_on=make.TODAY - DAY)

    client = as_(make.staff(role, lending.school))
    page = client.get(f"/s/{lending.school.slug}/loans/", {"state": state}).content.decode()

    assert (f"{lending.guardian.email}, 555 0100" in page, "How to reach them" in page) == (told, told)


def test_the_table_says_how_long_a_horn_is_overdue(lending, as_, lend):
    lend(due_on=make.TODAY - 3 * DAY)

    text = as_(lending.teacher).get(f"/s/{lending.school.slug}/loans/").content.decode()

    assert "3 days overdue" in text
    assert 'aria-sort="ascending"' in text


def test_an_empty_list_says_so(lending, as_):
    text = as_(lending.teacher).get(f"/s/{lending.school.slug}/loans/?state=overdue").content.decode()

    assert "Nothing is overdue." in text


def test_the_list_takes_as_many_queries_for_three_as_for_one(lending, as_, lend, django_assert_num_queries):
    client, page = as_(lending.teacher), f"/s/{lending.school.slug}/loans/"
    lend()
    with django_assert_num_queries(6):
        client.get(page)
    lend(), lend()
    with django_assert_num_queries(6):
        client.get(page)


def test_who_got_another_horn_is_asked_only_of_loans_that_ended(lending, lend, django_assert_num_queries):
    lend(), lend(returned_on=make.TODAY)
    open_ones, ended = (
        loans_asked(QueryDict(f"state={state}"), lending.school, make.TODAY) for state in ("open", "ended")
    )

    with django_assert_num_queries(3):
        assert [loan.ended_as for loan in page_of(open_ones, sort="due_on", number=1).rows] == [None]
    with django_assert_num_queries(4):
        assert [loan.ended_as for loan in page_of(ended, sort="due_on", number=1).rows] == [Ended.CAME_BACK]


def test_pages_follow_each_other_without_gap_or_repetition(lending, lend):
    made = [lend() for _ in range(PAGE + 2)]
    loans = loans_asked(QueryDict("state="), lending.school, make.TODAY)

    first = page_of(loans, sort="due_on", number=1)
    second = page_of(loans, sort="due_on", number=2)

    assert first.rows + second.rows == made
    assert (first.next, first.previous, second.next, second.previous) == (2, None, None, 1)
    assert page_of(loans, sort="due_on", number=50).rows == second.rows


def test_more_than_a_thousand_loans_are_not_counted(lending, lend):
    one = lend(returned_on=make.TODAY)
    fields = {
        f.attname: getattr(one, f.attname) for f in Loan._meta.concrete_fields if f.attname not in {"id", "sheet_code"}
    }
    Loan.objects.bulk_create(Loan(**fields) for _ in range(COUNTED_TO + 5))
    loans = loans_asked(QueryDict("state="), lending.school, make.TODAY)

    page = page_of(loans, sort="due_on", number=41)

    assert (page.total, page.more, page.number, len(page.rows), page.has_next) == (COUNTED_TO, True, 41, 6, False)
    full = page_of(loans, sort="due_on", number=40)
    assert (full.total, full.more, full.number, len(full.rows), full.has_next) == (COUNTED_TO, True, 40, 25, True)
    Loan.objects.filter(pk__in=loans.qs.values_list("pk", flat=True)[COUNTED_TO:]).delete()
    last = page_of(loans, sort="due_on", number=41)
    assert (last.total, last.more, last.number, len(last.rows), last.has_next) == (COUNTED_TO, False, 40, 25, False)
