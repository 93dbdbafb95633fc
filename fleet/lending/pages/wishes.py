"""Who waits for a horn: all of them with what is ready, a new one, keeping a horn for a pupil, and its end."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import partial
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.ground.addresses import way_back
from fleet.ground.answering import answer, posted, sure
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.paging import OnePage, in_words, one_page
from fleet.ground.tables import Computed, ListTable, RowsInPages
from fleet.ground.wording import short_day
from fleet.lending.actions.wishes import wait, wait_no_longer
from fleet.lending.forms.wishes import ReserveForm, WishForm
from fleet.lending.models import Wish
from fleet.lending.queries.wishes import WishOffer, offers
from fleet.people.models import Pupil, School
from fleet.people.pages.openings import note_opening
from fleet.people.queries.school_days import school_days
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn


class WishTable(ListTable):
    """Rows are offers."""

    around = {"class": "table-wrap rows wishes"}

    pupil = Computed(_s_lazy("Pupil"))
    what = Computed(_s_lazy("Waits for"))
    since = Computed(_s_lazy("Since"))
    ready = Computed(_s_lazy("Ready"))
    end = Computed("")

    class Meta:
        orderable = False
        empty_text = _s_lazy("Nobody waits for a horn. Who does is written down on the pupil’s page.")

    def __init__(self, rows: Any, *, school: str, today: date) -> None:
        self.school, self.today = school, today
        super().__init__(rows)

    def render_pupil(self, record: WishOffer) -> SafeString:
        pupil = record.wish.pupil
        address = reverse("people:pupil", args=(self.school, pupil.pk))
        return format_html(
            '<a href="{}"><bdi>{}</bdi></a> <span class="quiet">{}</span>', address, pupil, pupil.class_in_words
        )

    def render_what(self, record: WishOffer) -> str:
        wish = record.wish
        return (
            _s("%(what)s, kept %(until)s") % {"what": wish.what, "until": wish.until}
            if wish.reserved_until
            else wish.what
        )

    def render_since(self, record: WishOffer) -> str:
        return short_day(record.wish.since, self.today)

    def render_ready(self, record: WishOffer) -> SafeString:
        issue = reverse("loans:issue", args=(self.school,))
        named = format_html_join(
            ", ",
            '<a href="{}?horn={}&amp;pupil={}">{}</a>',
            ((issue, horn.pk, record.wish.pupil_id, horn) for horn in record.ready),
        )
        more = record.many - len(record.ready)
        if more > 0:
            return format_html("{} {}", named, _s("and %(more)s more") % {"more": in_words(more)})
        return named or format_html('<span class="quiet usual">{}</span>', _s("none"))

    def render_end(self, record: WishOffer) -> SafeString:
        return format_html(
            '<a href="{}">{}<span class="visually-hidden">: {}</span></a>',
            reverse("loans:wish-end", args=(self.school, record.wish.pk)),
            _s("End"),
            record.wish,
        )


def wishes(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, request.today
    table = WishTable(RowsInPages(partial(_page, school, today), usual=""), school=school.slug, today=today)
    RequestConfig(request).configure(table)
    note_opening(request)
    return render(request, "loans/wishes.html", {"table": table})


def _page(school: School, today: date, *, sort: str, number: int) -> OnePage[Any]:
    """Page `number` of who waits, with what is ready for these."""
    found = Wish.objects.at(school).in_force(today)
    page: OnePage[Any] = one_page(
        lambda: found,
        lambda keys: found.select_related("pupil", "horn").filter(pk__in=keys),
        order=["since", "pk"],
        number=number,
        like=("wishes", school.pk, today),
    )
    return replace(page, rows=_with_what_is_kept(offers(page.rows, school, today)))


def _with_what_is_kept(rows: list[WishOffer]) -> list[WishOffer]:
    """Whom a horn is kept for may have it, though it is no offer to anybody else."""
    return [
        WishOffer(one.wish, [one.wish.horn], 1)
        if one.wish.reserved_until and one.wish.horn and one.wish.horn.may_be_lent
        else one
        for one in rows
    ]


def wish_new(request: SeatedRequest, pk: int) -> HttpResponse:
    school, today = request.seat.school, request.today
    pupil = get_object_or_404(Pupil.objects.at(school), pk=pk)
    needs = {"kind": pupil.needs_kind, "compact": bool(pupil.needs_wrap)}
    form = WishForm(posted(request), school=school, today=today, days=school_days(school), initial=needs)
    return answer(
        request,
        form,
        lambda: wait(pupil=pupil, **form.said, by=request.user, at=request.now),
        page="loans/wish_new.html",
        shown=lambda: {"pupil": pupil},
        said=lambda wish: (
            f"{wish}."
            if not wish.reserved_until
            else _s("%(horn)s is kept for %(pupil)s %(until)s.")
            % {"horn": wish.horn, "pupil": pupil, "until": wish.until}
        ),
        then=lambda _: request.seat.here("people:pupil", pupil.pk),
    )


def reserve(request: SeatedRequest, pk: int) -> HttpResponse:
    """Keeps this horn for a pupil until a day."""
    school, today = request.seat.school, request.today
    horn = get_object_or_404(Horn.objects.at(school), pk=pk)
    form = ReserveForm(posted(request), school=school, today=today, days=school_days(school))
    return answer(
        request,
        form,
        lambda: wait(
            pupil=form.cleaned_data["pupil"],
            horn=horn,
            sort={},
            since=today,
            reserved_until=form.cleaned_data["until"],
            by=request.user,
            at=request.now,
        ),
        page="loans/reserve.html",
        shown=lambda: {"horn": horn},
        said=lambda wish: (
            _s("%(horn)s is kept for %(pupil)s %(until)s.") % {"horn": horn, "pupil": wish.pupil, "until": wish.until}
        ),
        then=lambda _: request.seat.here("desk:horn", horn.pk),
    )


def wish_end(request: SeatedRequest, pk: int) -> HttpResponse:
    wish = get_object_or_404(Wish.objects.at(request.seat.school).select_related("pupil__school", "horn"), pk=pk)
    return answer(
        request,
        sure(request),
        lambda: wait_no_longer(wish=wish, by=request.user, at=request.now),
        page="loans/wish_end.html",
        shown=lambda: {"wish": wish},
        said=lambda ended: _s("%(pupil)s waits for %(what)s no longer.") % {"pupil": ended.pupil, "what": ended.what},
        then=lambda _: way_back(request, request.seat.here("loans:wishes")),
    )
