"""How every list is drawn: a table of django-tables2 in our light template, with rows that cost little."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cached_property, lru_cache, wraps
from html import escape
from typing import Any, ClassVar

import django_tables2 as tables
from django.forms.utils import flatatt
from django.http import HttpRequest, HttpResponse, QueryDict
from django.template import Context
from django.template.base import render_value_in_context
from django.template.loader import get_template
from django.utils.cache import patch_vary_headers
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s
from django_tables2.data import TableData
from django_tables2.rows import BoundRow, BoundRows
from django_tables2.utils import computed_values

from fleet.ground.addresses import address, query_with
from fleet.ground.badges import drawn
from fleet.ground.fields import Declared
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.paging import LAST_PAGE, OnePage

# Further on than any list reaches; below what an engine takes for a number of rows.
MOST_PAGES = 999_999
# In which a value is drawn as a template draws it.
_PLAIN = Context()


def as_typed(page: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """For the page of a list that is asked while somebody types (`_partials/as_typed.html`): it answers with what was
    found alone then. Its template stands in `request.frame`.
    """

    @wraps(page)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        typed = request.htmx and request.htmx.target == "found"  # type: ignore[attr-defined]
        request.frame = get_template("_partials/found.html" if typed else "base.html")  # type: ignore[attr-defined]
        response = page(request, *args, **kwargs)
        patch_vary_headers(response, ["HX-Request", "HX-Target"])
        return response

    return answered


def address_of(page: str, school: str) -> Callable[[int], str]:
    """From a row's key to the address of its page at the school, looked up once and not for every row."""
    before, _, after = address(page, school, 0).rpartition("0")
    return lambda key: f"{before}{key}{after}"


class FigureColumn(tables.Column):
    """A column of figures, set to the right."""

    attrs = {"th": {"class": "num"}, "td": {"class": "num"}}


class Computed(tables.Column):
    """A column whose cells the table's `render_…(self, record)` makes of the whole row, empty or not."""

    empty_values = ()


class ComputedFigureColumn(FigureColumn):
    empty_values = ()


class Tick(Computed):
    """A box before each row, for the form with the id `several` beside the list; named by `ListTable.ticks`."""

    def __init__(self) -> None:
        super().__init__(_s_lazy("Tick"), orderable=False)


class LightRow(BoundRow):
    """A row that has how its cells are made from the table, which looks once.

    The library looks for each cell anew, which takes longer than all the rest of a page of the list of horns.
    """

    def __init__(self, record: Any, table: ListTable) -> None:
        # Without the library's `cells`, which hold the row: a row goes with its last use, and nothing collects it.
        self._record, self._table = record, table

    @property
    def drawn(self) -> SafeString:
        """The row as HTML, joined here: a template node for each cell took a fifth of a list page's time."""
        record, table = self._record, self._table
        further = flatatt(computed_values(table.row_attrs, {"record": record})) if table.row_attrs else ""
        said = [f'<tr role="row"{further}>\n']
        for name, opening, render in table.cells:
            cell = render(record) if render else self.get_cell(name)
            # Joined: to format what is safe already asks each text for itself first.
            said += opening, (cell if type(cell) is SafeString else _said(cell)), "</td>\n"
        return SafeString("".join([*said, "</tr>"]))


class LightRows(BoundRows):
    def __iter__(self) -> Iterator[LightRow]:
        return (LightRow(record, table=self.table) for record in self.data)

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, slice):
            return LightRows(self.data[key], self.table)
        return LightRow(self.data[key], table=self.table)


class RowsInPages(TableData):
    """Rows that a look-up of the slice puts in order and cuts into pages: `look_up(sort=…, number=…)`.

    `usual` is the sort where the address names none of the table's.
    """

    def __init__(self, look_up: Callable[..., OnePage[Any]], *, usual: str) -> None:
        super().__init__(None)
        self.look_up, self.sort, self.usual, self.number = look_up, usual, usual, 1

    def order_by(self, aliases: Any) -> None:
        self.sort = str(aliases[-1]) if aliases else self.usual

    @cached_property
    def page(self) -> Any:
        """The page the address asks for, a `OnePage`."""
        return self.look_up(sort=self.sort, number=min(self.number, LAST_PAGE))

    def __len__(self) -> int:
        return len(self.page.rows)

    def __iter__(self) -> Iterator[Any]:
        return iter(self.page.rows)

    def __getitem__(self, key: Any) -> Any:
        return self.page.rows[key]


