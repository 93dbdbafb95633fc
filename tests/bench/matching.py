"""Times the matching against the bare solver on the very matrix it solves, in the same run.

Ours is everything from plain rows to the proposal: sorting, the matrix, the solver, and who gets which horn. Both take
turns, so that a machine that slows down slows both; only the ratio means anything. What is said about a proposal
(reasons, ties, remedies) is timed beside it.
"""

from __future__ import annotations

import argparse
import random
import time
from collections.abc import Callable
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.matching.solving.assigning import propose
from fleet.matching.solving.reasons import shortages, tied, whys
from fleet.matching.solving.remedies import remedies
from fleet.matching.solving.rows import MUST, HornRow, PupilRow, Weights

TARGET = 1.2
WEIGHTS = {
    "the usual weights": Weights(),
    "nothing must be so": Weights(keep=9, stand=9, wrap=9, better=1, carry=1),
    "everything matters": Weights(keep=3, stand=3, wrap=3, better=3, carry=3),
    "better horns most": Weights(keep=1, stand=MUST, wrap=MUST, better=9, carry=1),
}


class Command(BaseCommand):
    help = "Time the matching of pupils and horns against the bare solver on the same matrix, over invented rows."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--pupils", type=int, default=2000, help="how many pupils, and as many horns (10 to 5,000)")
        parser.add_argument("--rounds", type=int, default=7, help="how often each is solved (3 to 100)")
        parser.add_argument("--seed", type=int, default=1)

    def handle(self, *args: Any, pupils: int, rounds: int, seed: int, **options: Any) -> None:
        from scipy.optimize import linear_sum_assignment

        size, rounds = min(max(pupils, 10), 5000), min(max(rounds, 3), 100)
        rows, horns = invented(size, seed)
        self.stdout.write(f"{size} pupils, {size} horns; {rounds} rounds, the least processor time of each.\n\n")
        self.stdout.write(f"{'':22}{'ours':>11}{'bare':>11}{'ratio':>8}{'said':>11}{'served':>8}\n")
        missed = []
        for name, weights in WEIGHTS.items():
            proposal = propose(rows, horns, weights)
            cost = proposal.points.cost
            ours, bare = [], []
            for turn in range(rounds):
                for mine in (True, False) if turn % 2 else (False, True):
                    if mine:
                        ours.append(took(lambda weights=weights: propose(rows, horns, weights)))  # type: ignore[misc]
                    else:
                        bare.append(took(lambda cost=cost: linear_sum_assignment(cost)))  # type: ignore[misc]
            said = took(lambda proposal=proposal: tell(proposal, rows))  # type: ignore[misc]
            mine_ms, bare_ms = min(ours) * 1000, min(bare) * 1000
            ratio = mine_ms / bare_ms
            if ratio > TARGET:
                missed.append(f"{name} {ratio:.2f}")
            self.stdout.write(
                f"{name:22}{mine_ms:8.0f} ms{bare_ms:8.0f} ms{ratio:8.2f}{said * 1000:8.0f} ms{len(proposal.pairs):8}\n"
            )
        if missed:
            raise CommandError(f"More than {TARGET} times the bare solver: {', '.join(missed)}.")


def took(do: Callable[[], Any]) -> float:
    began = time.process_time()
    do()
    return time.process_time() - began


def tell(proposal: Any, rows: list[PupilRow]) -> None:
    """What a page says about a proposal beyond who gets what."""
    whys(proposal, rows)
    tied(proposal)
    shortages(proposal)
    remedies(proposal, [])


def invented(size: int, seed: int) -> tuple[list[PupilRow], list[HornRow]]:
    """As many pupils as horns, in the proportions of a school's cupboard: most single and double horns in F, a few
    in B flat or compact, half of them with somebody already."""
    chance = random.Random(seed)
    rooms = [f"Room {n}" for n in range(12)]
    pupils = [
        PupilRow(
            key=n,
            name=f"Pupil {n:05d}",
            year=chance.randint(4, 12),
            needs_compact=chance.random() < 0.12,
            needs_kind=chance.choice(["", "", "", "double"]),
            stand=chance.choice(["F", "F", "F", "Bb"]),
            room=chance.choice(rooms),
        )
        for n in range(size)
    ]
    horns = []
    for n in range(size):
        double = chance.random() < 0.45
        stand = chance.choice(["F", "F", "F", "Bb"])
        horns.append(
            HornRow(
                key=n,
                number=f"HN-{n:05d}",
                kind="double" if double else "single",
                stand=stand,
                compact=chance.random() < 0.14,
                grade=chance.choice([1, 1, 2]),
                finish=chance.randint(1, 4),
                room=chance.choice(rooms),
                held_by=n if chance.random() < 0.5 else None,
                other_stands=("Bb" if stand == "F" else "F",) if double else (),
            )
        )
    return pupils, horns
