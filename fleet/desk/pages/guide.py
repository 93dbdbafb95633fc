"""The field guide: every build of the catalogue with its picture, and all that follows from its description."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _s

from fleet.desk.queries.horns import unrolled_of
from fleet.ground.addresses import searched_for
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models.kinds import build_of
from fleet.workshop.queries.looking_after import ORIGIN, care_of
from identify.core.horns.builds import Build
from identify.drawings import whole_drawn
from identify.guide import checks, confused, found, origins, sounds, who_can_hold
from identify.playing import reckoned


def guide(request: SeatedRequest) -> HttpResponse:
    words, school = searched_for(request), request.seat.school.slug
    shown = [(group, [_card(build, school) for build in group.builds]) for group in found(words)]
    all_kinds = reverse("desk:guide", args=[school])
    return render(request, "desk/guide.html", {"groups": shown, "q": words, "all_kinds": all_kinds})


def _card(build: Build, school: str) -> tuple[Build, str, str]:
    return build, _address(build, school), whole_drawn(build, numbered=False, beside_words=True)


def _address(build: Build, school: str) -> str:
    return reverse("desk:guide-build", args=[school, build.code])


def guide_build(request: SeatedRequest, build: str) -> HttpResponse:
    shown, school = build_of(build), request.seat.school
    if shown is None:
        raise Http404("No such kind of horn.")
    context = {
        "build": shown,
        "all_kinds": reverse("desk:guide", args=[school.slug]),
        "checks": checks(shown),
        "confused": [(one, _address(one.other, school.slug)) for one in confused(shown)],
        "sounds": sounds(shown, school.tuned_to),
        "reckoned": reckoned(school.tuned_to),
        "holding": who_can_hold(shown),
        "care": care_of(shown),
        "origins": (*origins(shown), (_s("Looking after it"), ORIGIN)),
        "forms": [form for form in shown.forms if form.form],
        **unrolled_of(shown, shown.stands[0]),
    }
    return render(request, "desk/guide_build.html", context)
