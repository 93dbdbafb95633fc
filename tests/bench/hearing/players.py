"""Simulated players of open notes, and how often their tube is found or their record's claim judged rightly.

The player is none of the scorer's: lipping is normal where the scorer assumes a mixture, tuning is even
over a whole range where the scorer leans to the middle, every partial of a horn is bent by its bore, notes
are skipped and missed by players who differ. So the figures are no mirror of the scorer's own model.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from identify.core.hearing.claim import check_claim
from identify.core.hearing.notes import Played
from identify.core.hearing.open_notes import SCHOOL_MIX, find_tube
from identify.core.horns.air import TUBES
from identify.core.horns.pitch import midi_to_hz

Dice = np.random.Generator
FIVE = dict.fromkeys(("F12", "Bb9", "F6", "Eb6", "Bb4"), 0.2)


@dataclass(frozen=True)
class Player:
    """Cents of lipping (spread), of tuning (plus or minus, even) and of the bore (spread); chances a note."""

    name: str
    lipping: float
    tuning: float
    bore: float
    wrong: float
    skips: float


ORDINARY = Player("ordinary", lipping=15, tuning=60, bore=6, wrong=0.005, skips=0.01)
HARSH = Player("harsh", lipping=25, tuning=90, bore=8, wrong=0.05, skips=0.03)
PLAYERS = (ORDINARY, HARSH)
TARGETS = {"ordinary": (0.98, 0.005), "harsh": (0.90, 0.01)}  # of four notes: least right, most wrong


def play(tube: str, count: int, player: Player, dice: Dice) -> list[Played]:
    """``count`` open notes upwards from one that speaks easily on the tube."""
    pedal = TUBES[tube].pedal
    # The lowest note that speaks easily lies about F2 to F4 for a learner, whatever the tube.
    easy = [k for k in range(2, 9) if 40.5 <= pedal + 12 * np.log2(k) <= 65.5]
    partial = int(dice.choice(easy[:3]))
    off = float(dice.uniform(-player.tuning, player.tuning))
    notes = []
    for _ in range(count):
        midi = pedal + 12 * np.log2(partial)
        cents = off + float(dice.normal(0, player.bore)) + float(dice.normal(0, player.lipping))
        if dice.random() < player.wrong:  # a valve went down, or the wrong note was recorded
            midi += float(dice.choice([-5, -4, -3, -2, -1, 1, 2, 3, 4, 5]))
        notes.append(Played(midi_to_hz(midi + cents / 100), float(dice.uniform(0.7, 1))))
        partial += 2 if dice.random() < player.skips else 1
    return notes


def tubes_found(
    seed: int, trials: int, count: int, player: Player, mix: Mapping[str, float], prior: Mapping[str, float]
) -> tuple[float, float, float]:
    """Shares of trials that were settled rightly, settled wrongly, and left open."""
    dice = np.random.default_rng([seed, count, len(mix)])
    codes, shares = list(mix), np.array(list(mix.values()))
    right = wrong = 0
    for _ in range(trials):
        tube = codes[int(dice.choice(len(codes), p=shares / shares.sum()))]
        found = find_tube(play(tube, count, player, dice), prior=prior)
        right += found.tube == tube
        wrong += found.tube not in (tube, None)
    return right / trials, wrong / trials, 1 - (right + wrong) / trials


def claims_checked(seed: int, trials: int, count: int, player: Player) -> dict[str, float]:
    """False alarms among true claims; missed (said to fit) and caught among false ones; undecided of each."""
    dice = np.random.default_rng([seed, count, 77])
    codes, shares = list(SCHOOL_MIX), np.array(list(SCHOOL_MIX.values()))
    true: dict[str, int] = {"fits": 0, "does-not-fit": 0, "cannot-tell": 0}
    false = dict(true)
    for _ in range(trials):
        tube = codes[int(dice.choice(len(codes), p=shares / shares.sum()))]
        others = np.array([0.0 if code == tube else SCHOOL_MIX[code] for code in codes])
        claim = codes[int(dice.choice(len(codes), p=others / others.sum()))]
        notes = play(tube, count, player, dice)
        true[check_claim(notes, tube).verdict] += 1
        false[check_claim(notes, claim).verdict] += 1
    return {
        "false alarms": true["does-not-fit"] / trials,
        "confirmed": true["fits"] / trials,
        "missed": false["fits"] / trials,
        "caught": false["does-not-fit"] / trials,
        "undecided when false": false["cannot-tell"] / trials,
    }
