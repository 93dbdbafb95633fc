"""Why the proposal is as it is, in short sentences: for each pair, for each pupil without a horn, and for ties."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import either
from fleet.matching.solving.assigning import Pair, Proposal
from fleet.matching.solving.rows import MUST, HornRow, PupilRow, Weights
from fleet.register.models.kinds import sought, stand_in_words

# More names than this in one sentence are counted instead.
MOST_NAMED = 6
MANY = {"pupils": _s_lazy("%(number)s pupils"), "horns": _s_lazy("%(number)s horns")}

AS_NEEDED = {"single": _s_lazy("A single, as they need."), "double": _s_lazy("A double, as they need.")}
NOT_AS_NEEDED = {
    "single": _s_lazy("No single, though they need one."),
    "double": _s_lazy("No double, though they need one."),
}


def needed(pupil: PupilRow, weights: Weights) -> str:
    """What a horn must be to be proposed for this pupil: `a compact double horn that stands in F`."""
    stand = pupil.stand if weights.stand == MUST else ""
    return sought(kind=pupil.needs_kind, compact=pupil.needs_compact and weights.wrap == MUST, stands_in=stand)


def whys(proposal: Proposal, pupils: Sequence[PupilRow]) -> dict[int, list[str]]:
    """For the key of each pupil with a horn, why it is this one. `pupils` are all rows, to name who has it now."""
    names = {row.key: row.name for row in pupils}
    had: dict[int, str] = {}
    for pair in proposal.pairs:
        if pair.horn.held_by is not None and not pair.kept:
            had[pair.horn.held_by] = pair.horn.number
    for horn in proposal.unused:
        if horn.held_by is not None:
            had[horn.held_by] = horn.number
    said = {}
    for pair in proposal.pairs:
        words = [_s("Fixed by hand.")] if pair.fixed else []
        words += _whose(pair, names, had)
        words += suits(pair.pupil, pair.horn)
        words += _older(proposal.ages[pair.pupil.key], pair.horn, proposal.weights)
        said[pair.pupil.key] = words or [_s("Nothing speaks against it.")]
    return said


def _whose(pair: Pair, names: dict[int, str], had: dict[int, str]) -> list[str]:
    if pair.kept:
        return [_s("Keeps the horn they have.")]
    words = []
    if pair.horn.held_by is not None:
        somebody = names.get(pair.horn.held_by) or _s("Somebody else")
        words.append(_s("%(somebody)s has it now and gives it back first.") % {"somebody": somebody})
    if pair.pupil.key in had:
        words.append(_s("Gives back %(horn)s.") % {"horn": had[pair.pupil.key]})
    return words


def suits(pupil: PupilRow, horn: HornRow) -> list[str]:
    """How a horn suits a pupil, rule by rule."""
    return [words for _, _, words in _by_rules(pupil, horn)]


def against(pupil: PupilRow, horn: HornRow, weights: Weights) -> list[str]:
    """What speaks against a horn in this pupil's hands, by the rules that matter at the school. Where it is kept does
    not."""
    weighed = {"kind": MUST, "wrap": weights.wrap, "stand": weights.stand}
    return [words for rule, good, words in _by_rules(pupil, horn) if not good and weighed.get(rule)]


def _by_rules(pupil: PupilRow, horn: HornRow) -> Iterator[tuple[str, bool, str]]:
    """(rule, whether it is met, in words)"""
    if pupil.needs_kind and pupil.needs_kind == horn.kind:
        yield "kind", True, str(AS_NEEDED[horn.kind])
    elif pupil.needs_kind:
        yield "kind", False, str(NOT_AS_NEEDED[pupil.needs_kind])
    if pupil.needs_compact:
        words = _s("Compact, as they need.") if horn.compact else _s("Not compact, though they need that.")
        yield "wrap", horn.compact, words
    elif horn.compact:
        yield "wrap", True, _s("Compact, though they could hold any.")
    if pupil.stand and pupil.stand == horn.stand:
        yield "stand", True, _s("Stands in %(stand)s, like the class.") % {"stand": stand_in_words(horn.stand)}
    elif pupil.stand:
        said = {"stand": stand_in_words(horn.stand), "key": stand_in_words(pupil.stand)}
        yield "stand", False, _s("Stands in %(stand)s; the class plays in %(key)s.") % said
    if pupil.room and horn.room and horn.held_by != pupil.key:
        same = pupil.room == horn.room
        rooms = {"room": horn.room, "other": pupil.room}
        words = _s("Kept where the class plays.") if same else _s("Carried from %(room)s to %(other)s.") % rooms
        yield "carry", same, words


def _older(age: int, horn: HornRow, weights: Weights) -> list[str]:
    if not weights.better:
        return []
    if age >= 5 and horn.quality >= 5:
        return [_s("One of the better horns, for an older player.")]
    if age <= 2 and horn.quality <= 2:
        return [_s("A plainer horn, for a younger player.")]
    return []


@dataclass(frozen=True, slots=True)
class Shortage:
    """Pupils whom only these horns can serve, and those among them who stay without one.

    There are as many pupils as horns and `left` together, which proves that no proposal serves more of them.
    """

    pupils: list[PupilRow]
    horns: list[HornRow]
    left: list[PupilRow]


def shortages(proposal: Proposal) -> list[Shortage]:
    """Who competes with each pupil without a horn, followed from each horn that fits to whoever gets it, and so on.

    Pupils without a horn who compete for the same horns are told of together.
    """
    allowed = proposal.points.allowed
    owner = {column: row for row, column in enumerate(proposal.of_pupil) if column >= 0}
    found: dict[frozenset[int], tuple[set[int], list[int]]] = {}
    for start in (row for row, column in enumerate(proposal.of_pupil) if column < 0):
        rows, seen, columns = [start], {start}, set[int]()
        while rows:
            for column in allowed[rows.pop()].nonzero()[0].tolist():
                if column not in columns:
                    columns.add(column)
                    seen.add(owner[column])
                    rows.append(owner[column])
        together, left = found.setdefault(frozenset(columns), (set(), []))
        together |= seen
        left.append(start)
    return [
        Shortage(
            [proposal.pupils[row] for row in sorted(together)],
            [proposal.horns[column] for column in sorted(columns)],
            [proposal.pupils[row] for row in left],
        )
        for columns, (together, left) in found.items()
    ]


def why_left(proposal: Proposal, short: Shortage) -> str:
    """Why the pupils of a shortage cannot all have a horn."""
    few = len(short.horns)
    wanted = sorted({needed(row, proposal.weights) for row in short.pupils}, key=lambda what: (len(what), what))
    what = either(wanted) if len(wanted) <= MOST_NAMED else _s("horns of many kinds")
    if not proposal.horns:
        return _s("There is no horn left to be lent.")
    if not few:
        number = len(proposal.horns)
        if number > 1:
            return _s("None of the %(horns)s horns is %(what)s.") % {"horns": number, "what": what}
        return _s("The only horn is not %(what)s.") % {"what": what}
    pupils = listed([row.name for row in short.pupils], "pupils")
    horns = listed([horn.number for horn in short.horns], "horns")
    named = {"pupils": pupils, "what": what, "horns": horns}
    if len(short.pupils) == 1:
        need = _s_many(
            "%(pupils)s needs %(what)s, and there is only %(horns)s.",
            "%(pupils)s needs %(what)s, and there are only %(horns)s.",
            few,
        )
    else:
        need = _s_many(
            "%(pupils)s need %(what)s, and there is only %(horns)s.",
            "%(pupils)s need %(what)s, and there are only %(horns)s.",
            few,
        )
    if not any(_by_a_tie(proposal, row) for row in short.left):
        return need % named
    return f"{need % named} {_s('It is a tie who of them goes without.')}"


def listed(names: Sequence[str], word: str) -> str:
    """`Ada, Ben and Cy`, or `12 pupils` where there are many."""
    if len(names) > MOST_NAMED:
        return MANY[word] % {"number": len(names)}
    if len(names) < 2:
        return "".join(names)
    return _s("%(some)s and %(last)s") % {"some": ", ".join(names[:-1]), "last": names[-1]}


def _by_a_tie(proposal: Proposal, left: PupilRow) -> bool:
    """Whether the horn of somebody else would be worth as much with this pupil."""
    row, cost = proposal.pupils.index(left), proposal.points.cost
    return any(
        column >= 0 and cost[row, column] < 0 and cost[row, column] == cost[other, column]
        for other, column in enumerate(proposal.of_pupil)
    )


def tied(proposal: Proposal) -> dict[int, str]:
    """For pupils whose horn could be another with the same points: the number of that horn, by the pupil's key.

    Looks for a horn nobody gets and for one exchange between two pupils; longer rounds of exchanges are not sought.
    """
    import numpy as np

    rows = [row for row, column in enumerate(proposal.of_pupil) if column >= 0]
    columns = [proposal.of_pupil[row] for row in rows]
    cost = proposal.points.cost
    if not rows:
        return {}
    found: dict[int, str] = {}
    own = cost[rows, columns]
    among = cost[np.ix_(rows, columns)]
    as_good = (among < 0) & (among.T < 0) & (among + among.T == own[:, None] + own[None, :])
    np.fill_diagonal(as_good, False)
    free = sorted(set(range(cost.shape[1])) - set(columns))
    unused = cost[np.ix_(rows, free)] == own[:, None]
    for place, row in enumerate(rows):
        if unused[place].any():
            found[proposal.pupils[row].key] = proposal.horns[free[int(unused[place].argmax())]].number
        elif as_good[place].any():
            found[proposal.pupils[row].key] = proposal.horns[columns[int(as_good[place].argmax())]].number
    return found
