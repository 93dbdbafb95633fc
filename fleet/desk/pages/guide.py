"""The field guide: every build of the catalogue with its picture, and all that follows from its description."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from fleet.desk.queries.family import only_families, tuned_to
from fleet.desk.queries.horns import unrolled_of
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models.kinds import build_of
from fleet.workshop.queries.looking_after import ORIGIN, care_of
from identify.core.horns.builds import Build
from identify.drawings import whole_drawn
from identify.guide import checks, confused, found, origins, sounds, who_can_hold
from identify.playing import reckoned


@dataclass(frozen=True, slots=True)
class _Guide:
    """Where the guide is read: at a school, or by a family."""

    school: str

    @property
    def address(self) -> str:
        return reverse("desk:guide", args=[self.school]) if self.school else reverse("desk:family-guide")

    def of(self, build: Build) -> str:
        """The address of a build's page."""
        if self.school:
            return reverse("desk:guide-build", args=[self.school, build.code])
        return reverse("desk:family-guide-build", args=[build.code])


def guide(request: SeatedRequest) -> HttpResponse:
    return _all(request, _Guide(request.seat.school.slug))


def guide_build(request: SeatedRequest, build: str) -> HttpResponse:
    return _one(request, _Guide(request.seat.school.slug), build, request.seat.school.tuned_to)


def family_guide(request: HttpRequest) -> HttpResponse:
    """The same pages for whoever answers for a pupil."""
    only_families(request)
    return _all(request, _Guide(""))


def family_guide_build(request: HttpRequest, build: str) -> HttpResponse:
    return _one(request, _Guide(""), build, tuned_to(only_families(request)))


def _all(request: HttpRequest, at: _Guide) -> HttpResponse:
    words = " ".join(request.GET.get("q", "").split())[:80]
    shown = [(group, [_card(build, at) for build in group.builds]) for group in found(words)]
    return render(request, "desk/guide.html", {"groups": shown, "q": words, "all_kinds": at.address})


def _card(build: Build, at: _Guide) -> tuple[Build, str, str]:
    return build, at.of(build), whole_drawn(build, numbered=False, beside_words=True)


def _one(request: HttpRequest, at: _Guide, code: str, a4: float) -> HttpResponse:
    build = build_of(code)
    if build is None:
        raise Http404("No such kind of horn.")
    care = care_of(build)
    context = {
        "build": build,
        "all_kinds": at.address,
        "checks": checks(build),
        "confused": [(one, at.of(one.other)) for one in confused(build)],
        "sounds": sounds(build, a4),
        "reckoned": reckoned(a4),
        "holding": who_can_hold(build),
        "care": care,
        "origins": (*origins(build), ("Looking after it", ORIGIN)),
        "forms": [form for form in build.forms if form.form],
        **unrolled_of(build, build.stands[0]),
    }
    return render(request, "desk/guide_build.html", context)
