"""A pupil's page tells what they have, what is owed and what would fit, and changes nothing."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.desk.queries.pupils import EARLIER, page_of
from fleet.matching.models import ClassPlan
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def noon(monkeypatch):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)


def test_a_pupil_without_a_horn_is_offered_one_that_fits(as_, school, teacher):
    ClassPlan.objects.create(school=school, group="Band", stands_in="Bb")
    pupil = make.pupil(school, make.guardian(school, name="Gül Öz"), name="Ömer Öz", group="band", needs_wrap="compact")

    page = folded(as_(teacher).get(f"/s/{school.slug}/pupils/{pupil.pk}/"))

    assert "Year 5, band" in page
    assert "A compact horn that stands in B♭." in page
    assert "?ready=yes&amp;stands_in=Bb&amp;wrap=compact" in page
    assert "Gül Öz" in page
    assert f'class="button main" href="/s/{school.slug}/loans/issue/?pupil={pupil.pk}">Issue a horn<' in page
    assert "What is owed" not in page
    assert f'href="/s/{school.slug}/pupils/{pupil.pk}/change/"' in page
    assert "<form" not in page.split("<main")[1]


def test_a_pupil_with_a_horn_reads_until_when_and_what_is_owed(as_, school, teacher):
    pupil, other = (make.pupil(school, make.guardian(school), name=name) for name in ("Ada Quill", "Ben Moor"))
    horn = make.horn(school, number="HN-0007")
    before = make.loan(horn, other, teacher, issued_on=make.TODAY - 90 * DAY, returned_on=make.TODAY - 60 * DAY)
    make.charge(before, teacher, what="New strap")
    late = make.loan(horn, pupil, teacher, issued_on=make.TODAY - 50 * DAY, due_on=make.TODAY - DAY)
    make.charge(late, teacher, what="Lost mouthpiece")
    spare = make.horn(school, number="HN-0008")
    make.loan(spare, pupil, teacher, issued_on=make.TODAY - 90 * DAY, returned_on=make.TODAY - 60 * DAY)
    client = as_(teacher)

    mine = folded(client.get(f"/s/{school.slug}/pupils/{pupil.pk}/"))
    theirs = folded(client.get(f"/s/{school.slug}/pupils/{other.pk}/"))

    assert "1 day overdue" in mine
    assert "HN-0007: take back from Ada Quill" in mine
    assert "Lost mouthpiece" in mine
    assert "New strap" not in mine
    assert "HN-0008" in mine.split("Earlier loans")[1]
    assert "Issue another horn" in mine
    # What a horn they gave back owes is with whoever has it now.
    assert "New strap" in theirs
    assert "take back from" not in theirs
    assert "Issue a horn" in theirs


def test_what_a_teacher_may_not_do_leads_to_the_page_of_its_horn(as_, school, teacher):
    pupil, horn = make.pupil(school, make.guardian(school)), make.horn(school)
    make.loan(horn, pupil, teacher)
    make.job(horn, teacher)

    page = folded(as_(teacher).get(f"/s/{school.slug}/pupils/{pupil.pk}/")).split("What is owed")[1]

    assert f'<a href="/s/{school.slug}/horns/{horn.pk}/">{horn}, {horn.what_it_is}</a>' in page


def test_where_nothing_is_asked_any_horn_fits(school):
    page = page_of(make.pupil(school).pk, school, make.TODAY)

    assert (page.fits, page.fitting, page.has_now, page.owed) == ("any horn", "ready=yes", [], [])


def test_a_leaver_is_offered_nothing(as_, school, teacher):
    pupil = make.pupil(school, left_on=make.TODAY)

    page = folded(as_(teacher).get(f"/s/{school.slug}/pupils/{pupil.pk}/"))

    assert "Left the school on 14 September 2026." in page
    assert "Issue a" not in page


@pytest.mark.parametrize(("loans", "more"), [(EARLIER, False), (EARLIER + 1, True)])
def test_the_newest_earlier_loans_are_shown(school, teacher, loans, more):
    pupil = make.pupil(school, make.guardian(school))
    for n in range(loans):
        make.loan(
            make.horn(school), pupil, teacher, issued_on=make.TODAY - 99 * DAY, returned_on=make.TODAY - (9 - n) * DAY
        )

    page = page_of(pupil.pk, pupil.school, make.TODAY)

    assert [loan.returned_on for loan in page.earlier] == [
        make.TODAY - (9 - n) * DAY for n in reversed(range(loans - EARLIER, loans))
    ]
    assert page.more is more


def test_the_page_takes_as_many_queries_for_three_loans_as_for_one(school, teacher):
    counts = []
    pupil = make.pupil(school, make.guardian(school), group="Band")
    for _ in range(3):
        make.charge(
            make.loan(make.horn(school), pupil, teacher, issued_on=make.TODAY - 9 * DAY, due_on=make.TODAY - DAY),
            teacher,
        )
        make.loan(make.horn(school), pupil, teacher, returned_on=make.TODAY)
        with CaptureQueriesContext(connection) as queries:
            page_of(pupil.pk, school, make.TODAY)
        counts.append(len(queries))

    assert counts[0] == counts[1] == counts[2]


def test_a_horn_kept_for_a_pupil_who_never_had_it_is_owed(school, teacher):
    pupil, horn = make.pupil(school), make.horn(school)
    make.wish(pupil, teacher, horn=horn, reserved_until=make.TODAY)
    make.wish(make.pupil(school), teacher, horn=make.horn(school), reserved_until=make.TODAY)

    assert [(one.code, one.horn) for one in page_of(pupil.pk, pupil.school, make.TODAY).owed] == [("reserved", horn.pk)]


def test_the_list_of_pupils_says_who_has_which_horn(as_, school, teacher, django_assert_max_num_queries):
    answers = make.guardian(school)
    ada, ben, cy = (make.pupil(school, answers, name=name) for name in ("Ada A", "Ben B", "Cy C"))
    make.loan(make.horn(school, number="HN-1"), ada, teacher, due_on=make.TODAY + DAY)
    make.loan(make.horn(school, number="HN-2"), ben, teacher, issued_on=make.TODAY - 9 * DAY, due_on=make.TODAY - DAY)
    make.loan(make.horn(school, number="HN-3"), cy, teacher, returned_on=make.TODAY)
    client = as_(teacher)
    client.get(f"/s/{school.slug}/pupils/")

    with django_assert_max_num_queries(9):
        page = client.get(f"/s/{school.slug}/pupils/")

    cells = [re.sub(r"<[^>]+>|\s+", " ", str(row.get_cell("horn"))) for row in page.context["table"].rows]
    assert [" ".join(cell.split()) for cell in cells] == [
        "HN-1 until 15 Sep",
        "HN-2 until 13 Sep ! 1 day overdue",
        "none",
    ]


@pytest.mark.parametrize(("counted_to", "said"), [(2, "More than 1,000 pupils; this is 1 to 3."), (3, "3 pupils")])
def test_pupils_are_counted_so_far_and_no_further(as_, school, teacher, monkeypatch, counted_to: int, said: str):
    monkeypatch.setattr("fleet.ground.paging.COUNTED_TO", counted_to)
    for name in ("Ada A", "Ben B", "Cy C"):
        make.pupil(school, name=name)

    page = as_(teacher).get(f"/s/{school.slug}/pupils/")

    assert re.search(rf'id="said"[^>]*>\s*{said}\s*</p>', folded(page))
    # What was not counted to the end is not said to be all there are.
    assert ("All of this list" if counted_to < 3 else "All 3 of this list") in folded(page)
    assert [pupil.name for pupil in page.context["page"].rows] == ["Ada A", "Ben B", "Cy C"]


@pytest.mark.parametrize("ask", [make.signature, make.sheet], ids=["on their page", "on paper"])
def test_what_a_pupils_family_is_to_sign_for_a_horn_they_do_not_have_is_owed(as_, school, teacher, ask):
    pupil, other = (make.pupil(school, make.guardian(school)) for _ in range(2))
    horn, theirs = make.horn(school), make.horn(school)
    for to, of in ((pupil, horn), (other, theirs)):
        ask(of, to, teacher)

    owed = page_of(pupil.pk, pupil.school, make.TODAY).owed

    assert [one.horn for one in owed if one.code in {"signature", "sheet"}] == [horn.pk]
