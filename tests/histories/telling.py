"""Whether every place of the site tells the same story about the horns of a small school."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from django.http import QueryDict
from django.test import Client
from django.urls import reverse

from fleet.desk.queries.next_step import steps
from fleet.desk.queries.piles import SHOWN, Day
from fleet.desk.queries.today import WAITS, piles
from fleet.lending.models import Loan
from fleet.lending.queries.swapping import instead_of
from fleet.matching.queries.candidates import gather
from fleet.people.models import Pupil, User
from fleet.people.queries.seats import Seat, seat_of
from fleet.register.models import Horn, HornQuerySet
from fleet.register.models.kinds import build_of
from fleet.register.queries.filters import HornFilters
from fleet.register.queries.horns_now import HornNow, horns_now, owing_something, owings
from fleet.reports.queries.figures import figures
from fleet.reports.queries.whole_picture import sections
from fleet.signing.forms.batches import batch_from
from tests.histories.world import World, guardian_of
from tests.reading import horn_now

Told = Mapping[int, HornNow]


def told_otherwise(world: World) -> list[str]:
    """Each place that says of some horn what the one reader does not say. The clock of the pages is the world's."""
    told = horns_now([horn.pk for horn in Horn.objects.at(world.school)], school=world.school, today=world.today)
    places = (_list, _issue_page, _batch, _matching, _swap, _horn_page, _owed, _minutes, _today, _figures)
    return [sentence for place in places for sentence in place(world, told)]


def _free(told: Told) -> set[str]:
    """Numbers of the horns that nothing keeps back."""
    return {now.horn.number for now in told.values() if now.may_be_lent}


def _seat(world: World, of: User | None = None) -> Seat:
    seat = seat_of(of or world.heads[0], world.school.slug)
    assert seat is not None, "who works at a school has a seat there"
    return seat


def _differ(place: str, said: set[str], free: set[str]) -> Iterator[str]:
    if said != free:
        yield f"{place} offers {sorted(said)}; by their rows {sorted(free)} may be lent"


def _list(world: World, told: Told) -> Iterator[str]:
    yield from _differ("The list", {horn.number for horn in _listed(world, ready="yes")}, _free(told))


def _issue_page(world: World, told: Told) -> Iterator[str]:
    browser = Client()
    browser.force_login(world.teacher)
    shown = browser.get(reverse("loans:issue", args=(world.school.slug,))).context["horns"]
    yield from _differ("The issue page", {horn.number for horn in shown}, _free(told))


def _batch(world: World, told: Told) -> Iterator[str]:
    """Each horn in a batch of its own with a pupil who could have it: nothing stops it but what its row says."""
    pupil = next((one for one in Pupil.objects.at(world.school).filter(left_on=None) if guardian_of(one)), None)
    if pupil is None:
        return
    said, seat = set(), _seat(world)
    for horn in (now.horn for now in told.values()):
        asked = QueryDict(f"pair={pupil.pk}.{horn.pk}")
        batch = batch_from(asked, world.school, world.today, seat, address="/")
        promised_to_them = [one.code for one in horn.kept_back] == ["promised"] and horn.promised_to == pupil.name
        if not batch.entries[0].stop and not promised_to_them:
            said.add(horn.number)
    yield from _differ("A batch", said, _free(told))


def _matching(world: World, told: Told) -> Iterator[str]:
    pool = gather(world.school, ["5b", "6a"])
    free = {
        now.horn.number
        for now in told.values()
        if now.may_be_lent and (build := build_of(now.horn.build)) and build.is_french_horn and not build.crooked
    }
    yield from _differ("Matching", {row.number for row in pool.horns if row.held_by is None}, free)


def _swap(world: World, told: Told) -> Iterator[str]:
    loan = Loan.objects.at(world.school).open().select_related("horn__school").first()
    if loan is not None:
        yield from _differ("A swap", {horn.number for horn in instead_of(loan, most=len(told))}, _free(told))


