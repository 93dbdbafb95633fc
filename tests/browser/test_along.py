"""A phone without a connection reasons as the site does."""

from __future__ import annotations

import json
import os
import random

import pytest

from identify.core.along.tables import tables
from identify.core.horns.catalogue import catalogue
from identify.core.reasoning import explain
from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import Hypothesis
from identify.core.reasoning.mistakes import chances
from identify.core.reasoning.reasons import reasons
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import Verdict, assess, usual_next

pytestmark = pytest.mark.browser

WALKS = int(os.environ.get("HORN_WALKS", "150"))
NEAR = 1e-9
TOLD = """(seen) => {
    const told = window.reason.assess(seen.observations, seen.shares);
    const flat = (one) => one && {
        code: one.code, stands_in: one.stands_in, probability: one.probability, before: one.before, share: one.share,
        least: one.least, most: one.most,
        against: one.against, shown_by: one.shown_by, states: one.states.map((state) => state.code),
        words: reason.oneOf(one),
    };
    return {
        candidates: told.candidates.map(flat), settled: told.settled, likely: told.likely, twins: told.twins.map(flat),
        doubt: told.doubt, clash: told.clash, confirm: told.confirm, impossible: told.impossible, gains: told.gains,
        rests_on: told.rests_on, unasked: told.unasked, alike: told.alike, next_check: told.next_check,
        usual_next: reason.usualNext(told), perhaps: flat(told.perhaps),
        doubts: told.doubts.map((one) =>
            ({ ...one, then: one.then.map(flat).map(({ least, most, ...rest }) => rest) })),
        headline: reason.headline(told), said_of_doubts: reason.doubts(told), confirmations: reason.confirmations(told),
        reasons: reason.reasons(told.leading, told.seen),
    };
}"""


def walks(seed: int):
    """Observations as staff make them: of a horn, whole or broken, with mistakes, second looks and a school's mix."""
    chance = random.Random(seed)
    every = scales().every
    for _ in range(WALKS):
        horn: Hypothesis = chance.choice(every)
        answers: dict[str, str] = {}
        asked = chance.sample(list(CHECKS), chance.randint(0, len(CHECKS)))
        for key in sorted(asked, key=list(CHECKS).index):
            shares = chances(horn, key, answers.get("test_note"))
            wild = chance.random() < 0.03
            answers[key] = (
                chance.choice(CHECKS[key].answers) if wild else chance.choices([*shares], [*shares.values()])[0]
            )
        passed = frozenset(key for key in answers if chance.random() < 0.1)
        given = {key: answer for key, answer in answers.items() if key not in passed}
        again = frozenset(key for key in given if chance.random() < 0.15)
        like = chance.choice(list(catalogue())) if chance.random() < 0.1 else ""
        mix = {code: chance.randint(1, 9) for code in chance.sample(list(catalogue()), 4)}
        yield Observations(given, passed, None, again, like), mix if chance.random() < 0.2 else None


def flat(one):
    return one and {
        "code": one.build.code,
        "stands_in": one.stands_in,
        "probability": one.probability,
        "before": one.before,
        "share": one.share,
        "least": one.least,
        "most": one.most,
        "against": list(one.against),
        "shown_by": list(one.shown_by),
        "states": [state.code for state in one.states],
        "words": explain.one_of(one),
    }


def told(verdict: Verdict) -> dict:
    return {
        "candidates": [flat(one) for one in verdict.candidates],
        "settled": verdict.settled,
        "likely": verdict.likely,
        "twins": [flat(one) for one in verdict.twins],
        "doubt": list(verdict.doubt),
        "clash": verdict.clash,
        "confirm": list(verdict.confirm),
        "impossible": verdict.impossible_counts,
        "gains": dict(verdict.gains),
        "rests_on": list(verdict.rests_on),
        "unasked": verdict.unasked,
        "alike": list(verdict.alike),
        "next_check": verdict.next_check,
        "usual_next": usual_next(verdict),
        "perhaps": flat(verdict.perhaps),
        "doubts": [
            {
                "keys": list(one.keys),
                "likelihood": one.likelihood,
                # On a phone these are told without their bounds, so none are reckoned.
                "then": [
                    {name: value for name, value in flat(each).items() if name not in {"least", "most"}}
                    for each in one.then
                ],
                "then_settled": one.then_settled,
            }
            for one in verdict.doubts
        ],
        "headline": explain.headline(verdict),
        "said_of_doubts": list(explain.doubts(verdict)),
        "confirmations": list(explain.confirmations(verdict)),
        "reasons": [
            {"check": one.check, "speaks_for": one.speaks_for, "short": one.short}
            for one in reasons(verdict.leading, verdict.observations)
        ],
    }


def differences(mine, theirs, where=""):
    """Where the two differ: numbers by more than 1e-9, all else at all."""
    if isinstance(mine, float) or isinstance(theirs, float):
        return [] if abs(mine - theirs) <= NEAR else [f"{where}: {mine} {theirs}"]
    if isinstance(mine, dict) and isinstance(theirs, dict) and mine.keys() == theirs.keys():
        return [line for key in mine for line in differences(mine[key], theirs[key], f"{where}.{key}")]
    if isinstance(mine, list) and isinstance(theirs, list) and len(mine) == len(theirs):
        return [line for n, one in enumerate(mine) for line in differences(one, theirs[n], f"{where}[{n}]")]
    return [] if mine == theirs else [f"{where}: {mine} {theirs}"]


def test_a_phone_comes_to_the_verdicts_of_the_site_in_the_same_words(open_as, live_server):
    page = open_as(None)
    page.goto("/robots.txt")
    for script in ("fleet/words.js", "identify/reason.js"):
        page.add_script_tag(url=f"{live_server.url}/static/{script}")
    page.evaluate("(tables) => { window.reason = window.reasoner(tables); }", json.loads(json.dumps(tables())))
    for seen, mix in walks(int(os.environ.get("HORN_WALKS_SEED", "7"))):
        given = {
            "observations": {
                "answers": dict(seen.answers),
                "passed": sorted(seen.passed),
                "again": sorted(seen.again),
                "like": seen.like,
            },
            "shares": scales().build_shares(mix),
        }

        answer = page.evaluate(TOLD, given)

        assert differences(told(assess(seen, mix=mix)), answer) == [], given["observations"]
