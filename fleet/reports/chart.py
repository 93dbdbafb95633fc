"""The fingering chart on paper: one page for the music stand, of one horn as it stands. No names of pupils."""

from __future__ import annotations

from io import BytesIO

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from fleet.access import SeatedRequest
from fleet.register.charted import chart_of
from fleet.register.models import Horn
from fleet.reports.lines import broken, leading
from fleet.reports.page import BODY_END, BODY_TOP, WIDTH, Page, as_pdf, paper_asked
from fleet.reports.pictured import draw
from identify.core.chartwords import KINDS, legend, remarks, title
from identify.core.fingering import Chart
from identify.core.unrolled import about_sets, unrolled
from identify.engrave import engraved

LARGEST = 17.0 / 720  # mm a unit of the engraving: a staff no higher than 17 mm
DRAWING = 92.0  # mm: how wide the unrolled horn is


def chart(request: SeatedRequest, pk: int) -> HttpResponse:
    horn = get_object_or_404(Horn.objects.at(request.seat.school).select_related("school"), pk=pk)
    kind = request.GET.get("notes", "all")
    return response(horn, request, kind if kind in KINDS else "all")


def response(horn: Horn, request: HttpRequest, kind: str) -> HttpResponse:
    """The print of a horn (with its school), on the paper asked for or the school's; 404 while it has no chart."""
    found = chart_of(horn)
    if found is None:
        raise Http404("This horn has no chart yet.")
    paper = paper_asked(request.GET.get("paper"), horn.school)
    content = drawn(found, kind, number=horn.number, school=horn.school.name, paper=paper)
    return as_pdf(content, f"chart-{horn.number}-{kind}".replace(" ", "-").replace("/", "-"))


def drawn(found: Chart, kind: str, *, number: str, school: str, paper: str) -> bytes:
    """The document as PDF, one page."""
    out = BytesIO()
    page = Page(out, school=school, title=f"Fingering chart, {number}", paper=paper)
    page.words(0, BODY_TOP + 7, title(found), size=17, bold=True, width=WIDTH)
    page.words(0, BODY_TOP + 13.5, KINDS[kind].capitalize(), size=12)
    notes = engraved(found.build, found.stand, kind, "paper")
    y = draw(page, notes, 0, BODY_TOP + 16, min(WIDTH / notes.width, LARGEST)) + 3
    for sign, words in legend(found, kind):
        page.words(0, y + 4.5, sign, size=12, bold=True)
        y = page.paragraph(8, y, words, WIDTH - 8, size=11.5)
    _below(page, found, y + 4)
    page.close()
    return out.getvalue()


def _below(page: Page, found: Chart, y: float) -> None:
    """The unrolled horn at the left foot of the page, what to know beside it."""
    picture = unrolled(found.build, found.stand)
    scale = min(DRAWING / picture.width, (BODY_END - y) / picture.height)
    said = "\n".join((*remarks(found), *about_sets(found.build)))
    beside = WIDTH - DRAWING - 6
    needed = max(picture.height * scale, len(broken(said, beside, 9.5)) * leading(9.5))
    top = max(y, BODY_END - needed)
    page.rule(0, top - 2, WIDTH, weight=0.3)
    draw(page, picture, 0, top, scale)
    page.block(DRAWING + 6, top, said, beside, BODY_END - top, size=9.5)
