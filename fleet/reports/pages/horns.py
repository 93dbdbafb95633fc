"""Prints of horns: care card, chart, labels, and what is signed or insured when horns change hands."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.db.models import Q
from django.db.models.functions import Upper
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _s

from fleet.ground.access import HEADS
from fleet.ground.addresses import origin_of, whole
from fleet.lending.queries.loans import along_with, spoken_at_home
from fleet.people.queries.own_words import speaking
from fleet.people.queries.seats import SeatedRequest
from fleet.register.forms.places import OnePlaceForm
from fleet.register.models import Disposal, Horn, HornQuerySet
from fleet.register.models.labels import label_sheet_of
from fleet.register.queries.charted import chart_of
from fleet.reports.paper.care_card import care_card_drawn
from fleet.reports.paper.chart import chart_drawn, family_chart_drawn
from fleet.reports.paper.disposal_record import disposal_record_drawn
from fleet.reports.paper.handover import receipt_drawn, schedule_drawn
from fleet.reports.paper.labels import alignment, labels_drawn
from fleet.reports.queries.family_chart import chart_for_family
from fleet.reports.sheet.page import as_pdf, paper_asked
from identify.core.fingering.teaching import asked
from identify.core.fingering.words import kind_asked


def care_card(request: SeatedRequest, pk: int) -> HttpResponse:
    horn = get_object_or_404(Horn.objects.at(request.seat.school).select_related("school"), pk=pk)
    with speaking(horn.school, spoken_at_home(horn)):
        return care_card_answer(horn, request)


def care_card_answer(horn: Horn, request: HttpRequest) -> HttpResponse:
    """The card of a horn fetched with its school, in the language spoken now."""
    origin = origin_of(request)
    paper = paper_asked(request, horn.school)
    address = origin + reverse("desk:label", args=[horn.label_code])
    return as_pdf(care_card_drawn(horn, paper=paper, address=address), f"care-{horn.number}".replace("/", "-"))


def chart(request: SeatedRequest, pk: int) -> HttpResponse:
    horn = get_object_or_404(Horn.objects.at(request.seat.school).select_related("school"), pk=pk)
    return chart_answer(horn, request, kind_asked(request.GET))


def chart_answer(horn: Horn, request: HttpRequest, kind: str, *, for_family: bool = False) -> HttpResponse:
    """The print of a horn (with its school) as the address asks for it; 404 while it has no chart."""
    found = chart_of(horn, asked(request.GET))
    if found is None:
        raise Http404("This horn has no chart yet.")
    named = {
        "number": horn.number,
        "school": horn.school.name,
        "paper": paper_asked(request, horn.school),
    }
    if for_family:
        content = family_chart_drawn(found, chart_for_family(horn, found, kind), **named)
    else:
        content = chart_drawn(found, kind, **named)
    return as_pdf(content, f"chart-{horn.number}-{kind}".replace(" ", "-").replace("/", "-"))


MOST = 2000
KEPT = ("numbers", "place", "place-words", "place-one", "skip", "cut", "found", "from", "to")


def labels(request: SeatedRequest) -> HttpResponse:
    """Labels of the horns asked for (`horns_asked`); `skip` labels are used already, `cut` draws lines to cut along,
    `found` asks a finder to bring the horn back, `align` prints a test page. Without a horn nothing is printed: a sheet
    of labels is dear."""
    school = request.seat.school
    sheet = label_sheet_of(school)
    if request.GET.get("align"):
        return as_pdf(alignment(sheet, school=school), "label-alignment")
    skip = whole(request.GET.get("skip"), most=999) or 0
    origin = origin_of(request)
    asked = horns_asked(request)
    rows = asked.horns.values_list("number", "label_code", "build")
    count = len(rows) if not asked.wrong else 0
    if not count:
        return asked.back(request, _s("There is no horn to print a label for."))
    if count > MOST:
        too_many = _s("That would be %(count)s labels. Print at most %(most)s at once: choose a place.")
        return asked.back(request, too_many % {"count": count, "most": MOST})
    content = labels_drawn(
        rows,
        sheet=sheet,
        school=school,
        origin=origin,
        skip=skip,
        cut=bool(request.GET.get("cut")),
        found=bool(request.GET.get("found")),
    )
    return as_pdf(content, f"labels-{request.today:%Y-%m-%d}")


@dataclass(frozen=True, slots=True)
class LabelsAsked:
    """The horns of a print, the numbers that no horn kept at the school has, and whether it is not clear which place
    was meant, which the page of prints says beside what was typed."""

    horns: HornQuerySet
    refused: Sequence[str] = ()
    unclear: bool = False

    @property
    def wrong(self) -> bool:
        return bool(self.refused) or self.unclear

    def back(self, request: SeatedRequest, sentence: str = "") -> HttpResponse:
        """Back to the prints with what was typed and a sentence: of the numbers, where they are what is wrong."""
        if self.refused:
            shown = ", ".join(one[:30] for one in self.refused[:5])
            more = len(self.refused) - 5
            none = _s("The school keeps no horn with the number %(numbers)s. Nothing was printed.")
            if more > 0:
                none = _s(
                    "The school keeps no horn with the number %(numbers)s and %(count)s more. Nothing was printed."
                )
            sentence = none % {"numbers": shown, "count": more}
        if not self.unclear:
            messages.warning(request, sentence)
        kept = {key: request.GET[key] for key in KEPT if request.GET.get(key)}
        return redirect(f"{reverse('desk:prints', args=[request.seat.school.slug])}?{urlencode(kept)}#horns")


def horns_asked(request: SeatedRequest) -> LabelsAsked:
    """The horns of a print, by number: those of the keys `horn`, of the `numbers` with commas between, of a `place`, or
    all the school keeps."""
    horns = Horn.objects.at(request.seat.school).kept().by_number()
    if "horn" in request.GET:
        keys = [key for one in request.GET.getlist("horn") if (key := whole(one)) is not None]
        return LabelsAsked(horns.filter(pk__in=keys[:MOST]))
    said = request.GET.get("numbers", "").replace("\0", "")
    numbers = {one.strip().upper(): one.strip() for one in re.split(r"[,;\n]", said) if one.strip()}
    if numbers:
        some = list(numbers.items())[:MOST]
        # As typed too: not every database knows the capitals of every letter.
        alike = Q(capitals__in=[capitals for capitals, _ in some]) | Q(number__in=[typed for _, typed in some])
        horns = horns.annotate(capitals=Upper("number")).filter(alike)
        found = {number.upper() for number in horns.values_list("number", flat=True)}
        return LabelsAsked(horns, [typed for one, typed in numbers.items() if one not in found])
    of_place = OnePlaceForm(request.GET, school=request.seat.school, label="", empty="")
    if of_place.errors:
        return LabelsAsked(horns.none(), unclear=True)
    if of_place.is_bound and (place := of_place.cleaned_data["place"]):
        return LabelsAsked(horns.filter(place=place))
    return LabelsAsked(horns)


def receipt(request: SeatedRequest) -> HttpResponse:
    """A receipt for the horns asked for, with the names `from` and `to` if given; both sign. No values, no pupils."""
    school, today = request.seat.school, request.today
    asked = horns_asked(request)
    if asked.wrong:
        return asked.back(request)
    horns = list(asked.horns.select_related("place"))
    names = tuple(request.GET.get(key, "").replace("\0", "")[:80] for key in ("from", "to"))
    paper = paper_asked(request, school)
    content = receipt_drawn(horns, names=names, school=school, today=today, paper=paper)
    return as_pdf(content, f"handover-{today:%Y-%m-%d}")


def schedule(request: SeatedRequest) -> HttpResponse:
    """What each horn is worth, for the insurer: heads only, and no names of pupils."""
    school, today = request.seat.school, request.today
    horns = list(horns_asked(request).horns.select_related("place"))
    paper = paper_asked(request, school)
    content = schedule_drawn(horns, along=along_with(school), school=school, today=today, paper=paper)
    return as_pdf(content, f"insurance-{today:%Y-%m-%d}")


def disposal_record(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    told = Disposal.objects.at(school).exclude(approved=False).select_related("horn", "proposed_by", "decided_by")
    record = get_object_or_404(told, pk=pk)
    paper = paper_asked(request, school)
    content = disposal_record_drawn(record, with_money=request.seat.role in HEADS, school=school, paper=paper)
    return as_pdf(content, f"disposal-{record.horn}")
