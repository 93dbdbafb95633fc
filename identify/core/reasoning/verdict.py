"""The verdict: how well each build and stand explains all that was observed, and what to look at next.

`assess` ranks every hypothesis by its chance, says *settled* only when nothing clashes, one build and stand is
as good as certain and no second look that matters is left, and *likely* where only that is left. It names the
fewest observations to doubt when nothing fits, and the check that would settle most.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from identify.core.reasoning.asking import LEAST_GAIN, next_check, worth_asking
from identify.core.reasoning.assumed import SAME_ANSWERS
from identify.core.reasoning.evidence import CHECKS, USUAL_ORDER, Observations
from identify.core.reasoning.expect import SHOWS, overlap
from identify.core.reasoning.ranking import Candidate, perhaps_broken, rank

if TYPE_CHECKING:
    from identify.core.reasoning.scales import Scales, Weights

# Chance from which a verdict is settled at once, and from which it is settled when nothing is left to ask, no second
# look either. Found with the benchmark, so that settled is right 99 times in 100, even where staff err more often than
# is assumed.
SETTLED_AT = 0.995
SETTLED_AT_LAST = 0.98
# Chance from which a horn is called likely when only second looks are left.
LIKELY_AT = 0.92
# A settled verdict names the answer to look at once more where a horn this likely needs only that one to be wrong.
WORTH_NAMING = 0.0005
# One answer can be a slip of the finger: nothing is settled by fewer.
FEWEST_ANSWERS = 2
# Another equally small set of doubts is named too when it is at least this likely beside the likeliest.
ALSO_DOUBTED = 0.1
STILL_POSSIBLE = 0.01
# What was heard speaks against a horn when another tube explains it this many times better.
HEARD_AGAINST = 20.0


@dataclass(frozen=True)
class Doubt:
    """A smallest set of observations without which something fits, how likely it is to blame (0 to 1), and
    what is then thought."""

    keys: tuple[str, ...]
    likelihood: float
    then: tuple[Candidate, ...]
    then_settled: bool


@dataclass(frozen=True)
class Mix:
    """How a school's own confirmed horns shifted the estimate of what is common.

    `horns` counted; `share` (0 to 1) is their weight against the estimate, 0 while there are too few.
    """

    horns: int
    share: float


@dataclass(frozen=True)
class Verdict:
    """What the observations amount to. `candidates` has every build and stand, the most likely first.

    `twins` are candidates that no check tells from the leading one and that are still possible.
    `doubt` lists checks to look at again, the most doubtful first, `doubts` the smallest sets one by one;
    `clash` is True when nothing fits all observations, False when two are close and no check is left.
    `confirm` are checks worth a second look before the verdict is relied on, though nothing clashes: those a
    rival would need to be mistaken. `rests_on` are the other answers of a settled verdict that were seen once and,
    wrong alone, would make it another horn, however unlikely; `unasked` is a check that would show another horn with a
    fault, which answers alike, and `alike` are those that would show another kind, where one was settled by what it is
    said to be like. `heard_against` says that the open notes heard do not fit the leading candidate; nothing is settled
    then. `perhaps` is a broken horn that would explain all of it as well, where mistakes are the likelier.
    """

    observations: Observations
    candidates: tuple[Candidate, ...]
    settled: bool
    twins: tuple[Candidate, ...]
    doubt: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    clash: bool
    confirm: tuple[str, ...]
    impossible_counts: bool
    next_check: str | None
    mix: Mix
    gains: Mapping[str, float] = field(default_factory=dict)
    heard_against: bool = False
    perhaps: Candidate | None = None
    rests_on: tuple[str, ...] = ()
    unasked: str | None = None
    alike: tuple[str, ...] = ()

    @property
    def nothing_observed(self) -> bool:
        return self.observations.nothing_observed

    @property
    def fits(self) -> bool:
        """Whether one horn explains all that was observed and heard; else chances count something as a mistake."""
        return not self.clash and not self.heard_against

    @property
    def likely(self) -> bool:
        """Whether one horn is likely and nothing is left to ask but second looks, so that it is not settled."""
        clear = self.fits and not (self.settled or self.twins or self.next_check)
        return clear and self.leading.fits and self.leading.as_said >= LIKELY_AT

    @property
    def leading(self) -> Candidate:
        return self.candidates[0]

    @property
    def runner_up(self) -> Candidate:
        return self.candidates[1]

    @property
    def still_possible(self) -> tuple[Candidate, ...]:
        """Candidates worth naming: all of at least one in a hundred, the leading one in any case."""
        worth = tuple(one for one in self.candidates if one.probability >= STILL_POSSIBLE)
        return worth or self.candidates[:1]


def _smallest_doubts(
    on: Scales, observations: Observations, posterior: Weights, priors: Weights, slips: list[frozenset[str]]
) -> tuple[Doubt, ...]:
    whole = slips[: len(on.hypotheses)]
    fewest = min(len(missed) for missed in whole)
    if fewest == 0:
        return ()
    blame: dict[frozenset[str], float] = {}
    for missed, chance in zip(whole, posterior.tolist(), strict=False):
        if len(missed) == fewest:
            blame[missed] = blame.get(missed, 0.0) + chance
    total = sum(blame.values()) or 1.0
    doubts: list[Doubt] = []
    for keys, chance in sorted(blame.items(), key=lambda item: (-item[1], sorted(item[0]))):
        if doubts and chance < ALSO_DOUBTED * doubts[0].likelihood * total:
            break
        left = observations.without(keys)
        then = rank(on, *on.weighed(left, priors), priors, on.slips(left))
        settled = then[0].fits and then[0].as_said >= SETTLED_AT_LAST
        doubts.append(Doubt(tuple(key for key in CHECKS if key in keys), chance / total, then[:3], settled))
    return tuple(doubts)


def usual_next(verdict: Verdict) -> str | None:
    """The check to make next where the four checks keep their usual order, or None when none is left.

    Those that would decide nothing are left out, and the deciding ones come last. People are led this way; it
    asks a little more than `Verdict.next_check`. A horn that is said to be like another is asked for its test note,
    which no look tells, and then for what tells most.
    """
    if verdict.observations.like:
        some = {key: gain for key, gain in verdict.gains.items() if gain >= LEAST_GAIN}
        return "test_note" if "test_note" in some else max(some, key=lambda key: some[key], default=verdict.next_check)
    for key in USUAL_ORDER:
        if verdict.gains.get(key, 0.0) >= LEAST_GAIN:
            return key
    return verdict.next_check


def _to_confirm(candidates: tuple[Candidate, ...], observations: Observations) -> tuple[str, ...]:
    """What to look at once more to be surer of the leading candidate, by its strongest rival that can be
    refuted.

    Either what the rival would need to be mistaken, or, where it fits too, the check that would tell the two
    apart best: it was passed over, or answered with something both can give.
    """
    leading = candidates[0]
    for rival in candidates[1:]:
        if rival.probability < leading.probability / 1000:
            break
        keys = tuple(key for key in rival.against if key not in observations.again)
        if keys:
            return keys
        if rival.fits:
            left = [key for key in CHECKS if key in observations.asked - observations.again]
            same = {key: overlap(leading.form, rival.form, key) for key in left}
            if same and min(same.values()) < SAME_ANSWERS:
                return (min(same, key=lambda key: same[key]),)
    return ()


def _one_answer_away(candidates: tuple[Candidate, ...], observations: Observations, least: float) -> tuple[str, ...]:
    """Answers seen once that alone keep another horn of this chance, `least`, from fitting; the likeliest first."""
    rivals = (one.against for one in candidates[1:] if one.probability >= least and len(one.against) == 1)
    return tuple(dict.fromkeys(key for against in rivals for key in against if key not in observations.again))


def _hidden_fault(
    on: Scales,
    observations: Observations,
    posterior: Weights,
    slips: list[frozenset[str]],
    leading: Candidate,
    least: float,
) -> str | None:
    """The check that would show another horn with a fault, of this chance at `least`, that answers all alike so far."""
    whole, group = len(on.hypotheses), on.groups.index(leading.key)
    left = [key for key in SHOWS if key not in observations.asked]
    likely = (posterior >= least) & (on.group_of != group)
    alike = [place for place in likely.nonzero()[0].tolist() if place >= whole and not slips[place]]
    for place in sorted(alike, key=lambda place: -posterior[place]):
        same = {key: overlap(leading.form, on.every[place], key) for key in left}
        if same and min(same.values()) < SAME_ANSWERS:
            return min(same, key=lambda key: same[key])
    return None


def _looks_alike(candidates: tuple[Candidate, ...], observations: Observations) -> tuple[str, ...]:
    """Checks not asked that would show another horn that answers all alike so far, each for the first it shows."""
    leading, *rivals = candidates
    left, found = [key for key in CHECKS if key not in observations.asked], list[str]()
    for rival in rivals:
        same = {key: overlap(leading.form, rival.form, key) for key in left} if rival.fits else {}
        if same and min(same.values()) < SAME_ANSWERS and all(same[key] >= SAME_ANSWERS for key in found):
            found.append(min(same, key=lambda key: same[key]))
    return tuple(found)


def assess(observations: Observations, *, mix: Mapping[str, int] | None = None, on: Scales | None = None) -> Verdict:
    """Weigh observations. `mix` counts a school's confirmed horns by code of build; `on` other scales than
    the usual.

    Never fails for observations that could be read: with none at all the answer is what is common.
    """
    if on is None:
        from identify.core.reasoning.scales import scales

        on = scales()
    priors = on.priors(mix)
    posterior, band = on.weighed(observations, priors)
    slips = on.slips(observations)
    candidates = rank(on, posterior, band, priors, slips)
    leading = candidates[0]
    doubts = () if leading.states else _smallest_doubts(on, observations, posterior, priors, slips)
    answers = observations.answers
    counted = {"valves", "slide_sets"} <= set(answers)
    impossible = counted and (answers["valves"], answers["slide_sets"]) not in on.counts
    twins = tuple(
        one
        for one in candidates[1:]
        if one.probability >= STILL_POSSIBLE and frozenset((leading.key, one.key)) in on.indistinct
    )
    heard = observations.heard
    heard_against = heard is not None and on.heard_weight(heard, leading.form) < 1 / HEARD_AGAINST
    several = len(answers) + (heard is not None) >= FEWEST_ANSWERS
    sure = leading.fits and leading.as_said >= SETTLED_AT and several
    states = bool(doubts or leading.states)
    gains = {} if sure else worth_asking(on, observations, posterior, states=states)
    coming = next_check(gains)
    if coming is None and gains and answers and not several:
        coming = max(gains, key=lambda key: gains[key])
    doubt = list(dict.fromkeys(key for one in doubts for key in one.keys))
    if impossible:
        doubt += [key for key in ("valves", "slide_sets") if key not in doubt]
    doubt = [key for key in doubt if key not in observations.again]
    confirm: tuple[str, ...] = ()
    if sure and not doubts:
        confirm = _one_answer_away(candidates, observations, WORTH_NAMING)
    seen_once = tuple(key for key in leading.shown_by if key not in observations.again)
    if seen_once and not coming:
        # A whole horn of another kind may need none of these to be wrong, and a single other one.
        confirm = tuple(dict.fromkeys((*seen_once, *_one_answer_away(candidates, observations, STILL_POSSIBLE))))
    elif not (doubts or coming or observations.nothing_observed or sure):
        confirm = _to_confirm(candidates, observations)
        if not twins:
            doubt = list(confirm)
    if sure and not (doubts or leading.states):
        coming = _hidden_fault(on, observations, posterior, slips, leading, WORTH_NAMING)
    at_last = leading.fits and leading.as_said >= SETTLED_AT_LAST and several and not (coming or confirm)
    settled = (at_last or (sure and not coming)) and not doubts and not heard_against
    alone = _one_answer_away(candidates, observations, 0.0) if settled else ()
    whole = settled and not leading.states
    own = on.counted(mix)
    horns = sum(own.values())
    return Verdict(
        observations=observations,
        candidates=candidates,
        settled=settled,
        twins=twins,
        doubt=tuple(doubt),
        doubts=doubts,
        clash=bool(doubts) or impossible,
        confirm=confirm,
        impossible_counts=impossible,
        next_check=coming,
        mix=Mix(horns, on.mix_share(horns)),
        gains=gains,
        heard_against=heard_against,
        perhaps=perhaps_broken(on, posterior, band, slips, candidates) if doubts else None,
        alike=_looks_alike(candidates, observations) if whole and observations.like else (),
        rests_on=tuple(key for key in alone if key not in confirm),
        unasked=_hidden_fault(on, observations, posterior, slips, leading, 0.0) if whole else None,
    )
