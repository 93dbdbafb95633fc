"""What a family reads to learn: its horn's fingering chart, and the kinds of horn there are. In its own language."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.desk.queries.family import only_families, own_loans, own_one
from fleet.desk.queries.horns import said_first
from fleet.ground.addresses import searched_for
from fleet.register.models.kinds import build_of
from fleet.register.queries.charted import chart_of
from fleet.reports.pages.horns import chart_answer
from fleet.reports.queries.family_chart import KINDS, chart_for_family, hand_of
from fleet.workshop.queries.looking_after import care_of
from identify.core.drawing.engraving import engraved
from identify.core.drawing.picture import Picture, svg
from identify.core.drawing.whole import BACK
from identify.core.fingering.teaching import asked, told
from identify.core.fingering.words import kind_asked
from identify.core.horns.builds import Build
from identify.drawings import whole_drawn
from identify.guide import groups, who_can_hold

FAMILIES = {"horn": _("French horns"), "wagner": _("Wagner tubas"), "other": _("Other horns")}


def family_chart(request: HttpRequest, pk: int) -> HttpResponse:
    """On the page, and as a print with ?as=print. It begins with five notes."""
    loan = own_one(own_loans(request), pk)
    horn, kind, teaching = loan.horn, kind_asked(request.GET, "five"), asked(request.GET)
    if request.GET.get("as") == "print":
        return chart_answer(horn, request, kind, for_family=True)
    found = chart_of(horn, teaching)
    if found is None:
        return render(request, "desk/family_chart.html", {"loan": loan, "horn": horn})

    def at(other: str) -> str:
        return "?" + urlencode({"notes": other, **told(teaching)})

    shown = hand_of(found, kind)
    return render(
        request,
        "desk/family_chart.html",
        {
            "loan": loan,
            "horn": horn,
            "told": chart_for_family(horn, found, kind),
            "kinds": [(words, at(code), code == kind) for code, words in KINDS.items()],
            "engraved": _drawn(engraved(found.build, found.stand, kind, "wide", teaching), "chart-wide"),
            "engraved_narrow": _drawn(engraved(found.build, found.stand, kind, "narrow", teaching), "chart-narrow"),
            "hand": _drawn(shown, "hand") if shown else "",
            "print_at": f"{at(kind)}&as=print",
        },
    )


def _drawn(picture: Picture, name: str) -> SafeString:
    """Our own drawing, beside the words that say the same."""
    return mark_safe(svg(picture, name, beside_words=True))  # noqa: S308


def family_guide(request: HttpRequest) -> HttpResponse:
    only_families(request)
    words = searched_for(request)
    shown: dict[str, list[tuple[str, str, SafeString]]] = {}
    for build in (one for group in groups() for one in group.builds):
        name = said_first_spoken(build)
        if all(word in f"{name} {gettext(build.about)}".casefold() for word in words.casefold().split()):
            address = reverse("desk:family-guide-build", args=[build.code])
            picture = whole_drawn(build, numbered=False, beside_words=True)
            shown.setdefault(build.family, []).append((name, address, picture))
    found = [(FAMILIES[family], shown[family]) for family in FAMILIES if family in shown]
    return render(request, "desk/family_guide.html", {"groups": found, "q": words})


def family_guide_build(request: HttpRequest, build: str) -> HttpResponse:
    only_families(request)
    found = build_of(build)
    if found is None:
        raise Http404("No such kind of horn.")
    context = {
        "name": said_first_spoken(found),
        "about": gettext(found.about),
        "front": whole_drawn(found, beside_words=True),
        "back": whole_drawn(found, BACK, beside_words=True),
        "holding": who_can_hold(found),
        "care": care_of(found),
    }
    return render(request, "desk/family_guide_build.html", context)


def said_first_spoken(build: Build) -> str:
    """`A full double horn in F and B♭`"""
    return gettext(said_first(build)).rstrip(".")
