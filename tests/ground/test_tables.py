"""Lists: one template draws them, and rows that cost little say what the library's own would."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import django_tables2 as tables
import pytest
from django.conf import settings
from django.template import engines
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import mark_safe
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy
from django_tables2 import RequestConfig
from django_tables2.rows import BoundRow

from fleet.ground.access import Role
from fleet.ground.badges import drawn as drawn_as
from fleet.ground.paging import LAST_PAGE, OnePage, counted, in_words
from fleet.ground.tables import Computed, FigureColumn, ListTable, RowsInPages
from fleet.people.models import Pupil
from tests import make

TEMPLATES = Path(settings.BASE_DIR) / "templates"
# The one table that is no list: a chart, whose rows have headings.
NO_LIST = "desk/_chart_table.html"


class Birds(ListTable):
    name = Computed()
    eggs = FigureColumn("How many eggs")
    seen = tables.Column()

    class Meta:
        default = "–"
        empty_text = "No birds."
        per_page = 2

    def render_name(self, record: dict[str, Any]) -> str:
        return f"the {record['name']}"


BIRDS = [
    {"name": "<rook>", "eggs": 4, "seen": None},
    {"name": "wren", "eggs": 0, "seen": "often"},
    {"name": "owl", "eggs": 3, "seen": ""},
]


def drawn(table: ListTable, query: str = "") -> str:
    request = RequestFactory().get(f"/{query}")
    RequestConfig(request).configure(table)
    template = engines["django"].from_string("{% load render_table from django_tables2 %}{% render_table table %}")
    return re.sub(r"\s+", " ", template.render({"table": table}, request=without_anybody(request)))


def without_anybody(request: Any) -> Any:
    request.user, request.seat = None, None
    return request


def cells(table: ListTable) -> list[list[Any]]:
    return [[cell for _, cell in row.items()] for row in table.paginated_rows]


def test_a_row_says_what_the_librarys_own_row_says():
    table = Birds(BIRDS)

    theirs = [[cell for _, cell in BoundRow(bird, table).items()] for bird in BIRDS]

    said = [re.findall(r"<td[^>]*>(.*?)</td>", row.drawn) for row in table.rows]
    assert said == [[conditional_escape(cell) for cell in row] for row in theirs]
    assert theirs[0] == ["the <rook>", 4, "–"]


class Named:
    def __str__(self) -> str:
        return "<Rook>"


@pytest.mark.parametrize(
    "filled",
    ["<b>", mark_safe("<b>"), 7, None, Named(), date(2026, 9, 14), gettext_lazy("<b>"), format_lazy("{}", "<b>")],
)
def test_a_pattern_is_filled_as_the_framework_fills_it(filled: Any):
    assert drawn_as("<i>{}</i>", filled) == format_html("<i>{}</i>", filled)


def test_cells_carry_their_heading_and_words_are_escaped():
    page = drawn(Birds(BIRDS))

    assert '<td role="cell" data-column="name" data-label="Name">the &lt;rook&gt;</td>' in page
    assert '<td role="cell" class="num" data-column="eggs" data-label="How many eggs">4</td>' in page
    assert re.search(
        r'<th scope="col" role="columnheader" class="num" data-column="eggs"><a href="\?sort=eggs">How many eggs',
        page,
    )


def test_the_address_gives_order_and_page():
    table = Birds(BIRDS)

    page = drawn(table, "?sort=-eggs&page=2")

    assert cells(table) == [["the wren", 0, "often"]]
    assert 'aria-sort="descending"' in page
    assert "Page 2 of 2, 3 in all" in page


def test_a_list_with_nothing_in_it_says_so():
    assert '<div class="empty"> <p>No birds.</p> </div>' in drawn(Birds([]))


def looked_up(*, sort: str, number: int) -> OnePage[dict[str, Any]]:
    return OnePage([{"name": f"{sort} {number}", "eggs": 1, "seen": None}], number, 60, more=False, has_next=True)


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("", "eggs 1"),
        ("?sort=-name&page=3", "-name 3"),
        ("?sort=song&page=0", "eggs 1"),
        ("?page=-3", "eggs 1"),
        ("?page=²", "eggs 1"),
        ("?page=99999999999999999999&per_page=7", "eggs 400"),
    ],
)
def test_a_look_up_of_the_slice_gets_order_and_page_too(query: str, told: str):
    table = Birds(RowsInPages(looked_up, usual="eggs"), order_by="eggs")

    page = drawn(table, query)

    assert cells(table)[0][0] == f"the {told}"
    assert '<nav class="pagination"' in page


def test_a_page_knows_which_rows_it_holds_and_which_pages_are_near():
    only = OnePage(BIRDS, 1, 3, more=False, has_next=False)
    third = OnePage(BIRDS, 3, 60, more=False, has_next=True)

    assert (only.first, only.last, only.previous, only.next, only.numbers) == (1, 3, None, None, (1,))
    assert (third.first, third.last, third.previous, third.next, third.numbers) == (51, 53, 2, 4, (1, 2, 3, 4))
    assert OnePage(BIRDS, 9, 1000, more=True, has_next=True).numbers == (1, 7, 8, 9, 10, 11)


@pytest.mark.parametrize(("number", "next_one"), [(LAST_PAGE - 1, LAST_PAGE), (LAST_PAGE, None)])
def test_nobody_leafs_on_from_the_last_page_that_is_shown(number: int, next_one: int | None):
    page = OnePage(BIRDS, number, 1000, more=True, has_next=True)

    assert (page.is_last_shown, page.next) == (next_one is None, next_one)


@pytest.mark.parametrize(("many", "told"), [(0, ""), (1, "1"), (1000, "1000"), (1001, "more than 1,000")])
def test_what_was_counted_is_told_exactly_up_to_a_thousand(many: int, told: str):
    assert in_words(many) == told


@pytest.mark.parametrize(("beyond", "told"), [(0, "more than 2"), (1, "2"), (2, "1"), (3, "")])
def test_rows_are_counted_to_one_more_than_is_told(db: None, monkeypatch: Any, beyond: int, told: str):
    monkeypatch.setattr("fleet.ground.paging.COUNTED_TO", 2)
    school = make.school()
    for _ in range(3):
        make.pupil(school)

    assert counted(Pupil.objects.at(school), beyond=beyond) == told


@pytest.mark.parametrize("said", ["-5", "0", "1", "100000", "x"])
def test_a_page_size_in_the_address_changes_nothing(said: str, db: None):
    school = make.school()
    for _ in range(3):
        make.pupil(school)
    client = Client()
    client.force_login(make.staff(Role.HEAD, school))

    answer = client.get(reverse("people:pupils", args=[school.slug]), {"per_page": said})

    assert answer.status_code == 200
    assert answer.content.count(b"<td") == 3 * 6


def test_one_template_draws_every_list():
    drawing = [page for page in TEMPLATES.rglob("*.html") if "<table" in page.read_text(encoding="utf-8")]

    assert {page.relative_to(TEMPLATES).as_posix() for page in drawing} == {"_partials/table.html", NO_LIST}
