"""What to ask next: the check that is expected to tell most, in the usual order as long as that tells something."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from identify.core.reasoning.evidence import CHECKS, USUAL_ORDER, Observations

if TYPE_CHECKING:
    from identify.core.reasoning.scales import Scales, Weights

# A check that is expected to tell less than this (bits) decides nothing.
LEAST_GAIN = 0.004
# The usual order is kept while the next check in it tells at least this much of what the best one would.
KEEP_ORDER = 0.25
# Where the fourth valve is a finger's this likely, the bell is asked first.
UNDER_A_FINGER = 0.03


def worth_asking(
    on: Scales, observations: Observations, posterior: Weights, *, states: bool = False
) -> dict[str, float]:
    """Expected gain in bits of every check that was not asked and makes sense for what is likely.

    With `states` a check also gains by telling what is wrong with a horn.
    """
    lever, sets = posterior[on.levers].sum(), posterior[on.many_sets].sum()
    without_valves = posterior[on.without_valves].sum()
    keys = []
    for key in CHECKS:
        if key in observations.asked or (key in ("test_note_thumb", "thumb") and lever < 0.1):
            continue
        if key in ("second_set", "shared_row") and sets < 0.1:
            continue
        if key == "each_finger" and without_valves > 0.9:
            continue
        if key == "crook" and without_valves < 0.1:
            continue
        # Who could not tell the test note cannot tell it with the thumb down, nor the step below it.
        if key in ("test_note_thumb", "step_down") and "test_note" in observations.passed:
            continue
        keys.append(key)
    gains = on.gains(keys, posterior, observations.answers.get("test_note"), states=states)
    # A Wagner tuba or baritone with four finger valves has nothing under the thumb, and its bell points elsewhere.
    if gains.get("bell", 0.0) >= LEAST_GAIN and _under_a_finger(on, posterior) >= UNDER_A_FINGER:
        for key in ("test_note_thumb", "thumb"):
            gains.pop(key, None)
    return gains


def _under_a_finger(on: Scales, posterior: Weights) -> float:
    """The chance of a horn with four valves or more and no thumb lever."""
    return float(posterior[on.under_a_finger].sum())


def next_check(gains: Mapping[str, float]) -> str | None:
    """The check to make next, or None when none would decide anything.

    The usual order is kept as long as it tells something; what a deciding check would tell much better goes
    first.
    """
    best = max(gains.values(), default=0.0)
    if best < LEAST_GAIN:
        return None
    for key in USUAL_ORDER:
        if gains.get(key, 0.0) >= max(KEEP_ORDER * best, LEAST_GAIN):
            return key
    return max(gains, key=lambda key: gains[key])
