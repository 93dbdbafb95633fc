"""Two people who do something at the same moment, in two real threads with a connection each."""

from __future__ import annotations

import traceback
from typing import Any, NamedTuple

from django.db import transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from fleet.ground.refusal import Refused
from tests.at_once import all_at_once
from tests.histories.holding import faults_of, faults_of_the_record, faults_read_plainly, no_fault, snapshot
from tests.histories.machine import ANY_ACT, Said
from tests.histories.states import STATES
from tests.histories.world import ACTS, WHICH, build_world, do


class Pair(NamedTuple):
    """What two do with a horn that is in a state of `STATES`; what is not said is drawn."""

    state: str
    one: str
    other: str
    one_said: Said = {}
    other_said: Said = {}


PAIRS = [
    Pair("lent", "take_back", "rename_who_has_it"),
    Pair("lent", "take_back", "take_back"),
    Pair("lent", "take_back", "swap"),
    Pair("lent", "take_back", "renew"),
    Pair("lent", "take_back_in_a_row", "lose"),
    Pair("lent", "swap", "swap"),
    Pair("lent", "lose", "take_back"),
    Pair("lent", "lose", "lose"),
    Pair("lent", "swap", "lose"),
    Pair("lent", "recall", "renew"),
    Pair("lent", "check", "take_back"),
    Pair("lent", "rename_who_has_it", "rename_who_has_it"),
    Pair("lent", "report_a_fault", "take_back"),
    Pair("cleared", "lend", "lend"),
    Pair("cleared", "lend", "rename"),
    Pair("cleared", "lend", "renumber_and_move"),
    Pair("cleared", "lend", "leave_the_school", {"pupil": 0}, {"pupil": 0, "gone": True}),
    Pair("cleared", "lend", "say_where_it_is", {}, {"kind": "withdrawn"}),
    Pair("cleared", "lend", "check"),
    Pair("cleared", "lend", "restring"),
    Pair("cleared", "lend", "put_before"),
    Pair("cleared", "put_before", "put_before", {"pupil": 0}, {"pupil": 1}),
    Pair("cleared", "put_before", "say_where_it_is", {"pupil": 0}, {"kind": "withdrawn"}),
    Pair("cleared", "put_before", "say_where_it_is", {"pupil": 0}, {"kind": "not-found"}),
    Pair("cleared", "put_before", "rename"),
    Pair("cleared", "open_a_job", "check"),
    Pair("cleared", "restring", "identify"),
    Pair("cleared", "propose_to_give_up", "propose_to_give_up"),
    Pair("cleared", "renumber_and_move", "register"),
    Pair("asked", "sign", "take_it_back_from_their_page"),
    Pair("asked", "sign", "check"),
    Pair("asked", "sign", "lend"),
    Pair("asked", "sign", "say_where_it_is", {}, {"kind": "withdrawn"}),
    Pair("asked", "rename", "take_it_back_from_their_page"),
    Pair("signed", "hand_out_what_is_signed", "take_it_back_from_their_page"),
    Pair("signed", "hand_out_what_is_signed", "lend"),
    Pair("signed", "hand_out_what_is_signed", "check"),
    Pair("signed", "hand_out_what_is_signed", "say_where_it_is", {}, {"kind": "withdrawn"}),
    Pair("signed", "hand_out_what_is_signed", "say_where_it_is", {}, {"kind": "not-found"}),
    Pair("signed", "hand_out_what_is_signed", "hand_out_what_is_signed"),
    Pair("on the bench", "check", "change_the_job"),
    Pair("on the bench", "change_the_job", "say_of_the_repairer"),
    Pair("on the bench", "change_the_job", "say_where_it_is"),
    Pair("proposed", "decide_to_give_up", "decide_to_give_up"),
    Pair("proposed", "decide_to_give_up", "lend"),
    Pair("proposed", "decide_to_give_up", "put_before", {"by": 0, "approved": True}),
    Pair("proposed", "decide_to_give_up", "print_a_sheet_to_sign", {"by": 0, "approved": True}),
    Pair("proposed", "decide_to_give_up", "say_where_it_is", {}, {"kind": "not-found"}),
    Pair("brought in", "undo_the_last_list", "renumber_and_move"),
    Pair("brought in", "undo_the_last_list", "say_the_kind"),
    Pair("brought in", "undo_the_last_list", "check"),
    Pair("brought in", "undo_the_last_list", "undo_the_last_list"),
    Pair("cleared", "bring_in_horns", "bring_in_horns"),
    Pair("cleared", "bring_in_pupils", "rename"),
]


# What a job comes to want just while the last of it goes is kept of its turn by night.
MOVE_THE_STOCK = {"a_part", "the_stock"}
MAY_MEET = ANY_ACT.filter(lambda act: act[0] not in MOVE_THE_STOCK)


class TwoAtOnce(RuleBasedStateMachine):
    """A history whose acts are kept for good and of which some fall together. Every history has schools of its own."""

    def __init__(self) -> None:
        super().__init__()
        with transaction.atomic():
            self.world = build_world()
        self.before = snapshot(self.world.other)
        self.holds = False

    @rule(act=ANY_ACT)
    def somebody(self, act: tuple[str, Said]) -> None:
        self.holds = False
        do(self.world, act[0], **act[1])

    @rule(pair=st.sampled_from(PAIRS), horn=WHICH, data=st.data())
    def two_who_meet(self, pair: Pair, horn: int, data: Any) -> None:
        self.holds = False
        acts = [(pair.one, pair.one_said), (pair.other, pair.other_said)]
        drawn = [(name, data.draw(st.fixed_dictionaries(ACTS[name].draws)) | dict(said)) for name, said in acts]
        with transaction.atomic():
            STATES[pair.state](self.world, horn)
        self.at_once(horn, *drawn)

    @rule(one=MAY_MEET, other=MAY_MEET, horn=WHICH)
    def two_whoever(self, one: tuple[str, Said], other: tuple[str, Said], horn: int) -> None:
        self.holds = False
        self.at_once(horn, one, other)

    def at_once(self, horn: int, *acts: tuple[str, Said]) -> None:
        """Both acts about the same horn, as far as they are about one."""
        deeds = []
        for name, said in acts:
            about = {"horn": horn} if "horn" in said and isinstance(said["horn"], int) else {}
            deeds.append(ACTS[name].prepare(self.world, **{**said, **about}) or _nothing)
        outcomes = all_at_once(deeds)
        for (name, _), outcome in zip(acts, outcomes, strict=True):
            if isinstance(outcome, Exception) and not isinstance(outcome, Refused):
                told = "".join(traceback.format_exception(outcome))
                raise AssertionError(f"{name} beside {[other for other, _ in acts]}: {told}") from outcome

    @invariant()
    def the_horns_agree_with_their_rows(self) -> None:
        no_fault(faults_of(self.world.school))
        self.holds = True

    def teardown(self) -> None:
        # After a fault nothing more is asked, else a second one would stand in the place of the first.
        if not self.holds:
            return
        no_fault(faults_read_plainly(self.world.school) + faults_of_the_record(self.world.school))
        assert snapshot(self.world.other) == self.before, "the other school noticed"


def _nothing() -> None:
    """What somebody does whose page offers nothing."""
