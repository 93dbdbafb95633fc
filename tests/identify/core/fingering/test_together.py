from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.teaching import Teaching
from identify.core.fingering.together import Member, changes, in_groups, pattern_in_words
from identify.core.fingering.words import build_named, chosen_notes, label, stand_named
from identify.core.horns.builds import Build, Stand
from identify.core.horns.catalogue import catalogue
from identify.core.horns.pitch import name_of

every_horn = [Member((f.code, f.form, s.name), f, s) for f in catalogue().every_form() for s in f.stands]


def member(code: str, stand: str = "") -> Member:
    build = build_named(code)
    return Member(f"{code} {stand}".strip(), build, stand_named(build, stand))


def at_rest(of: Chart) -> Chart:
    return chart(of.build, of.stand, Teaching(thumb=False))


def names(members: list[Member]) -> list[object]:
    return [one.name for one in members]


def test_a_double_standing_in_f_plays_with_f_horns_and_one_in_b_flat_with_b_flat_horns() -> None:
    found = in_groups(
        [member("single-bb"), member("double-full", "F"), member("single-f"), member("double-full", "Bb")]
    )
    assert [names(one) for one in found] == [["single-bb", "double-full Bb"], ["double-full F", "single-f"]]


@given(st.lists(st.sampled_from(every_horn), min_size=2, unique_by=lambda one: one.name))
def test_horns_in_one_list_have_charts_that_agree(members: list[Member]) -> None:
    for together in in_groups(members):
        first, *others = (chart(one.build, one.stand) for one in together)
        for other in others:
            assert first.part == other.part
            five, theirs = ([label(of, n.ways[0]) for n in chosen_notes(of, "five")] for of in (first, other))
            assert five == theirs
            for written in range(60, 80):  # C4 to G5
                name = name_of(written).name
                ours, way = at_rest(first).at(name).usual, at_rest(other).at(name).usual
                assert (ours and (ours.fingering, ours.hand)) == (way and (way.fingering, way.hand))


def test_parts_in_other_keys_never_share_a_chart() -> None:
    assert len(in_groups([member("alto-horn-eb"), member("mellophone-f"), member("flugelhorn-bb")])) == 3
    assert len(in_groups([member("mellophone-f"), member("marching-mellophone-f")])) == 1


def test_restringing_the_odd_double_brings_it_in_line() -> None:
    found = changes([member("single-f"), member("double-full", "F"), member("double-full", "Bb"), member("single-bb")])
    assert [(change.member.name, change.to.name) for change in found] == [("double-full Bb", "F")]


def test_nothing_is_proposed_where_all_agree_or_nothing_can_be_restrung() -> None:
    assert changes([member("single-f"), member("double-full", "F")]) == []
    assert changes([member("single-f"), member("compact-f"), member("single-bb")]) == []
    assert changes([]) == []


def test_a_crook_is_no_stand_change() -> None:
    assert changes([member("single-f"), member("single-f"), member("natural-horn", "D")]) == []


def test_patterns_are_told_in_a_player_s_words() -> None:
    assert pattern_in_words(*_pair("double-full", "F")) == "fingered like the F horn, parts in F"
    assert pattern_in_words(*_pair("single-bb")) == "fingered like the B♭ horn, parts in F"
    assert pattern_in_words(*_pair("alto-horn-eb")) == "fingered like a trumpet, parts in E♭"
    assert pattern_in_words(*_pair("natural-horn", "D")) == "without valves, D crook"


def _pair(code: str, stand: str = "") -> tuple[Build, Stand]:
    one = member(code, stand)
    return one.build, one.stand
