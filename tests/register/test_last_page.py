"""Where the pages of a long list end, and what is counted stops."""

from __future__ import annotations

import pytest

from fleet.ground import paging, tables
from fleet.ground.access import Role
from fleet.register.queries import listing
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


@pytest.fixture
def asked(as_, monkeypatch):
    """A list of twelve horns and of four withdrawn, three a page, counted to three; what a page of it answers."""
    for module in (paging, listing):
        monkeypatch.setattr(module, "COUNTED_TO", 3)
    monkeypatch.setattr(paging, "PAGE", 3)
    for module in (paging, tables):
        monkeypatch.setattr(module, "LAST_PAGE", 2)
    school = make.school()
    for number in range(12):
        make.horn(school, number=f"HN-{number}", maker="Brass Loft")
    for number in range(4):
        make.horn(school, number=f"OLD-{number}", maker="Brass Loft", withdrawn_on=make.TODAY)
    browser = as_(make.staff(Role.HEAD, school))
    return lambda query: browser.get(f"/s/{school.slug}/horns/?{query}")


def test_on_the_last_page_shown_nothing_leads_on_and_a_sentence_says_why(asked):
    for query in ("page=2", "page=3", "page=900", "page=2&q=loft"):
        answer = asked(query)
        page = answer.context["page"]
        assert [row.number for row in page.rows] == ["HN-3", "HN-4", "HN-5"]
        assert (page.next, page.numbers) == (None, (1, 2))
        assert "The pages end here" in answer.content.decode()


def test_before_it_the_list_leads_on_and_says_nothing_of_an_end(asked):
    answer = asked("page=1")

    assert answer.context["page"].next == 2
    assert "The pages end here" not in answer.content.decode()


def test_of_many_withdrawn_it_is_said_that_there_are_more_than_were_counted(asked):
    assert asked("page=1").context["withdrawn"] == "more than 3"
    assert asked("q=old-1").context["withdrawn"] == "1"


def test_beside_horns_too_many_to_count_one_may_look_among_the_withdrawn_for_the_same_words(asked):
    among = '<a href="?q={}&amp;where=withdrawn">Look among the withdrawn, too</a>'

    assert among.format("loft") in folded(asked("q=loft"))
    # Where it was said where they are, the list shows what was said.
    for query in ("q=loft&where=cupboard", "q=loft&where=withdrawn", "q=old-1", "page=1"):
        assert "Look among" not in folded(asked(query))
