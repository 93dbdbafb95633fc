"""Builds and stands by their chance, each with what speaks against it, and whether the first is a broken horn."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from identify.core.horns.broken import State
from identify.core.horns.builds import Build, Stand
from identify.core.reasoning.assumed import Key
from identify.core.reasoning.evidence import CHECKS
from identify.core.reasoning.expect import Hypothesis

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from identify.core.reasoning.scales import Scales, Weights

    Band = tuple[Weights, Weights]  # what each of `Scales.every` weighs at least, and at most

# A horn is called broken when that is this likely beside mistakes, and what may be wrong is named from this share on.
BROKEN_AT = 0.9
WORTH_MENDING = 0.1


@dataclass(frozen=True)
class Candidate:
    """A build in a stand with its chance. `stand` is None for a horn that is whatever its crook makes it.

    `against` are the checks whose answers would have to be mistakes; `form` is the build in its likeliest
    form. `states` say what is wrong with it, the likeliest first, empty for a whole horn; `share` of its chance is
    just those, and `shown_by` the checks that a whole one would answer otherwise. `least` and `most` bound its chance,
    as it is said, where each mistake is half to twice as common as is assumed.
    """

    build: Build
    stand: Stand | None
    probability: float
    least: float
    most: float
    before: float
    against: tuple[str, ...]
    form: Hypothesis
    states: tuple[State, ...] = ()
    share: float = 1.0
    shown_by: tuple[str, ...] = ()

    @property
    def key(self) -> Key:
        return self.build.code, self.stands_in

    @property
    def stands_in(self) -> str | None:
        return self.stand.name if self.stand else None

    @property
    def fits(self) -> bool:
        """Whether everything observed is explained without a mistake."""
        return not self.against

    @property
    def as_said(self) -> float:
        """The chance that it is this horn and, where something is said to be wrong with it, that it is so."""
        return self.probability * self.share


def rank(
    on: Scales, posterior: Weights, band: Band, priors: Weights, slips: list[frozenset[str]]
) -> tuple[Candidate, ...]:
    """Candidates by group, the likeliest first, each shown by its likeliest form, a form that fits before others.

    The first is shown as broken where it does not fit as a whole horn and that is by far the likelier reason.
    """
    best: dict[int, int] = {}
    whole = len(on.hypotheses)
    shown_first = [(not missed, chance) for missed, chance in zip(slips, posterior[:whole].tolist(), strict=False)]
    for place, group in enumerate(on.group_of[:whole].tolist()):
        if shown_first[place] >= shown_first[best.get(group, place)]:
            best[group] = place
    against = {
        missed: tuple(key for key in CHECKS if key in missed) for missed in {slips[one] for one in best.values()}
    }
    chances, before = on.by_group(posterior), on.by_group(priors)
    bounds = _between(band, on.group_of, len(on.groups))
    ranked = []
    for group, place in best.items():
        form = on.hypotheses[place]
        ranked.append(
            Candidate(
                build=on.catalogue[form.build.code],
                stand=None if form.build.crooked else form.stand,
                probability=chances[group],
                least=bounds[group][0],
                most=bounds[group][1],
                before=before[group],
                against=against[slips[place]],
                form=form,
            )
        )
    # Equal chances are ordered by the catalogue, so that the same question always gets the same answer, however the
    # numbers were added up.
    leading, *others = sorted(ranked, key=lambda one: -round(one.probability, 12))
    if leading.against:
        so = _broken(on, posterior, band, slips, leading)
        leading = so if so and so.share >= BROKEN_AT else leading
    return leading, *others


def _between(band: Band, group_of: NDArray[np.intp], many: int) -> list[tuple[float, float]]:
    """The least and the greatest chance of each group, all others weighing as much or as little as they may."""
    import numpy as np

    least, most = (np.bincount(group_of, weights, many) for weights in band)
    low, high = least / (least + most.sum() - most), most / (most + least.sum() - least)
    return list(zip(low.tolist(), high.tolist(), strict=True))


def _broken(
    on: Scales, posterior: Weights, band: Band, slips: list[frozenset[str]], one: Candidate
) -> Candidate | None:
    """A candidate in the states that explain all of it, or None where none does."""
    import numpy as np

    inside = np.flatnonzero(on.group_of == on.groups.index(one.key)).tolist()
    fitting = [place for place in inside if place >= len(on.hypotheses) and not slips[place]]
    if not fitting:
        return None
    chance: dict[str, float] = {}
    states: dict[str, State] = {}
    for place in fitting:
        state = _state(on, place)
        states[state.code] = state
        chance[state.code] = chance.get(state.code, 0.0) + float(posterior[place])
    total = sum(chance.values())
    named = sorted((code for code in chance if chance[code] >= WORTH_MENDING * total), key=lambda code: -chance[code])
    so_named = np.zeros(len(on.every), dtype=np.intp)
    so_named[[place for place in fitting if _state(on, place).code in named]] = 1
    least, most = _between(band, so_named, 2)[1]
    return replace(
        one,
        least=least,
        most=most,
        against=(),
        form=on.every[max(fitting, key=lambda place: float(posterior[place]))],
        states=tuple(states[code] for code in named),
        share=sum(chance[code] for code in named) / one.probability,
        shown_by=one.against,
    )


def _state(on: Scales, place: int) -> State:
    state = on.every[place].state
    assert state is not None
    return state


def perhaps_broken(
    on: Scales, posterior: Weights, band: Band, slips: list[frozenset[str]], candidates: tuple[Candidate, ...]
) -> Candidate | None:
    """The broken horn that is likely enough to be named beside the answers that are doubted."""
    found = (_broken(on, posterior, band, slips, one) for one in candidates if one.probability >= WORTH_MENDING)
    return max(
        (one for one in found if one and one.as_said >= WORTH_MENDING), key=lambda one: one.as_said, default=None
    )
