"""Care on the loan sheet: large enough to be read, in every language, with the agreement on the same page."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.ground.languages.known import KNOWN
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import FIRST_WORDS
from fleet.reports.paper.loan_sheet import loan_sheets_drawn
from fleet.reports.queries.loan_facts import of_loan
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


@pytest.mark.parametrize("rules", ["", "The school insures the horn. " * 20])
def test_care_stands_at_nine_points_and_our_agreement_beside_the_schools_on_one_page(rules):
    school = make.school(language="de", family_languages=[*KNOWN], local_rules=rules)
    head = make.staff(Role.HEAD, school)
    horn = make.horn(school, build="double-full", stands_in="F")
    check = make.check(horn, head, grade=2)
    make.finding(check, "bell-dented", "n")
    began = make.TODAY - timedelta(days=9)
    loan = make.loan(horn, make.pupil(school), head, check_at_issue=check, issued_on=began, due_on=make.TODAY)
    Agreement.objects.filter(school=school).update(words=FIRST_WORDS)
    loan.agreement.refresh_from_db()

    sizes, pages = set(), {}
    for loan.language in KNOWN:
        facts = of_loan(loan)
        drawn = loan_sheets_drawn([facts], school=school, paper="a4", origin="https://horns.example")
        found = PdfReader(io.BytesIO(drawn)).pages
        pages[loan.language] = len(found)
        told: list[tuple[str, float]] = []
        found[0].extract_text(visitor_text=lambda words, _c, _t, _f, size, told=told: told.append((words, size)))
        label = facts.care.lines[3]
        sizes |= {size for words, size in told if len(words.strip()) > 20 and label.startswith(words.strip())}

    assert set(pages.values()) == {1}
    assert sizes == {9.0}
