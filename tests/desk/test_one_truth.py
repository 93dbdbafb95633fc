"""One horn in every situation: the list, issuing, matching, a batch, the horn's page, Today, the picture and the report
say the same of each."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.matching.queries.candidates import gather
from fleet.register.actions.disposing import decide, propose
from fleet.register.actions.restringing import restring
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn
from fleet.register.queries.horns_now import owings
from fleet.reports.queries.figures import figures
from tests import make
from tests.pages import folded, on_paper

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db, pytest.mark.usefixtures("day_as_read")]
NOW = timezone.now()
TODAY = timezone.localdate(NOW)
# What may be lent now, and where a horn is that is not in its place; all others are kept back and in their places.
READY = {"in-place", "small-fault", "mended"}
WHERE = {
    Horn.Where.OUT: {"out", "overdue", "recalled", "leaver"},
    Horn.Where.REPAIR: {"brought"},
    Horn.Where.WORKSHOP: {"bench"},
    Horn.Where.AWAY: {"away", "away-late", "lent-away"},
    Horn.Where.NOT_FOUND: {"lost", "not-found"},
    Horn.Where.WITHDRAWN: {"withdrawn", "sold"},
}
# Kept back, and yet nobody of the school has anything to do about it today.
NOTHING_TO_DO = {"out", "lent-away", "promised", "withdrawn", "sold"}


def ago(days):
    return TODAY - timedelta(days=days)


class EverySituation:
    def __init__(self):
        self.school = make.school(check_days=3650)
        self.head, self.other = (make.staff(Role.HEAD, self.school) for _ in range(2))
        self.technician = make.staff(Role.TECHNICIAN, self.school)
        self.horns: dict[str, Horn] = {}
        for name in ("in-place", "small-fault", "grade-3", "mended", "mended-unchecked", "unidentified", "restrung"):
            self.sound(name, grade=2 if name == "small-fault" else 1)
        Horn.objects.filter(pk=self.horns["unidentified"].pk).update(build="", stands_in="")
        Horn.objects.filter(pk=self.horns["restrung"].pk).update(build="double-full")
        horn = Horn.objects.get(pk=self.horns["restrung"].pk)
        restring(horn=horn, stands_in="Bb", reason="New class", by=self.head, at=NOW)
        self.horns["unchecked"] = make.horn(self.school, number="S-unchecked")
        self.at_work()
        self.lent()
        self.gone()
        # The clock of the database's defaults goes on past midnight.
        Horn.objects.filter(school=self.school).update(created=NOW)

    def sound(self, name, grade=1):
        horn = self.horns[name] = make.horn(self.school, number=f"S-{name}")
        make.check(horn, self.head, at=NOW - timedelta(days=9), grade=grade)
        return horn

    def at_work(self):
        make.job(self.horns["grade-3"], self.head, at=NOW - timedelta(days=2))
        make.check(self.horns["grade-3"], self.head, grade=3, at=NOW - timedelta(days=1))
        for name in ("mended", "mended-unchecked"):
            make.check(self.horns[name], self.head, grade=3, at=NOW - timedelta(days=5))
            make.job(self.horns[name], self.head, state="done", at=NOW - timedelta(days=4))
        make.check(self.horns["mended"], self.head, grade=1, at=NOW - timedelta(days=3))
        make.job(self.sound("bench"), self.head, state="bench")
        for name, back in (("away", TODAY), ("away-late", ago(1))):
            job = {"state": "away", "repairer": "Bell and Sons", "sent_on": ago(9), "expected_on": back}
            make.job(self.sound(name), self.head, **job)

    def loan(self, name, **fields):
        pupil = make.pupil(self.school, make.guardian(self.school), group="5b")
        said = {"issued_on": ago(30), "due_on": TODAY + timedelta(days=90), **fields}
        seen = self.sound(name).checks.get()
        return make.loan(self.horns[name], pupil, self.head, check_at_issue=seen, **said)

    def lent(self):
        self.loan("out")
        self.loan("overdue", due_on=ago(1))
        make.recalled(self.loan("recalled", due_on=TODAY), self.head)
        leaver = self.loan("leaver").pupil
        leaver.left_on = TODAY
        leaver.save()
        for name, job in (
            ("brought", {"state": "bench"}),
            ("lent-away", {"state": "away", "repairer": "Bell and Sons"}),
        ):
            self.loan(name)
            make.job(self.horns[name], self.head, **job)
        self.loan("uncleaned", returned_on=TODAY)
        self.loan(
            "lost",
            returned_on=TODAY,
            mouthpiece_cleaned_on=TODAY,
            mouthpiece_cleaned_by=self.head,
            lost_words="On a bus",
        )
        waits = make.pupil(self.school, make.guardian(self.school), group="5b")
        horn = self.sound("promised")
        make.signature(horn, waits, self.head, due_on=TODAY + timedelta(days=90), asked_at=NOW)

    def gone(self):
        for name, kind in (("lost", "not-found"), ("not-found", "not-found"), ("withdrawn", "withdrawn")):
            horn = self.horns.get(name) or self.sound(name)
            change_standing(horn=horn, kind=kind, reason="So it is", by=self.head, at=NOW)
        given_up = propose(
            horn=self.sound("sold"), method="sold", on=TODAY, reason="Two of a kind", by=self.head, at=NOW
        )
        decide(disposal=given_up, approved=True, by=self.other, at=NOW)

    def names(self, horns):
        by_number = {horn.number: name for name, horn in self.horns.items()}
        return {by_number.get(getattr(one, "number", one), "of another school") for one in horns}


@pytest.fixture(scope="module")
def two_schools(built_once):
    return built_once(lambda: [EverySituation(), EverySituation()])


@pytest.fixture
def world(two_schools, db):
    return two_schools()[1]


def listed(client, school, query):
    return client.get(f"/s/{school.slug}/horns/?{query}").context["page"].rows


def by_the_list(world, client):
    return listed(client, world.school, "ready=yes")


def by_issuing(world, client):
    return client.get(f"/s/{world.school.slug}/loans/issue/").context["horns"]


def by_matching(world, client):
    return [row for row in gather(world.school, ["5b"]).horns if row.held_by is None]


def by_a_batch(world, client):
    pupils = [make.pupil(world.school, make.guardian(world.school)) for _ in world.horns]
    pairs = [f"{pupil.pk}.{horn.pk}" for pupil, horn in zip(pupils, world.horns.values(), strict=True)]
    entries = client.get(f"/s/{world.school.slug}/loans/batch/", {"pair": pairs}).context["batch"].entries
    assert len(entries) == len(pairs)
    return [entry.horn for entry in entries if not entry.stop]


def by_the_horns_page(world, client):
    at = f"/s/{world.school.slug}/horns/"
    return [horn for horn in world.horns.values() if "It is ready to be lent." in folded(client.get(f"{at}{horn.pk}/"))]


def by_its_row(world, client):
    return [horn for horn in Horn.objects.at(world.school) if not horn.kept_back]


READERS = [by_the_list, by_issuing, by_matching, by_a_batch, by_the_horns_page, by_its_row]


@pytest.mark.parametrize("reader", READERS)
def test_the_same_horns_may_be_lent_wherever_it_is_asked(as_, world, reader):
    assert world.names(reader(world, as_(world.head))) == READY


def test_the_list_finds_just_the_horns_that_only_minutes_keep_back(as_, world):
    found = world.names(listed(as_(world.head), world.school, "ready=minutes"))

    assert found == world.names(horn for horn in Horn.objects.at(world.school) if horn.kept_back_for_minutes)
    assert {"unidentified", "unchecked", "mended-unchecked", "restrung"} <= found
    assert not found & (READY | {"grade-3"} | set().union(*WHERE.values()))


def test_today_shows_whatever_keeps_a_horn_back_that_somebody_can_see_to(as_, world):
    titles = {owing.title for owing in owings().values()}
    # Not care, which a horn that may be lent wants too.
    piles = [
        pile
        for person in (world.head, world.technician)
        for pile in as_(person).get(f"/s/{world.school.slug}/").context["piles"]
        if pile.title in titles
    ]
    said = " ".join(task.what for pile in piles for task in pile.tasks) + " "
    shown = {name for name, horn in world.horns.items() if f"{horn.number}:" in said or f"{horn.number}," in said}

    assert set(world.horns) - READY - NOTHING_TO_DO <= shown
    assert not shown & READY


@pytest.mark.parametrize("where", Horn.Where)
def test_the_list_and_the_picture_find_the_same_number_of_horns_at_each_whereabouts(as_, world, where):
    elsewhere = set().union(*WHERE.values())
    expected = WHERE.get(where, set(world.horns) - elsewhere)

    assert world.names(listed(as_(world.head), world.school, f"where={where.value}")) == expected
    kinds = figures(world.school, TODAY).by_kind
    counted = {
        Horn.Where.IN_PLACE: sum(kind.cupboard for kind in kinds),
        Horn.Where.OUT: sum(kind.out for kind in kinds),
        Horn.Where.NOT_FOUND: sum(kind.not_found for kind in kinds),
    }
    assert counted.get(where, len(expected)) == len(expected)
    assert sum(kind.repair for kind in kinds) == sum(len(WHERE[one]) for one in Horn.IN_REPAIR)
    assert {name for name, horn in world.horns.items() if _again(horn).whereabouts.code == where} == expected


def _again(horn):
    return Horn.objects.get(pk=horn.pk)


def test_the_picture_and_the_yearly_report_count_what_the_list_counts(as_, world):
    client, told = as_(world.head), figures(world.school, TODAY)
    kept = len(world.horns) - len(WHERE[Horn.Where.WITHDRAWN])
    page = client.get(f"/s/{world.school.slug}/horns/").context

    assert (page["page"].total, page["withdrawn"]) == (kept, "2")
    assert (told.horns, told.out, told.ready) == (kept, len(WHERE[Horn.Where.OUT]), len(READY))
    graded = [client.get(f"/s/{world.school.slug}/horns/?grade={one}").context["page"].total for one in "1234"]
    never = client.get(f"/s/{world.school.slug}/horns/?grade=none").context["page"].total
    assert (list(told.condition[-1].grades), told.condition[-1].unchecked) == (graded, never)
    # A loan goes on while its horn is mended.
    assert told.months[-1].out == told.out + len({"brought", "lent-away"})
    report = client.get(f"/s/{world.school.slug}/prints/yearly-report.pdf").content
    said = " ".join(on_paper(report))
    assert f"{kept} horns are kept, {told.out} of them out on loan" in said
