"""A random history as a state machine: every act is a rule, every history ends in what must hold."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from django.db import transaction
from django.test import override_settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from fleet.exchange.actions.school_in import import_school
from fleet.exchange.models import Closing, Import
from fleet.exchange.queries.school_out import export_school
from tests.exchange.whole import emptied, rows_of
from tests.histories import acts_counting, acts_lending, acts_people, acts_register, acts_workshop
from tests.histories.holding import faults_of, faults_of_the_record, faults_read_plainly, no_fault, snapshot
from tests.histories.states import STATES
from tests.histories.telling import told_otherwise
from tests.histories.world import ACTS, WHICH, World, do

MODULES = (acts_register, acts_workshop, acts_lending, acts_people, acts_counting)
assert all(MODULES), "their acts are known by being read"
Said = Mapping[str, Any]
ANY_ACT = st.sampled_from([name for name in sorted(ACTS) for _ in range(ACTS[name].often)]).flatmap(
    lambda name: st.tuples(st.just(name), st.fixed_dictionaries(ACTS[name].draws))
)
# Most of what can happen to a horn happens while it is lent.
A_STATE = st.tuples(st.sampled_from(["lent", "lent", "lent", *sorted(STATES)]), st.fixed_dictionaries({"horn": WHICH}))
DAYS_THAT_PASS = st.tuples(st.just("days"), st.fixed_dictionaries({"days": st.sampled_from([1, 7, 40, 300])}))
# One draw and not a rule each: which of many rules may be used at all is drawn anew for every history, and then
# those that build on each other seldom come together. Single acts come first, since hypothesis begins with a history
# of nothing but what comes first.
WHAT_NEXT = st.integers(0, 11).flatmap(lambda n: {9: DAYS_THAT_PASS, 10: A_STATE, 11: A_STATE}.get(n, ANY_ACT))
# What is dearer than a history itself is asked at the end of some.
ASKED_AT_ITS_END = st.integers(0, 15).map(lambda n: {13: "every page", 14: "every page", 15: "out and in"}.get(n, ""))


class Histories(RuleBasedStateMachine):
    """One history in one transaction that is taken back at its end. A subclass names its world and a folder."""

    world: World
    before: dict[str, Any]
    folder: Path
    # The world whose history is lived now: its time is the pages' time.
    now: World

    def __init__(self) -> None:
        super().__init__()
        self.world = type(self).now = type(self).world.again()
        self.taken_back = transaction.atomic()
        self.taken_back.__enter__()
        self.asked_at_its_end = ""
        self.holds = False

    @initialize(asked_at_its_end=ASKED_AT_ITS_END)
    def begin(self, asked_at_its_end: str) -> None:
        self.asked_at_its_end = asked_at_its_end

    @rule(what=WHAT_NEXT)
    def then(self, what: tuple[str, Said]) -> None:
        self.holds = False
        name, said = what
        if name == "days":
            self.world.tick(**said)
        elif name in STATES:
            STATES[name](self.world, said["horn"])
        else:
            do(self.world, name, **said)

    @invariant()
    def the_horns_agree_with_their_rows(self) -> None:
        no_fault(faults_of(self.world.school))
        self.holds = True

    def teardown(self) -> None:
        try:
            # After a fault nothing more is asked, else a second one would stand in the place of the first.
            if self.holds:
                self.end()
        finally:
            transaction.set_rollback(True)
            self.taken_back.__exit__(None, None, None)

    def end(self) -> None:
        school = self.world.school
        no_fault(faults_read_plainly(school) + faults_of_the_record(school))
        assert snapshot(self.world.other) == self.before, "the other school noticed"
        if self.asked_at_its_end == "every page":
            no_fault(told_otherwise(self.world))
        if self.asked_at_its_end == "out and in":
            out_and_in(self.world, self.folder)


def out_and_in(world: World, folder: Path) -> None:
    """The whole school taken out and brought into an empty site: every row is as it was."""
    lived = rows_of(world.school)
    file = folder / "school.zip"
    export_school(school=world.school, to=file, at=world.at)
    Import.objects.all().delete()
    Closing.objects.all().delete()
    emptied()
    # Its files lie where none are: one whose name is taken would come back under another.
    with override_settings(MEDIA_ROOT=mkdtemp(dir=folder)):
        again = import_school(file=file, at=world.at)
    returned = rows_of(again)
    no_fault([f"{table} came back otherwise" for table, rows in lived.items() if returned[table] != rows])
    no_fault(faults_of(again) + faults_of_the_record(again))


def machine(world: World, folder: Path) -> type[Histories]:
    """The state machine of histories that all begin in this world; `folder` is for a file or two."""
    return type(
        "History", (Histories,), {"world": world, "now": world, "before": snapshot(world.other), "folder": folder}
    )
