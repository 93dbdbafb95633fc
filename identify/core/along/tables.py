"""The scales of a verdict as plain numbers and words, small enough for a phone."""

from __future__ import annotations

from typing import Any

from identify.core.along.sentences import in_rows, name_of_table, notes_of, sentences
from identify.core.horns.broken import State
from identify.core.reasoning import asking, assumed, evidence, explain, ranking, scales, verdict
from identify.core.reasoning.evidence import CHECKS
from identify.core.reasoning.expect import SHOWS, expected
from identify.core.reasoning.numbers import counted
from identify.core.reasoning.scales import Scales
from identify.core.reasoning.verdict import assess


def tables() -> dict[str, Any]:
    """Everything that a verdict without anything heard hangs on, in the language that is spoken; shares and chances
    from 0 to 1.

    `every` holds what is so of each hypothesis, column by column, `answers` of each check the rows of its chances after
    one look and, in the same order, of the sure ones, None where the check means nothing for a horn.
    """
    on = scales.scales()
    states = dict.fromkeys(_told(one.state) for one in on.every if one.state)
    places = {state: place for place, state in enumerate(states)}
    pairs = ([on.groups.index(key) for key in pair] for pair in on.indistinct)
    return {
        "checks": {key: {"answers": check.answers, "words": explain.named_check(key)} for key, check in CHECKS.items()},
        "counted": {
            thing: {answer: counted(int(answer), thing) for answer in CHECKS[key].answers}
            for key, thing in (("valves", "valve"), ("slide_sets", "set"))
        },
        "order": evidence.USUAL_ORDER,
        "shows": SHOWS,
        "whole": len(on.hypotheses),
        "every": {
            "whole": [on.hypotheses.index(one.whole) for one in on.every],
            "group": on.group_of.tolist(),
            "apart": on.state_of.tolist(),
            "state": [places[_told(one.state)] if one.state else -1 for one in on.every],
            "code": [one.build.code for one in on.every],
            "weight": on.weight.tolist(),
            "levers": on.levers.tolist(),
            "many_sets": on.many_sets.tolist(),
            "without_valves": on.without_valves.tolist(),
            "under_a_finger": on.under_a_finger.tolist(),
        },
        "groups": _groups(on),
        "states": [{"code": code, "words": words, "look": look} for code, words, look in states],
        "answers": {
            name_of_table(key, note): in_rows(_answered(on, key, note)) for key in CHECKS for note in notes_of(key)
        },
        "sentences": sentences(on.hypotheses),
        "shares": on.build_shares(),
        "indistinct": sorted(sorted(pair) for pair in pairs),
        "counts": sorted(on.counts),
        "repeated": on.repeated,
        "unlike": on.unlike,
        "persons": assumed.PERSONS,
        "bounds": {
            "settled_at": verdict.SETTLED_AT,
            "settled_at_last": verdict.SETTLED_AT_LAST,
            "likely_at": verdict.LIKELY_AT,
            "worth_naming": verdict.WORTH_NAMING,
            "fewest_answers": verdict.FEWEST_ANSWERS,
            "also_doubted": verdict.ALSO_DOUBTED,
            "still_possible": verdict.STILL_POSSIBLE,
            "broken_at": ranking.BROKEN_AT,
            "worth_mending": ranking.WORTH_MENDING,
            "least_gain": asking.LEAST_GAIN,
            "keep_order": asking.KEEP_ORDER,
            "under_a_finger": asking.UNDER_A_FINGER,
            "band": assumed.BAND,
            "most_alike": assumed.MOST_ALIKE,
            "same_answers": assumed.SAME_ANSWERS,
            "most_named": explain.MOST_NAMED,
        },
    }


def _told(state: State) -> tuple[str, str, str]:
    return state.code, state.words, explain.to_look_at(state)


def _groups(on: Scales) -> list[dict[str, Any]]:
    """What a verdict tells apart: the build's code, the stand's name, and the words of both."""
    leading = {one.key: one for one in assess(evidence.Observations(), on=on).candidates}
    return [
        {
            "code": key[0],
            "stands_in": key[1],
            "vowel": explain.begins_with_a_vowel(leading[key].build),
            "stands": explain.stands_one_way(leading[key]),
            "words": explain.named(leading[key]),
            "not_words": explain.what_it_is_not(leading[key]),
        }
        for key in on.groups
    ]


def _answered(on: Scales, key: str, note: str | None) -> list[tuple[tuple[float, ...], tuple[float, ...] | None]]:
    """For each hypothesis the chances of the answers to a check after one look, and the sure ones."""
    answers = CHECKS[key].answers
    once = zip(*(on.chances_of(key, answer, note).tolist() for answer in answers), strict=True)
    # What a check cannot show of a state it answers as of the whole horn.
    asked = (one if key in SHOWS else one.whole for one in on.every)
    sure = (expected(one, key, note) for one in asked)
    return [
        (row, tuple(shares.get(answer, 0.0) for answer in answers) if shares else None)
        for row, shares in zip(once, sure, strict=True)
    ]
