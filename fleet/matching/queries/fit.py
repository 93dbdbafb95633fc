"""Whether a horn suits a pupil, by the same rules as a proposal: what a person who chooses by hand is told."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import fields, replace
from datetime import date
from typing import Any, NamedTuple

from django.db.models import Case, Expression, F, Q, QuerySet, Value, When, Window
from django.db.models.functions import NullIf, RowNumber
from django.utils.text import capfirst
from django.utils.translation import gettext as _s

from fleet.ground.wording import day, with_article
from fleet.lending.models import Wish
from fleet.lending.queries.wishes import in_force
from fleet.matching.models import ClassPlan, MatchingRules
from fleet.matching.queries.candidates import PlannedFor, Usual, horn_row, is_matched, pupil_row, usual_of
from fleet.matching.solving.points import points
from fleet.matching.solving.reasons import against
from fleet.matching.solving.rows import MUST, PupilRow, Weights
from fleet.people.models import Pupil, School
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of
from fleet.register.queries.at_once import AsLists
from fleet.signing.queries.fitting import Misfit
from identify.core.horns.builds import FRENCH_HORN


class MeasuredBy(NamedTuple):
    """What a horn is measured by: the school's weights, what its classes planned, by their names in small letters, and
    what some of them play on."""

    weights: Weights
    plans: dict[str, PlannedFor]
    usual: Usual

    def wanted(self, pupil: Pupil) -> PupilRow:
        """What is wanted for a pupil of one of those classes."""
        return pupil_row(pupil, self.plans, self.usual)


WEIGHTS = tuple(one.name for one in fields(Weights))


def measures(school: School, groups: Iterable[Expression | F]) -> QuerySet[School]:
    """The school as the one row that tells the measure of these classes, each a `Value` or some row's (`OuterRef`)."""
    # The horn keeps of which class it is out with. In no class are those that nobody has, to be looked through in vain.
    named = [NullIf(group, Value("")) for group in groups]
    out = Horn.objects.at(school).filter(holder_group__in=named).order_by()
    return School.objects.filter(pk=school.pk).annotate(
        weighed=AsLists(MatchingRules.objects.filter(school=school), *WEIGHTS),
        planned=AsLists(ClassPlan.objects.filter(school=school), "group", "stands_in", "room"),
        played=AsLists(out, "holder_group", "build", "stands_in", "place__room"),
    )


def measure_of(told: Any) -> MeasuredBy:
    """The measure that this row of `measures` tells. No query."""
    weights = Weights(*told.weighed[0]) if told.weighed else Weights()
    plans = {group.casefold(): PlannedFor(*planned) for group, *planned in told.planned}
    return MeasuredBy(weights, plans, usual_of(told.played or ()))


def misfits(
    school: School,
    pairs: Sequence[tuple[Pupil, Horn]],
    *,
    today: date,
    taken: Collection[int] = (),
    with_better: bool = True,
    wishes: Sequence[Wish] | None = None,
    measure: MeasuredBy | None = None,
) -> dict[tuple[int, int], Misfit]:
    """As `fleet.signing.queries.fitting.misfits` promises; a query less where the `measure` of their classes is at
    hand."""
    if not pairs:
        return {}
    measure = measure or measure_of(measures(school, map(Value, {pupil.group for pupil, _ in pairs})).get())
    weights, usual = measure.weights, measure.usual
    rows = {pupil.pk: measure.wanted(pupil) for pupil, _ in pairs}
    if wishes is None:
        of_these = Q(pupil__in=[pupil for pupil, _ in pairs])
        wishes = list(in_force(school, today).filter(of_these | Q(horn__isnull=False)))
    asked_for = _first_asked(wishes)
    found: dict[tuple[int, int], list[str]] = {}
    for pupil, horn in pairs:
        row = rows[pupil.pk]
        words = [*against(row, horn_row(horn), weights), *_of_others(pupil, horn, asked_for)]
        if not _is_of(horn, _family(row, usual)):
            words.insert(0, _no_horn(horn, _family(row, usual)))
        if words:
            found[pupil.pk, horn.pk] = words
    if not with_better:
        return {keys: Misfit(words, None) for keys, words in found.items()}
    horns = {horn.pk: horn for _, horn in pairs}
    ill_served = [(rows[key], _family(rows[key], usual), horns[horn]) for key, horn in found]
    better = _better(school, ill_served, weights, {*taken, *horns}, wishes)
    return {keys: Misfit(words, horn) for (keys, words), horn in zip(found.items(), better, strict=True)}


