from __future__ import annotations

import json
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.remarks import remarks
from identify.core.fingering.teaching import Teaching
from identify.core.fingering.words import (
    PARTS,
    NotInCatalogue,
    build_named,
    chosen_notes,
    label,
    legend,
    lever_letters,
    stand_named,
    title,
)
from identify.core.horns.catalogue import catalogue


def chart_of(code: str, stand: str = "", form: str = "", **taught: Any) -> Chart:
    build = build_named(code, form)
    return chart(build, stand_named(build, stand), Teaching(**taught))


def printed(*args: str, **options: Any) -> str:
    out = StringIO()
    call_command("chart", *args, stdout=out, **options)
    return out.getvalue()


@pytest.mark.parametrize("spelling", ["Bb", "B♭", "bb", " b♭ ", "B-flat"])
def test_a_stand_may_be_spelt_as_people_do(spelling: str) -> None:
    assert stand_named(build_named("double-full"), spelling).name == "Bb"


@pytest.mark.parametrize("spelling", ["high F", "high-f", "HIGH_F"])
def test_high_f_may_be_spelt_with_a_dash(spelling: str) -> None:
    assert stand_named(build_named("single-high-f"), spelling).tube == "F6"


def test_a_stand_may_be_left_out_where_there_is_one() -> None:
    assert stand_named(build_named("single-bb")).name == "Bb"
    with pytest.raises(NotInCatalogue, match="it can be: F, Bb"):
        stand_named(build_named("double-full"))


def test_the_command_lists_the_chart_rising_with_the_promised_keys() -> None:
    rows = json.loads(printed("double-full", "--stands-in", "F", "--json"))
    keys = {"written", "sounding", "fingering", "thumb", "partial", "cents", "alternatives", "sounds"}
    assert [row["written"] for row in rows[:3]] == ["F#2", "G2", "Ab2"]
    assert all(keys <= set(row) for row in rows)
    assert all(keys <= set(other) for row in rows for other in row["alternatives"])
    test_note = next(row for row in rows if row["written"] == "F4")
    assert (test_note["sounding"], test_note["fingering"], test_note["thumb"]) == ("Bb3", "1", [])
    assert (test_note["alternatives"][0]["fingering"], test_note["alternatives"][0]["thumb"]) == ("0", ["change"])


def test_a_note_the_horn_cannot_sound_says_so_and_has_no_fingering() -> None:
    first = json.loads(printed("single-bb", "--json"))[0]
    assert (first["written"], first["sounds"], first["fingering"], first["partial"]) == ("F#2", False, "", None)


def test_the_table_is_for_reading() -> None:
    said = printed("single-bb-f-extension")
    assert "A♭2      D♭2     T123" in said
    assert "not on this horn" in said
    assert "play sharp (2 by 25, 1 by 48, 12 by 79, 23 by 104 cents)" in said


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("doubel-full",), "Did you mean double-full?"),
        (("nothing",), "Known are: single-f,"),
        (("double-full",), "it can be: F, Bb"),
        (("double-full", "--stands-in", "G"), "it can be: F, Bb"),
        (("wagner-double", "--stands-in", "F", "--form", "x"), "'fourth valve'"),
    ],
)
def test_bad_values_are_answered_with_the_allowed_ones_and_code_2(args: tuple[str, ...], said: str) -> None:
    with pytest.raises(CommandError, match=said) as refused:
        printed(*args)
    assert refused.value.returncode == 2


def test_thumb_is_t_as_in_the_trade_and_the_high_side_of_a_triple_h() -> None:
    assert lever_letters(chart_of("double-full", "F")) == {"change": "T"}
    assert lever_letters(chart_of("descant-bb-high-f")) == {"high F": "T"}
    triple = chart_of("triple-full", "Bb")
    assert [label(triple, triple.at(name).ways[0]) for name in ("C4", "C3", "C6")] == ["0", "T0", "H0"]


def test_a_star_marks_what_is_far_off_and_the_legend_explains_it() -> None:
    single = chart_of("single-f")
    assert label(single, single.at("F#2").ways[0]) == "123*"
    assert [sign for sign, _ in legend(single)] == ["0", "( )", "*"]
    assert [sign for sign, _ in legend(single, "five")] == ["0"]


def test_the_legend_of_a_natural_horn_explains_every_sign_that_is_drawn() -> None:
    natural = chart_of("natural-horn", "F")
    assert [sign for sign, _ in legend(natural)] == ["o", "½", "+", "( )"]
    assert [sign for sign, _ in legend(natural, "five")] == ["o"]
    assert [sign for sign, _ in legend(chart_of("hunting-horn-d"))] == ["o"]


def test_beginners_get_five_notes_or_an_octave() -> None:
    double = chart_of("double-full", "Bb")
    assert [n.written.name for n in chosen_notes(double, "five")] == ["C4", "D4", "E4", "F4", "G4"]
    assert [n.written.name for n in chosen_notes(double, "octave")][-1] == "C5"
    natural = chart_of("natural-horn", "F")
    assert all(not n.ways[0].hand for n in chosen_notes(natural, "five"))


