"""Whether every place of the site tells the same story about the horns of a small school."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from django.http import QueryDict
from django.test import Client
from django.urls import reverse

from fleet.desk.queries.horns import page_of
from fleet.desk.queries.next_step import next_step
from fleet.lending.models import Loan
from fleet.lending.queries.swapping import instead_of
from fleet.matching.queries.candidates import gather
from fleet.people.models import Pupil
from fleet.people.queries.seats import Seat, seat_of
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of
from fleet.register.queries.filters import HornFilters
from fleet.register.queries.horns_now import horns_now, owing_something, owings
from fleet.reports.queries.figures import figures
from fleet.signing.forms.batches import batch_from
from tests.histories.world import World, guardian_of


def told_otherwise(world: World) -> list[str]:
    """Each place that says of some horn what another place does not say. The clock of the pages is the world's."""
    return [
        sentence
        for place in (_issue_page, _batch, _matching, _swap, _horn_page, _owed, _minutes, _picture)
        for sentence in place(world)
    ]


def _free(world: World) -> set[str]:
    """Numbers of the horns that nothing keeps back, each by its own row."""
    return {horn.number for horn in Horn.objects.at(world.school) if not horn.kept_back}


def _seat(world: World) -> Seat:
    seat = seat_of(world.heads[0], world.school.slug)
    assert seat is not None, "a head has a seat at the school"
    return seat


def _differ(place: str, said: set[str], free: set[str]) -> Iterator[str]:
    if said != free:
        yield f"{place} offers {sorted(said)}; by their rows {sorted(free)} may be lent"


def _issue_page(world: World) -> Iterator[str]:
    browser = Client()
    browser.force_login(world.teacher)
    shown = browser.get(reverse("loans:issue", args=(world.school.slug,))).context["horns"]
    yield from _differ("The issue page", {horn.number for horn in shown}, _free(world))


def _batch(world: World) -> Iterator[str]:
    """Each horn in a batch of its own with a pupil who could have it: nothing stops it but what its row says."""
    pupil = next((one for one in Pupil.objects.at(world.school).filter(left_on=None) if guardian_of(one)), None)
    if pupil is None:
        return
    said = set()
    for horn in Horn.objects.at(world.school):
        asked = QueryDict(f"pair={pupil.pk}.{horn.pk}")
        batch = batch_from(asked, world.school, world.today, _seat(world), address="/")
        promised_to_them = [one.code for one in horn.kept_back] == ["promised"] and horn.promised_to == pupil.name
        if not batch.entries[0].stop and not promised_to_them:
            said.add(horn.number)
    yield from _differ("A batch", said, _free(world))


def _matching(world: World) -> Iterator[str]:
    pool = gather(world.school, ["5b", "6a"])
    free = {
        horn.number
        for horn in Horn.objects.at(world.school)
        if not horn.kept_back and (build := build_of(horn.build)) and build.is_french_horn and not build.crooked
    }
    yield from _differ("Matching", {row.number for row in pool.horns if row.held_by is None}, free)


def _swap(world: World) -> Iterator[str]:
    loan = Loan.objects.at(world.school).open().select_related("horn__school").first()
    if loan is not None:
        yield from _differ("A swap", {horn.number for horn in instead_of(loan)}, _free(world))


def _horn_page(world: World) -> Iterator[str]:
    """The next step of a horn is to issue it only when it may be lent, and only when nothing else is to be done."""
    seat = _seat(world)
    for horn in Horn.objects.at(world.school).select_related("place", "school"):
        shown = page_of(horn, world.today)
        step = next_step(shown.now, seat)
        wanted = not horn.kept_back and not shown.now.owed
        if (step.label == "Issue it") != wanted:
            owed, back = [one.code for one in shown.now.owed], [one.code for one in horn.kept_back]
            yield f"{horn}: its page says “{step.why} {step.label}”, it is kept back by {back} and owes {owed}"


def _owed(world: World) -> Iterator[str]:
    """What is owed about each horn, and the horns about which a thing is owed, are one list read two ways."""
    horns, today = Horn.objects.at(world.school), world.today
    told = horns_now(horns, school=world.school, today=today)
    for code in owings():
        listed = set(owing_something(horns, school=world.school, today=today, code=code).values_list("pk", flat=True))
        said = {key for key, now in told.items() if code in {one.code for one in now.owed}}
        if listed != said:
            yield f"{code}: the list has {sorted(listed)}, the horns themselves say {sorted(said)}"


def _minutes(world: World) -> Iterator[str]:
    """The list of horns that only minutes keep back is what the horns themselves say."""
    horns = Horn.objects.at(world.school)
    listed = set(horns.kept_back_for_minutes().values_list("pk", flat=True))
    said = {horn.pk for horn in horns if horn.kept_back_for_minutes}
    if listed != said:
        yield f"kept back for minutes: the list has {sorted(listed)}, the horns themselves say {sorted(said)}"


def _picture(world: World) -> Iterator[str]:
    """The whole picture's figures are the counts of the list under the same filters."""
    told = figures(world.school, world.today, buying=False)
    for where in ("cupboard", "out", "workshop", "not-found"):
        in_picture = sum(getattr(kind, where.replace("-", "_")) for kind in told.by_kind)
        if in_picture != (in_list := _listed(world, where=where)):
            yield f"{where}: the picture has {in_picture}, the list {in_list}"
    graded = Counter(Horn.objects.at(world.school).kept().values_list("grade", flat=True))
    if told.condition[-1].grades != (now := tuple(graded[grade] for grade in (1, 2, 3, 4))):
        yield f"grades 1 to 4: the picture has {told.condition[-1].grades}, the horns kept {now}"


def _listed(world: World, **asked: str) -> int:
    return HornFilters(asked, queryset=Horn.objects.at(world.school)).qs.count()