def _first_asked(wishes: Sequence[Wish]) -> dict[int, Wish]:
    """By the keys of the horns asked for: for whom each is kept, else who came first."""
    found: dict[int, Wish] = {}
    for wish in sorted(wishes, key=lambda wish: wish.reserved_until is None):
        if wish.horn_id is not None:
            found.setdefault(wish.horn_id, wish)
    return found


def _of_others(pupil: Pupil, horn: Horn, asked_for: Mapping[int, Wish]) -> list[str]:
    """That somebody else asked for this horn, and not after this pupil."""
    first = asked_for.get(horn.pk)
    if first is None or first.pupil_id == pupil.pk:
        return []
    if first.reserved_until:
        return [
            _s("%(horn)s is kept for %(pupil)s %(until)s.") % {"horn": horn, "pupil": first.pupil, "until": first.until}
        ]
    return [
        _s("%(pupil)s waits for %(horn)s since %(since)s.")
        % {"pupil": first.pupil, "horn": horn, "since": day(first.since)}
    ]


def _family(pupil: PupilRow, usual: Usual) -> str:
    """What the class plays: French horns where nobody in it has any horn yet."""
    return usual.families.get(pupil.group, FRENCH_HORN)


def _is_of(horn: Horn, family: str) -> bool:
    """Where French horns are played, those without valves are none either."""
    build = build_of(horn.build)
    return build is None or (is_matched(horn) if family == FRENCH_HORN else build.family == family)


def _no_horn(horn: Horn, family: str) -> str:
    build = build_of(horn.build)
    if family != FRENCH_HORN:
        said = _s("%(kind)s is not what the class plays.")
    else:
        said = _s("%(kind)s has no valves.") if build and build.is_french_horn else _s("%(kind)s is no French horn.")
    return capfirst(said % {"kind": _s(with_article(build.name)) if build else horn.kind})


def _better(
    school: School,
    pupils: Sequence[tuple[PupilRow, str, Horn]],
    weights: Weights,
    taken: Collection[int],
    wishes: Sequence[Wish],
) -> list[Horn | None]:
    """For each pupil, given with what the class plays and a horn, another that may be lent now, that nothing speaks
    against and nobody else asked for: the one they wait for, else one of the sort, else the best; none that they wait
    for less than for the one given. One query, or none."""
    if not pupils:
        return []
    asked_for = {horn: wish.pupil_id for horn, wish in _first_asked(wishes).items()}
    horns = list(_first_of_each(school, [row for row, _, _ in pupils], taken, asked_for))
    # What merely matters to a proposal is not called better while it is broken.
    strict = replace(weights, stand=MUST if weights.stand else 0, wrap=MUST if weights.wrap else 0)
    worth = points([row for row, _, _ in pupils], [horn_row(horn) for horn in horns], strict)
    given: dict[int, int] = {}
    for place, (pupil, family, chosen) in enumerate(pupils):
        may = [at for at in range(len(horns)) if worth.may(place, at) and _is_of(horns[at], family)]
        own = [wish for wish in wishes if wish.pupil_id == pupil.key]
        may = [at for at in may if _wished(own, horns[at]) >= _wished(own, chosen)]
        free = [at for at in may if at not in given.values() and asked_for.get(horns[at].pk, pupil.key) == pupil.key]
        if free:
            given[place] = max(free, key=lambda at: (*_wished(own, horns[at]), worth.of(place, at)))
    return [horns[given[place]] if place in given else None for place in range(len(pupils))]


def _first_of_each(
    school: School, pupils: Sequence[PupilRow], taken: Collection[int], asked_for: Collection[int]
) -> QuerySet[Horn]:
    """Of the horns that may be lent now, so many of each sort as there are pupils, and all that somebody asked for. To
    the rules horns are alike of one build, wrap, stand and grade, and in rooms that none of these pupils plays in."""
    ready = Horn.objects.at(school).may_be_lent().exclude(pk__in=taken)
    near = Case(When(place__room__in={row.room for row in pupils}, then="place__room"), default=Value(""))
    order = ("number_stem", "number_tail", "pk")
    nth = Window(RowNumber(), partition_by=["build", "wrap", "stands_in", "grade", near], order_by=order)
    first = ready.exclude(pk__in=asked_for).order_by().annotate(nth=nth).filter(nth__lte=len(pupils))
    return ready.filter(Q(pk__in=first.values("pk")) | Q(pk__in=asked_for)).select_related("place").by_number()


def _wished(own: Sequence[Wish], horn: Horn) -> tuple[bool, bool]:
    """Whether this very horn is waited for, and whether it is as one that is."""
    met = [wish for wish in own if wish.is_met_by(horn)]
    return any(wish.horn_id for wish in met), bool(met)