class ListTable(tables.Table):
    """A list of ours.

    `RequestConfig(request).configure(table)` gives it order and page; `{% render_table table %}` draws it.
    A page holds `Meta.per_page` rows, whatever the address says.
    """

    base_columns: ClassVar[dict[str, tables.Column]]
    around = {"class": "table-wrap"}
    # The name of the boxes, where the table has a column `tick`.
    ticks = ""

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        cls.base_columns = Declared(cls.base_columns)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = LightRows(self.data, self)

    def render_tick(self, record: Any) -> SafeString:
        box = '<input type="checkbox" name="{}" value="{}" form="several" aria-label="{}">'
        return drawn(box, self.ticks, record.pk, self._tick % {"row": record})

    @cached_property
    def _tick(self) -> str:
        return _s("Tick %(row)s")

    @property
    def wrap(self) -> SafeString:
        """The attributes of the box the table stands in."""
        return _attributes(**self.around)

    @property
    def turned_to(self) -> Any:
        """The page that is shown, or None where the list has no pages."""
        return self.data.page if isinstance(self.data, RowsInPages) else getattr(self, "page", None)

    @cached_property
    def _columns(self) -> list[tuple[Any, str]]:
        """The columns shown, each with its words, said once."""
        return [(column, _words(column)) for column in self.columns]

    @property
    def head(self) -> SafeString:
        """The headings as HTML, each the way to the sort it stands for."""
        found, sorted_by = [], {one.lstrip("-"): one for one in self.order_by or ()}
        for column, words in self._columns:
            name, sort = column.name, sorted_by.get(column.name)
            attributes = {"data-column": name, **column.column.attrs.get("th", {})}
            if sort:
                attributes["aria-sort"] = "ascending" if sort == name else "descending"
            asked_next = f"-{name}" if sort == name else name
            found.append((_attributes(**attributes), words, asked_next if column.orderable else ""))
        # A table that nobody can sort need not know what it is asked.
        asked = self.request.GET.urlencode() if any(sort for _, _, sort in found) else ""
        return _headings(tuple(found), asked)

    @property
    def body(self) -> SafeString:
        """The rows of the page as HTML."""
        return SafeString("\n".join([row.drawn for row in self.paginated_rows]))

    @cached_property
    def cells(self) -> list[tuple[str, str, Callable[..., Any] | None]]:
        """Of each column its name, how its cells begin, what makes them where it takes the record alone."""
        found = []
        for column, words in self._columns:
            said = {"data-label": words, "data-column": column.name, **column.column.attrs.get("td", {})}
            opening = f'<td role="cell"{_attributes(**said)}>'
            found.append((column.name, opening, column.render if _is_computed(column) else None))
        return found

    def paginate(self, paginator_class: Any = None, per_page: Any = None, page: Any = 1, **kwargs: Any) -> ListTable:
        if isinstance(self.data, RowsInPages):
            self.data.number = max(1, min(page, MOST_PAGES))
            return self
        chosen = {"paginator_class": paginator_class} if paginator_class else {}
        super().paginate(per_page=self._meta.per_page, page=page, **chosen, **kwargs)
        return self


def _words(column: Any) -> str:
    """Its own, which the library would say first to see whether there are any; else those it makes up."""
    own = column.column.verbose_name
    return str(column.header if own is None else own)


def _is_computed(column: Any) -> bool:
    return column.link is None and isinstance(column.column, (Computed, ComputedFigureColumn))


@lru_cache(maxsize=512)
def _attributes(**said: str) -> SafeString:
    """Attributes of headings and cells, which every request asks for in the same words."""
    return flatatt(said)


# The first page of a list and its next ones are asked for again and again.
@lru_cache(maxsize=256)
def _headings(columns: tuple[tuple[SafeString, str, str], ...], asked: str) -> SafeString:
    """Of each column its attributes, its words, and the sort they lead to, "" for none."""
    said, found = QueryDict(asked), []
    for attributes, words, sort in columns:
        inside = drawn('<a href="{}">{}</a>', query_with(said, sort=sort, page=""), words) if sort else words
        found.append(drawn('<th scope="col" role="columnheader"{}>{}</th>', attributes, inside))
    return SafeString("\n".join(found))


def _said(cell: Any) -> str:
    """A cell as a template says it."""
    return escape(cell) if type(cell) is str else render_value_in_context(cell, _PLAIN)
