"""Labels for horns: a square code that opens the horn's page for those who may see it, the number, the school.

A label says nothing else: a found horn should find its way back, and tell a stranger nothing about a child.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO

from django.contrib import messages
from django.db.models import Q
from django.db.models.functions import Upper
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from fleet.access import SeatedRequest
from fleet.asked import whole
from fleet.origin import origin_of
from fleet.people.models import School
from fleet.register.models import Horn, HornQuerySet
from fleet.register.stationery import LabelSheet, label_sheet_of
from fleet.reports.page import Page, as_pdf

MARGIN = 2.0
MOST = 2000
KEPT = ("numbers", "place", "skip", "cut", "from", "to")


def labels(request: SeatedRequest) -> HttpResponse:
    """Labels of the horns asked for (`horns_asked`); `skip` labels are used already, `cut` draws lines to cut along,
    `align` prints a test page. Without a horn nothing is printed: a sheet of labels is dear."""
    school = request.seat.school
    sheet = label_sheet_of(school)
    if request.GET.get("align"):
        return as_pdf(alignment(sheet, school=school), "label-alignment")
    skip = whole(request.GET.get("skip"), most=999) or 0
    origin = origin_of(request)
    asked = horns_asked(request)
    rows = asked.horns.values_list("number", "label_code")
    count = len(rows) if not asked.refused else 0
    if asked.refused or not count:
        return asked.back(request, "There is no horn to print a label for.")
    if count > MOST:
        return asked.back(request, f"That would be {count} labels. Print at most {MOST} at once: choose a place.")
    content = drawn(rows, sheet=sheet, school=school, origin=origin, skip=skip, cut=bool(request.GET.get("cut")))
    return as_pdf(content, f"labels-{timezone.localdate(request.now):%Y-%m-%d}")


@dataclass(frozen=True, slots=True)
class Asked:
    """The horns of a print, and the numbers that no horn kept at the school has."""

    horns: HornQuerySet
    refused: Sequence[str] = ()

    def back(self, request: SeatedRequest, sentence: str = "") -> HttpResponse:
        """Back to the prints with what was typed and a sentence: of the numbers, where they are what is wrong."""
        if self.refused:
            shown = ", ".join(f"“{one[:30]}”" for one in self.refused[:5])
            more = f" and {len(self.refused) - 5} more" if len(self.refused) > 5 else ""
            sentence = f"The school keeps no horn with the number {shown}{more}. Nothing was printed."
        messages.warning(request, sentence)
        kept = {key: request.GET[key] for key in KEPT if request.GET.get(key)}
        return redirect(f"{reverse('desk:prints', args=[request.seat.school.slug])}?{urlencode(kept)}#horns")


def horns_asked(request: SeatedRequest) -> Asked:
    """The horns of a print: `numbers` with commas between, a `place`, or all the school keeps, by number."""
    horns = Horn.objects.at(request.seat.school).kept().order_by("number_stem", "number_tail", "pk")
    said = request.GET.get("numbers", "").replace("\0", "")
    numbers = {one.strip().upper(): one.strip() for one in re.split(r"[,;\n]", said) if one.strip()}
    if numbers:
        some = list(numbers.items())[:MOST]
        # As typed too: not every database knows the capitals of every letter.
        alike = Q(capitals__in=[capitals for capitals, _ in some]) | Q(number__in=[typed for _, typed in some])
        horns = horns.annotate(capitals=Upper("number")).filter(alike)
        found = {number.upper() for number in horns.values_list("number", flat=True)}
        return Asked(horns, [typed for one, typed in numbers.items() if one not in found])
    if (place := whole(request.GET.get("place"))) is not None:
        return Asked(horns.filter(place_id=place))
    return Asked(horns)


def drawn(
    rows: Iterable[tuple[str, str]],
    *,
    sheet: LabelSheet,
    school: School,
    origin: str,
    skip: int = 0,
    cut: bool = False,
) -> bytes:
    """The PDF for (number, label code) rows; the first `skip` labels of the first sheet stay free."""
    out = BytesIO()
    page = Page(out, school=school.name, title="Labels", paper=sheet.paper, bare=True)
    place = skip % sheet.count
    for number, code in rows:
        if place == sheet.count:
            page.turn()
            place = 0
        x, y = sheet.corner(place)
        if cut:
            page.frame(x, y, sheet.width, sheet.height, weight=0.2)
        one_label(
            page, sheet, x, y, number=number, school=school.name, address=origin + reverse("desk:label", args=[code])
        )
        place += 1
    page.close()
    return out.getvalue()


def one_label(page: Page, sheet: LabelSheet, x: float, y: float, *, number: str, school: str, address: str) -> None:
    """The code at the left, the number beside it, the school below, inside a margin that forgives a crooked feed."""
    side = min(sheet.height - 2 * MARGIN, sheet.width * 0.5)
    page.code(x + MARGIN, y + (sheet.height - side) / 2, side, address)
    left = x + MARGIN + side + 1.0
    room = sheet.width - (left - x) - MARGIN
    middle = y + sheet.height / 2
    page.words(left, middle + 1.0, number, size=min(20.0, sheet.height * 0.55), bold=True, width=room)
    page.words(left, middle + 6.0, school, size=8, width=room)


def alignment(sheet: LabelSheet, *, school: School) -> bytes:
    """Frames where the labels should lie, with their numbers: print it on plain paper, hold it against a sheet."""
    out = BytesIO()
    page = Page(out, school=school.name, title="Labels, alignment", paper=sheet.paper, bare=True)
    for place in range(sheet.count):
        x, y = sheet.corner(place)
        page.frame(x, y, sheet.width, sheet.height, weight=0.3)
        page.words(x + 3, y + 7, str(place + 1), size=11)
        page.words(x + 3, y + 12, f"{sheet.width:g} × {sheet.height:g} mm", size=8, width=sheet.width - 6)
    x, y = sheet.corner(0)
    page.words(x + 3, y + 15.4, "Print at 100 %, not fitted to the page.", size=7, width=sheet.width - 6)
    page.close()
    return out.getvalue()
