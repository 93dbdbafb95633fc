"""Measures the reasoning on simulated walks: is settled right, do chances come true, how fast is it.

A share misses its aim where chance alone would hardly have it so, however many walks there are (`chance.py`).
"""

import time
from collections import Counter
from collections.abc import Callable
from random import Random
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from identify.core.reasoning.assumed import BAND, Key
from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import usual_answers
from identify.core.reasoning.mistakes import rates
from identify.core.reasoning.ranking import rank
from identify.core.reasoning.scales import Scales, scales
from identify.core.reasoning.verdict import assess, usual_next
from tests.bench.chance import short
from tests.bench.pace import pace
from tests.bench.walks import INDEPENDENT, Judge, SimulatedWalk, Staff, drawn, harsher, reliability, walk, walks

RIGHT_WHEN_SETTLED = 0.99
# The same where staff err otherwise than the reasoning assumes: it must not fall apart.
RIGHT_WHEN_WRONG = 0.985
# So many are settled at least, second looks included, by each model of mistakes that is meant to hold.
SETTLED = 0.85
STAFF = 40
RANKING_MS = 2.0
NEXT_MS = 20.0
EDGES = (0.0, 0.01, 0.05, 0.1, 0.3, 0.5, 0.7, 0.9, 0.97, 0.99, 1.0)


