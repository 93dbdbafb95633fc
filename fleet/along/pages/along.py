"""What a phone takes along: the page where it is kept, renewed and erased, and the parts that are kept."""

from __future__ import annotations

import gzip
import json
from functools import cache

from django.contrib.staticfiles.finders import find
from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import conditional_page

from fleet.along.queries.kept import DAYS
from fleet.along.queries.kept import kept as kept_of
from fleet.people.queries.seats import SeatedRequest
from identify import guide
from identify.asked import Question
from identify.core.horns.builds import Build
from identify.drawings import whole_drawn
from identify.playing import ToExpect, to_expect_of_all
from identify.questions import CANT_TELL, QUESTIONS

# The ground of a page in the light, as cupboard.css has it.
PAPER = "#faf6ea"
# What the kept page is drawn with, in the order in which it loads them.
STYLES = (
    "fleet/cupboard.css",
    "fleet/pieces.css",
    "identify/walk.css",
    "fleet/count.css",
    "fleet/check.css",
    "fleet/along.css",
)
SCRIPTS = (
    "fleet/words.js",
    "identify/reason.js",
    "identify/hear.js",
    "fleet/outbox.js",
    "fleet/scanner.js",
    "fleet/smaller.js",
    "fleet/offline-horns.js",
    "fleet/offline-record.js",
    "fleet/offline-check.js",
    "fleet/offline-walk.js",
    "fleet/offline-horn.js",
    "fleet/offline-count.js",
    "fleet/offline.js",
)


def _labels() -> str:
    """Where the addresses on labels begin, which the worker answers for as well."""
    return reverse("desk:label", args=["x"]).removesuffix("x/")


@cache
def _scales(_language: str) -> bytes:
    """The tables a verdict is reached from, in the language that is spoken, packed as they go to a phone."""
    from identify.core.along.tables import tables

    return gzip.compress(json.dumps(tables(), ensure_ascii=False, separators=(",", ":")).encode(), mtime=0)


def along(request: SeatedRequest) -> HttpResponse:
    here = request.seat.here
    parts = [
        here("along:cupboard"),
        here("along:kept"),
        here("along:scales"),
        *(static(one) for one in (*STYLES, *SCRIPTS, "fleet/icon.svg")),
    ]
    return render(request, "along/along.html", {"parts": parts, "days": DAYS, "labels": _labels()})


def cupboard(request: SeatedRequest) -> HttpResponse:
    """The page that a phone keeps. Nothing on it is about a person, but the key of the one who took it along."""
    return render(
        request,
        "along/cupboard.html",
        {
            "styles": STYLES,
            "scripts": SCRIPTS,
            "questions": [row for one in QUESTIONS.values() for row in _asked(one, request.seat.school.tuned_to)],
            "cant_tell": CANT_TELL,
            "kinds": [(group.title, [_kind(build) for build in group.builds]) for group in guide.groups()],
        },
    )


def _asked(question: Question, a4: float) -> list[tuple[str, Question, ToExpect | None, str]]:
    """A question by its name on the page, and behind it the one that is asked of a horn without valves."""
    to_expect, tubes = to_expect_of_all(question.key, a4)
    shapes = [(question.key, question), *([(f"{question.key}-bare", question.bare)] if question.bare else [])]
    return [(name, one, to_expect, " ".join(tube or "-" for tube in tubes)) for name, one in shapes]


def _kind(build: Build) -> tuple[Build, str, tuple[guide.TakenFor, ...]]:
    return build, whole_drawn(build, beside_words=True), guide.confused(build)


def kept(request: SeatedRequest) -> JsonResponse:
    # A kept page renews what lies beside it only as long as it is drawn as the site draws it, in the same language.
    drawn_with = [get_language(), *(static(one) for one in SCRIPTS)]
    return JsonResponse({**kept_of(request.seat, request.now), "drawn_with": drawn_with})


def scales(request: SeatedRequest) -> HttpResponse:
    """Packed once for all: they are large, and alike for every phone."""
    packed = _scales(get_language())
    answer = HttpResponse(content_type="application/json", headers={"Vary": "Accept-Encoding"})
    if "gzip" in request.headers.get("Accept-Encoding", ""):
        answer.headers["Content-Encoding"] = "gzip"
        answer.content = packed
    else:
        answer.content = gzip.decompress(packed)
    return answer


def manifest(request: SeatedRequest) -> JsonResponse:
    """How the site stands among a phone's programs (W3C, Web Application Manifest)."""
    home = request.seat.here("desk:today")
    icon = {"src": static("fleet/icon.svg"), "sizes": "any", "type": "image/svg+xml", "purpose": "any"}
    said = {
        "name": f"Horn Cupboard · {request.seat.school.name}",
        "short_name": "Horn Cupboard",
        "id": home,
        "start_url": home,
        "scope": home,
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": [icon],
    }
    return JsonResponse(said, content_type="application/manifest+json")


@gzip_page
@conditional_page
def worker(request: SeatedRequest) -> HttpResponse:
    """The worker, which a browser lets act for the school's pages alone, or with `labels` for the addresses on labels
    (W3C, Service Workers, 3.1). With every page it is asked for anew, and answered by one line while it is the same."""
    path = find("fleet/worker.js")
    with open(str(path), encoding="utf-8") as script:
        written = script.read()
    labels, outbox = json.dumps(_labels()), json.dumps(static("fleet/outbox.js"))
    brought = f"const LABELS = {labels};\nimportScripts({outbox});\n"
    headers = {"Cache-Control": "no-cache"}
    if "labels" in request.GET:
        headers["Service-Worker-Allowed"] = _labels()
    return HttpResponse(brought + written, content_type="text/javascript; charset=utf-8", headers=headers)
