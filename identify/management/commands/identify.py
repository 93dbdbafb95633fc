"""Identify a horn at the command line: what was observed goes in, what it must be comes out."""

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from identify.core.reasoning import explain
from identify.core.reasoning.evidence import AGAIN, CHECKS, read_observations
from identify.core.reasoning.numbers import between
from identify.core.reasoning.reasons import reasons
from identify.core.reasoning.verdict import Verdict, assess

# Candidates less likely than this are left out.
WORTH_LISTING = 0.0001
_TAKES = {
    "valves": "N",
    "slide_sets": "N",
    "test_note": "FINGERING",
    "test_note_thumb": "FINGERING",
    "step_down": "SEMITONES",
}


class Command(BaseCommand):
    help = "Say what an unlabelled horn is, from what was observed. Every option may be left out."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        for key, check in CHECKS.items():
            metavar = _TAKES.get(key, "|".join(check.answers))
            # Read by the core and not by argparse, so that all wrong values are told at once.
            parser.add_argument(option(key), metavar=metavar, help=f"{check.words}: {check.allowed}")
        parser.add_argument(
            "--again", action="append", default=[], metavar="CHECK", help="a check that was looked at twice"
        )
        parser.add_argument("--json", action="store_true", help="answer as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        given = {key: options[key] for key in CHECKS}
        observations, problems = read_observations({**given, AGAIN: ",".join(options["again"])})
        if problems:
            wrong = "\n".join(f"{option(key)}: {sentence}" for key, sentence in problems.items())
            raise CommandError(wrong, returncode=2)
        verdict = assess(observations)
        if options["json"]:
            self.stdout.write(json.dumps(as_data(verdict), ensure_ascii=False, indent=2))
        else:
            # Written at once, so that a reader who closes the pipe early gets no traceback.
            self.stdout.write("\n".join(told(verdict)))


def told(verdict: Verdict) -> list[str]:
    """The verdict in lines for people: the finding, what to look at again, the likeliest with reasons, what is next."""
    lines = [explain.headline(verdict)]
    if not verdict.nothing_observed:
        lines.append(explain.what_it_is_not(verdict.leading))
    if verdict.settled:
        lines.append(explain.certainty(verdict.leading))
    lines += explain.wrong_with(verdict.leading)
    lines = [line for line in (*lines, *explain.doubts(verdict), *explain.confirmations(verdict)) if line]
    lines.append("")
    for candidate in verdict.still_possible[:6]:
        code = candidate.build.code
        lines.append(f"{between(candidate.least, candidate.most):>13}  {explain.named(candidate)} ({code})")
        for reason in reasons(candidate, verdict.observations):
            lines.append(f"               {'+' if reason.speaks_for else '-'} {reason.short}")
    if verdict.next_check:
        lines += ["", f"Next: {explain.next_step(verdict)} ({option(verdict.next_check)})"]
    return lines


def option(key: str) -> str:
    """The option of a check, such as --slide-sets."""
    return f"--{key.replace('_', '-')}"


def as_data(verdict: Verdict) -> dict[str, Any]:
    """The verdict as the JSON answer gives it: all that the lines for people say, with the codes behind it.

    `confirm` are checks worth a second look though nothing clashes, `rests_on` the others that alone would make it
    another horn. Probabilities are rounded to six places, bounds are where mistakes are half to twice as
    common as is assumed.
    """
    return {
        "settled": verdict.settled,
        "likely": verdict.likely,
        "clash": verdict.clash,
        "finding": explain.headline(verdict),
        "is_not": "" if verdict.nothing_observed else explain.what_it_is_not(verdict.leading),
        "certainty": explain.certainty(verdict.leading) if verdict.settled else "",
        "wrong": list(explain.wrong_with(verdict.leading)),
        "candidates": [
            {
                "build": one.build.code,
                "stands_in": one.stands_in,
                "probability": round(one.probability, 6),
                "at_least": round(one.least, 6),
                "at_most": round(one.most, 6),
                "name": explain.named(one),
                "reasons": [
                    {"check": reason.check, "speaks_for": reason.speaks_for, "words": reason.short}
                    for reason in reasons(one, verdict.observations)
                ],
            }
            for one in verdict.candidates
            if one.probability >= WORTH_LISTING or one is verdict.leading
        ],
        "twins": [{"build": one.build.code, "stands_in": one.stands_in} for one in verdict.twins],
        "doubt": list(verdict.doubt),
        "confirm": list(verdict.confirm),
        "rests_on": list(verdict.rests_on),
        "look_again": [*explain.doubts(verdict), *explain.confirmations(verdict)],
        "next": verdict.next_check,
        "next_step": explain.next_step(verdict),
    }