class Command(BaseCommand):
    help = "Measure the identification on simulated walks; fails when a target is missed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--walks", type=int, default=4000, help="walks per model of mistakes (4000)")
        parser.add_argument("--seed", type=int, default=1, help="seed of the simulation (1)")
        parser.add_argument("--staff", action="store_true", help="only staff who err otherwise than is assumed")

    def handle(self, *args: Any, **options: Any) -> None:
        count, seed = options["walks"], options["seed"]
        if count < 100:
            raise CommandError("--walks must be at least 100.")
        judge = scales()
        self.missed: list[str] = []
        self.say(f"{len(judge.catalogue)} builds, {len(judge.groups)} builds and stands to tell apart, seed {seed}")
        self.judging, self.usual = Judge(judge), Staff(judge)
        if options["staff"]:
            self.independent(judge, count, seed)
            self.fail_if_missed()
            return
        self.errorless(judge)
        chosen = walks(self.judging, self.usual, count, seed)
        self.report("mistakes as the reasoning assumes", chosen, RIGHT_WHEN_SETTLED)
        self.bins("mistakes as the reasoning assumes", chosen)
        self.broken(judge, count, seed)
        self.independent(judge, count, seed)
        self.careless(judge, count, seed)
        doubled = walks(self.judging, Staff(judge, harsher(rates(), BAND)), count, seed)
        self.report("every mistake twice as frequent", doubled, RIGHT_WHEN_WRONG)
        self.bins("every mistake twice as frequent", doubled)
        self.report(
            "mistakes as assumed, no second looks", walks(self.judging, self.usual, count, seed, second_looks=False)
        )
        self.orders(judge, chosen, count, seed)
        self.speed(judge, seed)
        self.fail_if_missed()

    def fail_if_missed(self) -> None:
        if self.missed:
            raise CommandError("Missed: " + "; ".join(self.missed) + ".")

    def say(self, line: str = "") -> None:
        self.stdout.write(line)

    def target(self, reached: bool, what: str) -> None:
        if not reached:
            self.missed.append(what)

    def share(self, good: int, of: int, aim: float, what: str) -> None:
        self.target(not short(good, of, aim), what)

    def errorless(self, judge: Scales) -> None:
        """Every build and stand from its own usual answers, all of them and in the chosen order."""
        twins = sorted(" / ".join(sorted(map(name_of, pair))) for pair in judge.indistinct)
        self.say(f"\nNever told apart: {', '.join(twins) or 'none'}")
        unsettled = []
        dice = Random(0)
        for place, one in enumerate(judge.hypotheses):
            whole = assess(Observations(usual_answers(one)), on=judge)
            led = walk(self.judging, self.usual, place, dice, errs=False)
            can = not any(one.key in pair for pair in judge.indistinct)
            if can and not (whole.settled or whole.likely):
                unsettled.append(f"{name_of(one.key)} {one.build.form} (all checks)")
            if can and not (led.verdict.settled and led.right):
                unsettled.append(f"{name_of(one.key)} {one.build.form} (chosen checks)")
        self.say(f"Without mistakes, not settled though tellable: {', '.join(unsettled) or 'none'}")
        self.target(not unsettled, "every tellable build settled without mistakes")

    def broken(self, judge: Scales, count: int, seed: int) -> None:
        """Horns that something is wrong with, and whole ones that are called so."""
        ended = walks(self.judging, self.usual, count, seed, broken=True)
        self.report("broken horns alone", ended)
        called = [one for one in ended if one.verdict.settled and one.verdict.leading.states]
        named = sum(one.named for one in called)
        share = named / max(len(called), 1)
        self.say(f"  settled as broken {len(called) / len(ended):.1%}, of these what is wrong is named in {share:.2%}")
        self.share(named, len(called), RIGHT_WHEN_SETTLED, f"what is wrong is named in {RIGHT_WHEN_SETTLED:.0%}")

    def independent(self, judge: Scales, count: int, seed: int) -> None:
        """Mistakes as somebody else estimates them, and staff whose rates are drawn anew for each."""
        staff = Staff(judge, rates() | INDEPENDENT)
        theirs = walks(self.judging, staff, count, seed)
        self.report("an independent estimate", theirs, RIGHT_WHEN_SETTLED, SETTLED)
        self.bins("an independent estimate", theirs)
        dice, each = Random(seed), max(count // STAFF, 1)
        ended: list[SimulatedWalk] = []
        for number in range(STAFF):
            ended += walks(self.judging, Staff(judge, drawn(rates(), dice)), each, seed + number)
        self.report(f"rates drawn anew for each of {STAFF} members of staff", ended, RIGHT_WHEN_SETTLED, SETTLED)
        self.bins("rates drawn anew", ended)

    def careless(self, judge: Scales, count: int, seed: int) -> None:
        """A model of another shape: most observers err as assumed, one in ten errs five times as often."""
        sloppy = Staff(judge, harsher(rates(), 5.0))
        tenth = count // 10
        ended = walks(self.judging, self.usual, count - tenth, seed + 1) + walks(self.judging, sloppy, tenth, seed + 2)
        self.report("one observer in ten errs five times as often in everything", ended, RIGHT_WHEN_WRONG)

    def report(self, words: str, ended: list[SimulatedWalk], least: float = 0.0, many: float = 0.0) -> None:
        settled = [one for one in ended if one.verdict.settled]
        right = sum(one.right for one in settled)
        share = right / max(len(settled), 1)
        doubted = [one for one in ended if one.verdict.clash]
        self.say(f"\n{len(ended)} walks, {words}:")
        self.say(f"  settled {len(settled) / len(ended):.1%}, of these right {share:.2%}")
        self.say(f"  the true horn is the most likely one in {sum(one.right for one in ended) / len(ended):.2%}")
        slipped = sum(one.slipped for one in ended) / len(ended)
        self.say(f"  mistakes were made in {slipped:.1%}, a clash noticed in {len(doubted) / len(ended):.1%}")
        self.say(f"  Brier score {sum(one.brier for one in ended) / len(ended):.4f}")
        wrong = Counter((one.truth, one.verdict.leading.key) for one in settled if not one.right)
        for (truth, taken), times in wrong.most_common(4):
            self.say(f"    {times} × {name_of(truth)} taken for {name_of(taken)}")
        likely = [one for one in ended if one.verdict.likely]
        self.say(f"  likely {len(likely) / len(ended):.1%}, of these right {_share_right(likely):.2%}")
        self.share(len(settled), len(ended), many, f"settled in {many:.0%} ({words})")
        self.share(right, len(settled), least, f"settled is right in {least:.1%} ({words}: {share:.2%})")

    def bins(self, words: str, ended: list[SimulatedWalk]) -> None:
        """Whether what was true lies between what was said at least and at most."""
        self.say("\n  chance said      candidates   at least   mean said   at most   came true")
        for one in reliability(ended, EDGES):
            chances = f"{one.least:10.4f} {one.said:11.4f} {one.most:9.4f} {one.true:11.4f}"
            self.say(f"  {one.low:5.2f} to {one.high:5.2f} {one.many:12d} {chances}")
            self.target(one.holds, f"chances from {one.low:g} to {one.high:g} hold ({words})")

    def orders(self, judge: Scales, chosen: list[SimulatedWalk], count: int, seed: int) -> None:
        fixed = walks(self.judging, self.usual, min(count, 2000), seed, order=CHECKS)
        led = sum(one.checks for one in chosen) / len(chosen)
        kept = sum(one.checks for one in fixed) / len(fixed)
        paged = walks(self.judging, self.usual, count, seed, propose=usual_next)
        asked = sum(one.checks for one in paged) / len(paged)
        self.say(f"\nChecks a walk: {led:.2f} as proposed, second looks included;")
        self.say(f"  {asked:.2f} on the pages, which keep the four checks in their usual order;")
        self.say(f"  {kept:.2f} in the fixed order until settled; {len(CHECKS)} in all")
        ready = sum(one.verdict.settled for one in chosen) / len(chosen)
        also = sum(one.verdict.settled for one in fixed) / len(fixed)
        self.say(f"Settled: {ready:.1%} as proposed; {also:.1%} in the fixed order")
        self.target(led < kept and asked < kept, "fewer checks than the fixed order")
        sure = [one for one in paged if one.verdict.settled]
        right = sum(one.right for one in sure)
        self.say(f"On the pages: settled {len(sure) / len(paged):.1%}, of these right {right / len(sure):.2%}")
        self.share(right, len(sure), RIGHT_WHEN_SETTLED, f"settled on the pages is right in {RIGHT_WHEN_SETTLED:.1%}")

    def speed(self, judge: Scales, seed: int) -> None:
        dice = Random(seed)
        cases = [Observations()]
        for one in judge.hypotheses:
            answers = list(usual_answers(one).items())
            dice.shuffle(answers)
            cases += [Observations(dict(answers[:many])) for many in (1, 2, 3, 5, len(answers))]
        priors = judge.priors()

        def ranking(case: Observations) -> object:
            return rank(judge, *judge.weighed(case, priors), priors, judge.slips(case))

        slower = pace()
        for words, act, most in (
            ("full ranking", ranking, RANKING_MS),
            ("verdict with the next check", lambda case: assess(case), NEXT_MS),
        ):
            times = timed(act, cases)
            middle, slowest = times[len(times) // 2], times[-1 - len(times) // 100]
            self.say(f"{words}: median {middle:.2f} ms, 99th percentile {slowest:.2f} ms, {len(times)} cases")
            self.target(middle < most * slower, f"{words} under {most:g} ms at the pace of the aims")


def _share_right(ended: list[SimulatedWalk]) -> float:
    return sum(one.right for one in ended) / max(len(ended), 1)


def timed(act: Callable[[Observations], object], cases: list[Observations]) -> list[float]:
    """Milliseconds of each case, sorted; each is the best of three, to keep other work on the machine out."""
    times = []
    for case in cases:
        best = float("inf")
        for _round in range(3):
            start = time.perf_counter()
            act(case)
            best = min(best, 1000.0 * (time.perf_counter() - start))
        times.append(best)
    return sorted(times)


def name_of(key: Key) -> str:
    """A build and stand in one word, such as double-full in F."""
    code, stand = key
    return f"{code} in {stand}" if stand else code
