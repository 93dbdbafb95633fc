"""The pages of the walk: they read the address, show what the core makes of it, and write nothing."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse

from identify.core.builds import Build
from identify.core.reasoning import Verdict, assess
from identify.forms import CANT_TELL, QUESTIONS
from identify.walk import RESULT, Walk, read_walk
from identify.words import how_sure, named, possible


def walk(request: HttpRequest) -> HttpResponse:
    """One step of the walk, or its result, for the observations in the address."""
    taken = read_walk(request.GET)
    verdict = assess(taken.observations)
    key = taken.step(verdict)
    if key is None:
        return _result(request, taken, verdict)
    before = taken.before(key)
    return render(
        request,
        "identify/step.html",
        {
            "question": QUESTIONS[key],
            "problem": taken.problems.get(key),
            "given": taken.answer(key),
            "cant_tell": CANT_TELL,
            "carried": taken.pairs(leave_out=[key]),
            "back": taken.address(before) if before else None,
            "onward": taken.address(),
            "so_far": taken.address(RESULT),
            **_shared(taken, verdict, key),
        },
    )


def _shared(taken: Walk, verdict: Verdict, key: str | None) -> dict[str, object]:
    return {
        "walk": taken,
        "verdict": verdict,
        "steps": taken.progress(key),
        "possible": possible(verdict),
        "look_again": [(QUESTIONS[doubted], taken.second_look(doubted)) for doubted in verdict.doubt],
        "confirm": [(QUESTIONS[each], taken.second_look(each)) for each in verdict.confirm],
    }


def _result(request: HttpRequest, taken: Walk, verdict: Verdict) -> HttpResponse:
    """What the horn is, as far as the observations say, and what may be done with that."""
    last, coming = taken.before(None), taken.coming(verdict)
    return render(
        request,
        "identify/result.html",
        {
            "leading": named(verdict.leading),
            "picture": _picture(verdict.leading.form.build),
            "sure": how_sure(verdict.leading.probability),
            "without": [([QUESTIONS[doubted] for doubted in one.keys], named(one.then[0])) for one in verdict.doubts],
            "twins": [named(one) for one in verdict.twins],
            "coming": QUESTIONS[coming] if coming else None,
            "onward": taken.address(),
            "back": taken.address(last) if last else None,
            "observed": taken.observed(),
            "records": _records(request),
            **_shared(taken, verdict, None),
        },
    )


def _picture(build: Build) -> str:
    """The drawing of a kind of horn: the shape it is wound in."""
    return f"identify/drawings/{'wrap-' + build.wrap[0] if build.valves else 'valves-0'}.svg"


def _records(request: HttpRequest) -> str:
    """Where a finding is put on record; empty where the walk stands alone, without a register."""
    seat = getattr(request, "seat", None)
    try:
        return reverse("register:identified", args=(seat.school.slug,)) if seat else ""
    except NoReverseMatch:
        return ""