def _horn_page(world: World, told: Told) -> Iterator[str]:
    """The next step of a horn is to issue it only when it may be lent, and only when nothing else is to be done."""
    seat = _seat(world)
    for now in told.values():
        step = steps(now, seat)[0]
        owed, back = [one.code for one in now.owed], [one.code for one in now.kept_back]
        if (step.label == "Issue it") != (not back and not owed):
            yield f"{now.horn}: its page says “{step.why} {step.label}”, it is kept back by {back} and owes {owed}"
    first = next(iter(told.values()))
    if horn_now(first.horn, today=world.today) != first:
        yield f"{first.horn}: its page says otherwise than all horns together"


def _owed(world: World, told: Told) -> Iterator[str]:
    """What is owed about each horn, and the horns about which a thing is owed, are one list read two ways."""
    horns, today = Horn.objects.at(world.school), world.today
    for code in owings():
        listed = set(owing_something(horns, school=world.school, today=today, code=code).values_list("pk", flat=True))
        said = {key for key, now in told.items() if code in {one.code for one in now.owed}}
        if listed != said:
            yield f"{code}: the list has {sorted(listed)}, the horns themselves say {sorted(said)}"


def _minutes(world: World, told: Told) -> Iterator[str]:
    """The list of horns that only minutes keep back is what the horns themselves say."""
    listed = set(Horn.objects.at(world.school).kept_back_for_minutes().values_list("pk", flat=True))
    said = {key for key, now in told.items() if now.horn.kept_back_for_minutes}
    if listed != said:
        yield f"kept back for minutes: the list has {sorted(listed)}, the horns themselves say {sorted(said)}"


def _today(world: World, told: Told) -> Iterator[str]:
    """Each pile of things owed has all that is owed of its sort, as far as a pile shows it, and nothing else."""
    for person in (world.heads[0], world.technician):
        seat = _seat(world, person)
        shown = {pile.title: [task.what for task in pile.tasks] for pile in piles(Day(seat, world.at))}
        for code in (one for one in WAITS[seat.role] if isinstance(one, str)):
            pile = Counter(shown.get(owings()[code].title, []))
            owed = Counter(one.what for now in told.values() for one in now.owed if one.code == code)
            if pile - owed or pile.total() != min(owed.total(), SHOWN + 1):
                yield f"{code}: Today of the {seat.role} has {sorted(pile)}, the horns owe {sorted(owed)}"


def _figures(world: World, told: Told) -> Iterator[str]:
    """What the picture and the yearly report say of their day are the counts of the list under the same filters."""
    drawn = figures(world.school, world.today)
    printed = {section.key: section for section in sections(drawn)}
    kept, ready = _listed(world).count(), _listed(world, ready="yes").count()
    at = {where: _listed(world, where=where).count() for where in Horn.Where.values}
    in_repair = sum(at[where] for where in Horn.IN_REPAIR)
    standing = [at["cupboard"], at["out"], in_repair, at["not-found"]]
    # A loan goes on while its horn is mended.
    on_loan = Horn.objects.at(world.school).kept().exclude(holder_name="").count()
    grades = [_listed(world, grade=grade).count() for grade in ("1", "2", "3", "4", "none")]
    # A school that has no horn left has no table of them.
    all_kinds = printed["fleet"].rows[-1][2:] if kept else [0] * 5
    # Nor has one that never lent any a table of loans.
    out = printed["loans"].rows[-2][-1:] if printed["loans"].rows else [0]
    for what, in_report, in_list in (
        ("where", all_kinds, [kept, *standing]),
        ("ready", [drawn.ready, drawn.out], [ready, standing[1]]),
        ("condition", printed["condition"].rows[-1][1:], [*grades, kept]),
        ("out at the month's end", out, [on_loan]),
    ):
        if [*map(int, in_report)] != in_list:
            yield f"{what}: the picture and the yearly report have {in_report}, the list {in_list}"


def _listed(world: World, **asked: str) -> HornQuerySet:
    return HornFilters(asked, school=world.school).qs
