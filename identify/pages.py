"""The pages of the walk: they read the address, show what the core makes of it, and write nothing."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from identify.core.hearing.claim import RecordedTubes
from identify.core.hearing.kept_notes import DOWN, UP
from identify.core.horns.pitch import A4_HZ
from identify.core.reasoning import explain
from identify.core.reasoning.reasons import reasons
from identify.core.reasoning.verdict import Verdict, assess, usual_next
from identify.drawings import whole_drawn
from identify.guide import origins
from identify.listening import HeardTold, heard_on, heard_reasons, on_step, tube_shown
from identify.playing import to_expect
from identify.questions import CANT_TELL, QUESTIONS
from identify.recording import TOO_BIG, heard_in, refused, status_of
from identify.walk import HEARD_ON, RESULT, HornInHand, OneBefore, Walk
from identify.words import possible, sure_of


def walk(
    request: HttpRequest,
    taken: Walk,
    *,
    mix: Mapping[str, int] | None = None,
    in_hand: HornInHand | None = None,
    before: OneBefore | None = None,
    a4: float = A4_HZ,
) -> HttpResponse:
    """One step of the walk, or its result, for the observations in the address as `taken` says them.

    `mix` counts the school's confirmed horns by code of build; they shift what is thought common. `in_hand` is the
    registered horn that the walk is about, `before` the one that was identified last, `a4` what the school tunes its A
    to, in hertz.
    """
    verdict = assess(taken.observations, mix=mix)
    key = taken.step(verdict)
    if key is None:
        return _result(request, taken, verdict, in_hand)
    return step_page(request, taken, verdict, key, in_hand=in_hand, before=before, a4=a4)


def step_page(
    request: HttpRequest,
    taken: Walk,
    verdict: Verdict,
    key: str,
    *,
    told: HeardTold | None = None,
    in_hand: HornInHand | None = None,
    before: OneBefore | None = None,
    a4: float = A4_HZ,
) -> HttpResponse:
    """The page of one check; `told` is what was said of a recording made on it."""
    earlier = taken.before(key)
    begun = taken.observations.asked or taken.observations.like
    return render(
        request,
        "identify/step.html",
        {
            "question": QUESTIONS[key].of_horn(taken.answer("valves")),
            "problem": taken.problems.get(key),
            "given": "" if taken.blind else taken.answer(key),
            "cant_tell": CANT_TELL,
            "carried": taken.carried(key),
            "back": taken.address(earlier) if earlier else None,
            "like_before": (before.words, taken.like(before.build).address()) if before and not begun else None,
            "onward": taken.address(),
            "so_far": taken.address(RESULT),
            "listening": on_step(taken, key, told),
            # At a second look the tubes still possible would tell the first answer; a step-down plays all its answers.
            "to_expect": None if taken.blind and key != "step_down" else to_expect(verdict, key, a4),
            "by_ear": taken.address(UP),
            **_shared(taken, verdict, key, in_hand),
        },
    )


def listen(
    request: HttpRequest,
    taken: Walk,
    *,
    at: datetime,
    mix: Mapping[str, int] | None = None,
    record: RecordedTubes | None = None,
    in_hand: HornInHand | None = None,
    a4: float = A4_HZ,
    too_big: bool = False,
) -> HttpResponse:
    """Listens to a recording, if one is sent, and shows what it says on the step it belongs to.

    `record` is what the register claims of the tubes of the horn `in_hand`, `a4` what the school tunes its A to, in
    hertz; `too_big` says that a recording was left unread.
    """
    step = request.GET.get("step", "")
    step = step if step in HEARD_ON or step == DOWN else UP
    heard, told = None, None
    if request.method == "POST":
        heard = refused(TOO_BIG) if too_big else heard_in(request, at=at)
        taken, told = heard_on(taken, step, heard, a4)
    verdict = assess(taken.observations, mix=mix)
    if step in HEARD_ON:
        response = step_page(request, taken, verdict, step, told=told, in_hand=in_hand, a4=a4)
    else:
        shown = {**_shared(taken, verdict, step, in_hand), **tube_shown(taken, step, verdict, record, told)}
        response = render(request, "identify/tube.html", shown)
    response.status_code = status_of(heard) if heard else 200
    return response


def _shared(taken: Walk, verdict: Verdict, key: str | None, in_hand: HornInHand | None) -> dict[str, object]:
    return {
        "walk": taken,
        "in_hand": in_hand,
        "kept_as": taken.kept_as(in_hand.number if in_hand else ""),
        "verdict": verdict,
        "own_mix": explain.own_mix(verdict),
        "likeness": explain.likeness(taken.observations),
        "steps": taken.progress(key),
        "possible": possible(verdict),
        "look_again": [(QUESTIONS[doubted], taken.second_look(doubted)) for doubted in verdict.doubt],
        "confirm": [(QUESTIONS[each], taken.second_look(each)) for each in verdict.confirm],
        "rests_on": [(QUESTIONS[each], taken.second_look(each)) for each in verdict.rests_on],
        "alike": [(QUESTIONS[each], taken.address(each)) for each in verdict.alike],
        "unasked": verdict.unasked and (QUESTIONS[verdict.unasked], taken.address(verdict.unasked)),
    }


def _result(request: HttpRequest, taken: Walk, verdict: Verdict, in_hand: HornInHand | None) -> HttpResponse:
    """What the horn is, as far as the observations say, and what may be done with that."""
    leading, rival = verdict.leading, verdict.runner_up
    said = reasons(leading, verdict.observations)
    last, coming = taken.before(None), usual_next(verdict)
    return render(
        request,
        "identify/result.html",
        {
            "leading": leading,
            "leading_words": explain.one_of(leading),
            "not_words": explain.what_it_is_not(leading),
            "certainty": explain.certainty(leading),
            "wrong": explain.wrong_with(leading),
            "origins": origins(leading.build),
            "picture": whole_drawn(leading.form.build),
            "sure": sure_of(verdict),
            "speaks_for": [reason for reason in said if reason.speaks_for],
            "speaks_against": [reason for reason in said if not reason.speaks_for],
            "figures": [(QUESTIONS[reason.check], reason.detail) for reason in said if reason.detail],
            "rival_words": "" if rival in verdict.twins else explain.one_of(rival),
            "rival_against": explain.against_runner_up(verdict),
            "twins": [explain.one_of(one) for one in verdict.twins],
            "doubts": explain.doubts(verdict),
            "confirmations": explain.confirmations(verdict),
            "coming": QUESTIONS[coming] if coming else None,
            # After two checks of a horn like the one before the walk stands here until it is told to go on.
            "next": taken.address((coming or "") if taken.observations.like else ""),
            "onward": taken.address(),
            "back": taken.address(last) if last else None,
            "observed": taken.observed(),
            "by_ear": taken.address(UP),
            "heard_reasons": heard_reasons(taken),
            **_shared(taken, verdict, None, in_hand),
        },
    )