def test_the_parts_of_a_chart_are_all_its_notes_each_in_one() -> None:
    for build in catalogue().values():
        for stand in build.stands:
            of = chart(build, stand, Teaching(layers=frozenset({"pedals"})))
            parts = [note for part in PARTS for note in chosen_notes(of, part)]
            assert parts == list(chosen_notes(of, "all"))


def test_a_part_of_a_chart_ends_below_the_c_that_the_next_begins_with() -> None:
    double = chart_of("double-full", "F")
    ends = [[notes[0].written.name, notes[-1].written.name] for notes in (chosen_notes(double, one) for one in PARTS)]
    assert ends == [["F#2", "B2"], ["C3", "B3"], ["C4", "B4"], ["C5", "C6"]]


def test_every_chart_has_a_title_and_says_how_its_part_sounds() -> None:
    for form in catalogue().every_form():
        for stand in form.stands:
            of = chart(form, stand)
            assert title(of)[0].isupper()
            assert remarks(of)[0].startswith("Written part in")
            assert "None" not in " ".join((title(of), *remarks(of)))


def test_a_chart_without_the_thumb_says_so_where_that_changes_it() -> None:
    never = chart_of("double-full", "Bb", thumb=False)
    assert title(never).endswith("standing in B♭, thumb never pressed")
    assert "The thumb is never pressed: all of it is played on the 9-foot B♭ tube." in remarks(never)
    assert any("Without the thumb it cannot sound below written B2" in said for said in remarks(never))
    assert title(chart_of("single-bb-stopping", thumb=False)) == title(chart_of("single-bb-stopping"))
    assert "T0" not in printed("double-full", "--stands-in", "F", "--thumb", "never")


def test_the_place_where_a_descant_crosses_is_told_with_its_reason() -> None:
    for high_from in ("C5", "E5"):
        said = " ".join(remarks(chart_of("descant-bb-high-f", high_from=high_from)))
        assert f"High side from written {high_from} up; players cross between C5 and E5." in said
        assert "the notes of the B♭ side lie a tone apart" in said


def test_remarks_follow_from_the_description() -> None:
    for code in ("single-f", "single-f-eb"):
        assert "Stopped notes: finger a semitone lower." in remarks(chart_of(code))
    assert "Stopped notes: finger a semitone lower on the F side." in remarks(chart_of("double-full", "F"))
    assert not any("three quarter tones" in said for said in remarks(chart_of("single-high-f")))
    assert any("three quarter tones high on the B♭ side" in said for said in remarks(chart_of("descant-bb-high-f")))
    for code in ("double-full", "triple-compensating", "wagner-double"):
        assert any("written A♭4 (G♯4) up" in said for said in remarks(chart_of(code, "F")))
        assert not any("written A♭4 (G♯4) up" in said for said in remarks(chart_of(code, "Bb")))
        assert any("At rest it is a B♭ horn and fingered as one" in said for said in remarks(chart_of(code, "Bb")))
    assert any("no stopping slide" in said for said in remarks(chart_of("single-bb")))
    for stand in ("F", "Bb"):
        said = " ".join(remarks(chart_of("double-full-stopping", stand)))
        assert "Stopped notes: finger a semitone lower on the F side." in said
        assert "Stopped on the 9-foot B♭ side: press the stopping lever" in said
    without = " ".join(remarks(chart_of("double-full-stopping", "F", thumb=False)))
    assert "Stopped notes: finger a semitone lower." in without
    assert "lever" not in without
    assert any("want the thumb" in said for said in remarks(chart_of("double-full", "Bb", thumb=False)))
    assert any("press the stopping lever" in said for said in remarks(chart_of("single-bb-stopping")))
    assert any("below written B2" in said for said in remarks(chart_of("single-bb")))
    assert not any("topped" in said for said in remarks(chart_of("mellophone-f")))


def test_of_what_the_first_notes_do_not_show_nothing_is_said() -> None:
    assert remarks(chart_of("double-full", "F"), kind="five") == (
        "Written part in F: it sounds a fifth lower than written.",
    )
    assert remarks(chart_of("double-full", "Bb"), kind="five")[1:] == ("At rest it is a B♭ horn and fingered as one.",)
    assert any("from written A♭4" in said for said in remarks(chart_of("double-full", "F"), kind="octave"))
    assert not any("topped" in said for said in remarks(chart_of("single-f"), kind="octave"))
    stopped = chart_of("single-f", layers=frozenset({"stopped"}))
    assert "Stopped notes: finger a semitone lower." in remarks(stopped, kind="five")
    assert not any("extension" in said for said in remarks(chart_of("single-bb-f-extension"), kind="octave"))


def test_a_chart_for_a_terminal_has_the_cents_of_valves_and_none_of_the_hand() -> None:
    def cents(way: str, *build: str, **stand: str) -> set[str]:
        """What stands in the column of cents where the usual way is this one."""
        rows = [line for line in printed(*build, **stand).splitlines() if line[17:24].strip() == way]
        return {row[34:39].strip() for row in rows}

    assert cents("1", "single-f") > {"+0"}
    assert cents("½", "natural-horn", stands_in="F") == {""}
    assert cents("o", "natural-horn", stands_in="F") > {"+0", "-14"}
