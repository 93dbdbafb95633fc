"""The lists of horns and of places as tables."""

from __future__ import annotations

from datetime import date
from functools import cache, lru_cache, partial
from typing import Any

import django_tables2 as tables
from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.translation import get_language
from django.utils.translation import gettext as _s

from fleet.ground.badges import badge, drawn, overdue
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ListTable, RowsInPages, Tick, address_of
from fleet.people.models import School
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn, Place
from fleet.register.models.kinds import kind_in_words, stand_in_words
from fleet.register.pages.badges import grade_badge, grade_in_words, whereabouts_in_short
from fleet.register.queries.filters import HornFilters
from fleet.register.queries.kept import where_kept
from fleet.register.queries.listing import USUAL, page_of

# So many letters of a kind stand beside the number on a phone.
LINE, LINE_BESIDE_A_PICTURE = 30, 24
# What keeps no horn from being lent is plain words, which a phone leaves out.
_USUAL_GRADES = (Horn.Grade.PLAYS_WELL, Horn.Grade.SMALL_FAULT)


def _not_identified(described_as: str) -> SafeString:
    if not described_as:
        return badge("care", "?", _s("not identified"))
    return drawn('{} <q class="quiet">{}</q>', badge("care", "?", _s("not identified")), described_as)


# The days of a list are those of the lists before.
@lru_cache(maxsize=2048)
def _day(day: date | None, _language: str | None) -> str:
    """A day that stays on one line."""
    return date_format(day, "SHORT_DATE_FORMAT").replace(" ", "\u00a0") if day else ""


# Drawn once in each language.
@lru_cache(maxsize=16)
def _usual(_language: str | None) -> tuple[SafeString, dict[int | None, SafeString]]:
    """What is no news: that a horn is out; and, by grade, that it may be lent, or how it plays is not known yet."""
    usual = '<span class="usual">{}</span>'
    grades: dict[int | None, SafeString] = {grade: drawn(usual, grade_in_words(grade)) for grade in _USUAL_GRADES}
    grades[None] = drawn('<span class="quiet">{}</span>', _s("not checked yet"))
    return drawn(usual, Horn.Where.OUT.label), grades


class HornTable(ListTable):
    around = {"class": "table-wrap rows horns"}
    ticks = "horn"

    tick = Tick()
    number = Computed(_s_lazy("Number"))
    build = Computed(_s_lazy("What it is"))
    stands_in = Computed(_s_lazy("Stands in"))
    where = Computed(_s_lazy("Where it is"))
    holder = Computed(_s_lazy("Who has it"))
    due = Computed(_s_lazy("Due"))
    place = Computed(_s_lazy("Place"))
    grade = Computed(_s_lazy("Plays"))
    checked = Computed(_s_lazy("Checked"))

    def __init__(self, filters: HornFilters, *, school: School, today: date) -> None:
        self._today, self._language = today, get_language()
        # Said once a page, and not for every row.
        self._kind, self._stand = cache(kind_in_words), cache(stand_in_words)
        self._out, self._grades = _usual(self._language)
        self._horn, self._photo = address_of("desk:horn", school.slug), address_of("register:photograph", school.slug)
        super().__init__(RowsInPages(partial(page_of, school, filters), usual=USUAL), order_by=USUAL)

    def render_number(self, record: Horn) -> SafeString:
        link = drawn('<a href="{}">{}</a>', self._horn(record.pk), record.number)
        photo = getattr(record, "photo", None)
        if photo is None:
            return link
        # Beside a link of the same meaning, so it says nothing of its own.
        picture = '{} <img class="thumb" src="{}?small=1" width="32" height="24" alt="" loading="lazy">'
        return drawn(picture, link, self._photo(photo))

    def render_build(self, record: Horn) -> str | SafeString:
        if not record.build:
            return _not_identified(record.described_as)
        room = LINE if getattr(record, "photo", None) is None else LINE_BESIDE_A_PICTURE
        kind = self._kind(record.build)
        return drawn('<span class="long">{}</span>', kind) if len(kind) > room else kind

    def render_stands_in(self, record: Horn) -> str:
        return self._stand(record.stands_in)

    def render_where(self, record: Horn) -> str | SafeString:
        # Being out is no news of a horn; a label stands where somebody should look, and its words are made there alone.
        if where_kept(record.where, record.noted_back).is_with_family:
            return self._out
        return whereabouts_in_short(record)

    def render_holder(self, record: Horn) -> str | SafeString:
        who = record.holder_name or record.repairer
        if not record.holder_group:
            return who
        return drawn('<bdi>{}</bdi> <span class="quiet">{}</span>', who, record.holder_group)

    def render_due(self, record: Horn) -> str | SafeString:
        due = record.due(self._today)
        if due is None or not due.is_over:
            return _day(record.due_on, self._language)
        return drawn("{} {}", _day(due.on, self._language), overdue(due))

    def render_place(self, record: Horn) -> str:
        # Where it is kept; for a horn that is there, that is where it is.
        return "" if record.where == Horn.Where.IN_PLACE else str(record.place or "")

    def render_grade(self, record: Horn) -> SafeString:
        # An empty cell would read as if nothing kept the horn from being lent.
        return self._grades.get(record.grade) or grade_badge(record.grade)

    def render_checked(self, record: Horn) -> str:
        return _day(record.checked_on, self._language)


class PlaceTable(ListTable):
    """Places with `there`, how many horns are kept in each."""

    around = {"class": "table-wrap rows"}

    room = tables.Column(_s_lazy("Room"))
    shelf = tables.Column(_s_lazy("Shelf"), default="–")
    there = Computed(_s_lazy("Horns kept there"))
    change = Computed(_s_lazy("Change"))

    class Meta:
        orderable = False
        per_page = 50

    def __init__(self, places: QuerySet[Place], *, seat: Seat) -> None:
        self.seat = seat
        may_change = seat.may("register:place-edit", write=True)
        super().__init__(places, exclude=() if may_change else ("change",))

    def render_there(self, record: Any) -> str | SafeString:
        if not record.there:
            return _s("none")
        return drawn(
            '<a href="{}?place={}">{}<span class="visually-hidden"> {}</span></a>',
            self.seat.here("register:horns"),
            record.pk,
            record.there,
            _s("horns in %(place)s") % {"place": record},
        )

    def render_change(self, record: Place) -> SafeString:
        return drawn(
            '<a href="{}">{}<span class="visually-hidden"> {}</span></a>',
            self.seat.here("register:place-edit", record.pk),
            _s("Rename"),
            record,
        )
