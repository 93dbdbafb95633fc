"""Published facts, each beside its source (`published_facts.toml`), against the catalogue and the charts.

A fact that agrees is checked; of one where the project keeps its own view the check holds what that view is, so that
whoever changes it has to change the file as well.
"""

from __future__ import annotations

import math
import tomllib
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fleet.people.models import School
from fleet.register.models.describing import suggested
from fleet.workshop.models.care import DO, Care
from fleet.workshop.models.faults import catalogue as faults
from fleet.workshop.queries.looking_after import care_of
from identify.core import DATA
from identify.core.drawing.layout import about_layout
from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.teaching import Teaching
from identify.core.fingering.words import build_named, label, stand_named
from identify.core.horns.air import TUBES, AirColumn, Valve, valve_fraction
from identify.core.horns.builds import Build
from identify.core.horns.catalogue import catalogue
from identify.core.horns.lengths import bell_of, length_of
from identify.core.horns.pitch import PART_KEYS

FACTS = {
    fact["id"]: fact
    for fact in tomllib.loads((Path(__file__).parent / "published_facts.toml").read_text(encoding="utf-8"))["fact"]
}
CHECKS: dict[str, Callable[[Any], bool]] = {}


def of(code: str, stand: str = "", form: str = "", **taught: Any) -> Chart:
    build = build_named(code, form)
    return chart(build, stand_named(build, stand), Teaching(**taught))


def said(found: Chart, note: str) -> list[str]:
    """The ways of a written note as they stand on the chart, the usual first; none outside it."""
    ways = {one.written.name: one.ways for one in found.notes}.get(note, ())
    return [label(found, way, marked=False) for way in ways]


def cents(found: Chart, note: str, fingering: str) -> float:
    return next(way.cents for way in found.at(note).ways if way.fingering == fingering)


def hand(found: Chart, note: str) -> str:
    return found.at(note).ways[0].hand


def b(code: str) -> Build:
    return catalogue()[code]


def form(code: str, name: str) -> Build:
    return build_named(code, name)


def care(code: str) -> str:
    told = care_of(b(code))
    return " ".join((*told.lines, told.school, told.first))


def stopping(code: str) -> float:
    return next(lever.semitones for lever in b(code).levers if lever.does == "stopping")


def interval(longer: float, shorter: float) -> float:
    return 1200 * math.log2(longer / shorter)


def inches(fact: Any, key: str) -> float:
    feet, more = fact["tube_ft_in"][key]
    return float(12 * feet + more)


def a_degree() -> float:
    """Cents that a horn rises from 20 to 21 degrees: the speed of sound goes with the root of the temperature."""
    return 600 * math.log2(294.15 / 293.15)


EVERY = tuple(catalogue().every_form())
F, BB = of("double-full", "F"), of("single-bb")
NATURAL = of("natural-horn", "F")
LOW = of("baritone-bb", form="compensating")
FOUR = of("baritone-bb", form="fourth valve")
THREE = tuple(Valve(name, semitones, valve_fraction(semitones)) for name, semitones in (("1", 2), ("2", 1), ("3", 3)))

# Fact to whether it holds here. The names are those of the file, where the source stands.
CHECKS |= {
    "fin-low-wakefield": lambda f: (
        all(fingers in said(F, note) for note, fingers in f["written_to_fingering"].items() if fingers[0] != "T")
        and "T3" in said(F, "D3")
        and said(F, "C#3")[0] == "T23"
        and said(F, "D3")[0] != "13"
    ),
    "fin-identical-zone": lambda f: (
        [n.written.name for n in BB.notes if 67 <= n.written.midi <= 73
         and said(BB, n.written.name)[0] == said(of("single-f"), n.written.name)[0]] == f["notes"]
    ),
    "fin-g4-on-single-bb": lambda f: cents(BB, "G4", "1") < 0 < cents(BB, "G4", "13") and said(F, "G4")[0] == "0",
    "fin-g4-thumb-stopping": lambda f: "S0" in said(of("single-bb-stopping"), "G4"),
    "fin-stopping-single-lowest": lambda f: said(of("single-bb-stopping"), "Bb2") == ["S123"],
    "fin-fext-low-a": lambda f: b("single-bb-f-extension").side("F12").row == "borrowed",
    "fin-marching-bb": lambda f: [n.ways for n in of("marching-horn-bb").notes] == [n.ways for n in BB.notes],
    "fin-bb-three-for-twelve": lambda f: all(w in said(BB, n) for n, w in f["written_to_fingering"].items()),
    "fin-c5-ninth": lambda f: {(w.fingering, w.partial) for w in of("single-f").at("C5").ways} >= {("0", 8), ("1", 9)},
    "fin-fundamentals": lambda f: [TUBES[t].pedal + 7 for t in ("F12", "Bb9", "F6")] == [36, 41, 48],
    "fin-mello-vs-horn": lambda f: all(
        said(of(code), note)[0] == fingers
        for code in ("mellophone-f", "single-f")
        for note, fingers in f[code].items()
    ),
    "fin-mello-trumpet": lambda f: TUBES[b("mellophone-f").stands[0].tube].pedal - TUBES["F12"].pedal == 12,
    "fin-brassband-treble": lambda f: len(
        {tuple(way.fingering for n in of(code).notes for way in n.ways[:1]) for code in f["builds"]}
    ) == 1,
    "fin-baritone-bass-clef": lambda f: all(
        said(of("baritone-bb", bass_clef=True), note)[0] == "0" for note in f["bass_clef_open"]
    ),
    "fin-baritone-4v-low": lambda f: said(FOUR, "F3")[:1] == ["14"] and said(FOUR, "D3")[:1] == ["1234"],
    "fin-baritone-comp": lambda f: all(said(LOW, note)[0] == w for note, w in f["written_to_fingering"].items()),
    "fin-ascending-23": lambda f: said(of("piston-single-f", form="ascending third"), "Ab4")[0] == f["Ab4"],
    "fin-vienna-a4": lambda f: set(f["fingerings"]) <= set(said(of("vienna-f"), "A4")),
    "fin-vienna-d5": lambda f: said(of("vienna-f"), "D5")[0] == "0",
    "fin-stopped-semitone": lambda f: (
        of("double-full", "F", layers=frozenset({"stopped"})).at("C5").stopped[0].fingering == f["fingering"]
    ),
    "fin-pupil-mistake": lambda f: said(BB, "F4")[0] == "0" and said(BB, "G4")[0] == "1" and said(F, "F4")[0] == "1",
    "fin-hand-a3": lambda f: hand(NATURAL, "A3") == "stopped",
    "fin-hand-ab3": lambda f: hand(NATURAL, "Ab3") == "stopped",
    "fin-hand-degrees": lambda f: [hand(NATURAL, n) for n in ("B4", "A4", "F4", "D4")][:2] == ["half", "half"],
    "fin-hand-open-high": lambda f: not hand(NATURAL, "F#5") and not hand(NATURAL, "A5"),
    "fin-hand-low-g": lambda f: bool(said(NATURAL, "G2")),
    "fin-hand-law": lambda f: hand(NATURAL, "Ab3") == "stopped",
    "fin-hand-parforce": lambda f: (
        all(hand(of("natural-horn", "Eb"), note) for note in f["hand_notes"])
        and not any(hand(of("natural-horn", "Eb"), note) for note in f["open"])
    ),
    "bld-stopvalve-semitone-f": lambda f: stopping("single-bb-stopping") == f["cents"] / 100,
    "bld-stopvalve-threequarter": lambda f: stopping("single-bb-stopping") == f["B-flat horn"],
    "bld-stopvalve-ten-percent": lambda f: stopping("single-bb-stopping") == f["cents"] / 100,
    "bld-comp-air": lambda f: [side.tube for side in b("triple-compensating").rows] == ["Bb9", "F12", "F6"]
    and b(f["build"]).side("F12").through == "Bb9",
    "bld-comp-ratio": lambda f: abs(b("double-compensating").set_ratios()[0] - f["relative_to_main_loop"]) < 1e-4,
    "bld-triple-stands": lambda f: len({stand.share for stand in b("triple-compensating").stands}) > 1,
    "bld-double-thumb-piston": lambda f: "piston" in b("double-full").mechanism,
    "bld-descant": lambda f: {"descant-bb-high-f", "descant-bb-high-eb", "single-high-f"} <= catalogue().keys(),
    "bld-ascending": lambda f: build_named("piston-single-f", f["form"]).valves[2] == -2,
    "bld-wagner-fourth-fifth": lambda f: b("wagner-bass-f").valves[3] == f["wagner-bass-f"],
    "bld-wagner-transpose": lambda f: all(
        PART_KEYS[b(code).reads].semitones == f[code]["chromatic"] for code in ("wagner-tenor-bb", "wagner-bass-f")
    ),
    "bld-alto-f": lambda f: b("alto-horn-f").hand == (f["hand"],),
    "bld-alto-right-hand-de": lambda f: b(f["build"]).hand == ("right",),
    "bld-child-horn": lambda f: all(b(code).wrap == ("compact",) for code in f["build"]),
    "bld-eb-crook-school": lambda f: TUBES["F12"].pedal - TUBES[b("single-f-eb").stands[0].tube].pedal == 2,
    "aco-grove-lengths": lambda f: all(
        abs(interval(inches(f, name), 147.5) - 100 * (29 - TUBES[tube].pedal)) < 6
        for name, tube in (("Bb alto", "Bb9"), ("A", "A9"), ("G", "G10"), ("E", "E12"), ("Eb", "Eb13"), ("D", "D14"))
    ),
    "aco-eb11-crooks": lambda f: all(
        abs(interval(1 + (f["crook_inches"][name] - 16) / 109, 1) - 100 * (34 - TUBES[tube].pedal)) < 2.2
        for name, tube in (("A", "A9"), ("G", "G10"), ("F", "F12"), ("E", "E12"), ("Eb", "Eb13"), ("D", "D14"))
    ),
    "aco-makers-lengths": lambda f: (
        min(f["F_m"]) / max(f["Bb_m"]) <= TUBES["F12"].length_over(TUBES["Bb9"]) <= max(f["F_m"]) / min(f["Bb_m"])
    ),
    "aco-alto-length": lambda f: f["at_440_m"] < 343.21 / (2 * TUBES["Eb6"].pedal_hz),
    "aco-valve-cents": lambda f: abs(1200 * math.log2(1 + f["loops"]["1"] + f["loops"]["2"])
                                     - 100 * AirColumn("F12", THREE).lowers("12")) < 5,
    "aco-pedal": lambda f: all(way.partial > 1 for note in F.notes for way in note.ways),
    "aco-temperature-linear": lambda f: all(abs(a_degree() - cents) < 0.1 for cents in f["cents_per_C"]),
    "std-hs-tenor-horn": lambda f: b("alto-horn-eb").class_code == "423.232.11",
    "std-hs-euphonium": lambda f: b("baritone-bb").class_code.startswith("423.231"),
    "std-dci-rule": lambda f: (
        [len(b(code).valves) for code in ("marching-mellophone-g", "mellophone-bugle-g")]
        == [f["valves_max"], f["before"]]
    ),
    "std-transpose-data": lambda f: all(
        [PART_KEYS[b(code).reads].semitones, PART_KEYS[b(code).reads].steps] == f["chromatic_diatonic"][code]
        for code in ("mellophone-f", "alto-horn-f", "alto-horn-eb", "flugelhorn-bb")
    ),
    "bld-reversed-valves": lambda f: any(build.valves[:2] == (1, 2) for build in catalogue().values()),
    "bld-right-hand-horns": lambda f: "right" in {hand for code in ("single-f", "vienna-f") for hand in b(code).hand},
    "wrd-alto": lambda f: f["en-GB"] in b("alto-horn-eb").about,
    "wrd-baritone": lambda f: f["en"] in b("baritone-bb").name,
    "wrd-mellophone": lambda f: "mellophone" in b("mellophone-f").name,
    "bld-stopvalve-settings": lambda f: (
        {lever.semitones for made in b("single-bb-stopping").forms for lever in made.levers} >= {1.5, 2.0}
        and b("single-bb-f-extension").levers[0].does == "extension"
    ),
    "bld-double-slides-swapped-rows": lambda f: "the other way round" in " ".join(about_layout(b(f["build"]))),
    "bld-single-bb-five": lambda f: (
        [form(f["build"], "fourth finger").valve_count, len(form(f["build"], "fourth finger").thumb_levers)]
        == [f["valves"], f["thumb_valves"]]
    ),
    "bld-single-bb-pinky": lambda f: any(made.levers[0].worked_by == "finger" for made in b(f["build"]).forms),
    "bld-two-valve-horn": lambda f: any(
        list(made.valves) == f["valves"] and made.is_french_horn for made in catalogue().every_form()
    ),
    "bld-piston-crooks": lambda f: b(f["build"]).crooked,
    "bld-alto-rotary-helicon": lambda f: any(made.wrap[0] == "standard" for made in b("alto-horn-eb").forms),
    "bld-alto-ots": lambda f: any("back" in made.bell for made in b("alto-horn-eb").forms),
    "bld-alto-four": lambda f: form(f["build"], "fourth valve").valve_count == f["valves"],
    "bld-double-principle": lambda f: any((made.valve_count, made.slide_sets) == (3, 2) for made in EVERY),
    "bld-mellophonium": lambda f: (
        list(b("mellophonium-f").valves) == f["valves"]
        and [b("mellophonium-f").wrap, b("mellophonium-f").bell] == [("standard",), ("front",)]
    ),
    "bld-french-horn-bugle-g": lambda f: (
        [made.valve_count for made in b("marching-horn-g").forms] == [f["valves"], f["rare"]]
        and b("marching-horn-g").mouthpiece == f["mouthpiece"]
        and b("marching-horn-g").bell == (f["bell"],)
        and TUBES["G10"].length_over(TUBES[b("mellophone-bugle-g").stands[0].tube]) == 2
    ),
    "bld-bariton-german": lambda f: (
        list(form(f["build"], "rotary, fourth valve").valves) == f["valves"]
        and form(f["build"], "rotary, fourth valve").mechanism == (f["mechanism"],)
        and form(f["build"], "rotary").wrap == (f["wrap"],)
    ),
    # Brass grows by 19 millionths of its length a degree.
    "aco-warming-metal": lambda f: 1200 * math.log2(1 + 19e-6) < a_degree() / 50,
    "std-hs-2017": lambda f: str(f["addenda_and_corrigenda"]) in (DATA / "builds.toml").read_text(encoding="utf-8"),
    "car-oil-weekly": lambda f: "Every week: a few drops of valve oil" in care("single-f") and "wash the mouthpiece" in
    care("single-f"),
    "car-oil-spread": lambda f: not hasattr(School, "oil_days"),
    "car-grease-wash": lambda f: "Every second week: a little grease on the tuning slides" in care("single-f"),
    "car-rotors-stay": lambda f: (
        "Nobody takes the valves apart." in care("single-f") and "take the pistons out" in care("mellophone-f")
    ),
    "car-spindle-oil": lambda f: "bearing oil under each cap" in DO[Care.Kind.OIL],
    "car-chem-clean": lambda f: not hasattr(School, "clean_days"),
    "loan-repair": lambda f: f["own_repair"] or "or mouthpiece sticks, tell the school" in care("single-f"),
    "con-red-rot": lambda f: any("film" in fault.words for fault in faults().by_code.values()),
    "wrd-tenor-horn-britannica": lambda f: suggested("tenor horn")[0].stands[0].tube == "Bb9",
    "wrd-stopped": lambda f: [label(NATURAL, NATURAL.at(n).ways[0]) for n in ("C4", "Ab3")] == ["o", "+"],
}  # fmt: skip


def _as_long(build: Build, metres: float) -> bool:
    """Whether the tube is as long as half a wave of its pedal at 20 °C, but for 15 % of mouthpiece and bell."""
    return abs(343.4 / (2 * TUBES[build.stands[0].tube].pedal_hz * metres) - 1) < 0.15


CHECKS |= {
    "bld-trompe-d": lambda f: (
        b("hunting-horn-d").stands[0].name == f["key"] and _as_long(b("hunting-horn-d"), f["tube_m"])
    ),
    "bld-parforce-es": lambda f: (
        abs(TUBES["Eb13"].length_over(TUBES["Bb9"]) - f["times_as_long_as_b_flat"]) < 0.01
        and b("hunting-horn-eb").stands[0].tube == "Eb13"
        and b("hunting-horn-bb").stands[0].tube == "Bb9"
    ),
    "bld-parforce-b": lambda f: _as_long(b("hunting-horn-bb"), f["tube_m"]),
    "bld-pless": lambda f: (
        _as_long(b("post-horn-bb"), f["tube_m"])
        and [
            [way.partial, note.sounding.name, round(way.cents)]
            for note in of("post-horn-bb").sounding_notes
            for way in note.ways
            if way.partial in (2, 3, 4, 5, 6, 8)
        ]
        == f["partials"]
    ),
    "bld-double-rows": lambda f: [side.tube for side in b("double-full").rows] == [*f["double-full"].values()],
    "bld-child-horn-bell": lambda f: all(
        b(small).wrap == ("compact",)
        and all(of(b(small), "compact").high < of(b(usual), "standard").high for of in (bell_of, length_of))
        for small, usual in f["builds"].items()
    ),
    "bld-wagner-fourth-both": lambda f: all(
        TUBES[b(code).stands[0].tube].pedal - b(code).valves[3] == TUBES[to].pedal for code, to in f.items()
    ),
    "bld-single-high-f-fourth": lambda f: any(len(form.valves) == 4 for form in b("single-high-f").forms),
    "fin-double-either-side": lambda f: (
        all(fingers in said(F, note) for note, fingers in f["in_tune_on_b_flat"].items())
        and all(said(F, note)[0] == fingers for note, fingers in (f["on_f"] | f["on_b_flat"]).items())
    ),
    "fin-hand-half-and-whole": lambda f: {one.ways[0].hand for one in NATURAL.notes if one.ways} >= {"half", "stopped"},
    "bld-bugle": lambda f: _as_long(b("bugle-bb"), f["tube_m"]),
    "bld-bugle-g": lambda f: (b("bugle-g").stands[0].name, len(b("bugle-g").valves)) == (f["key"], f["valves"]),
}


@pytest.mark.parametrize("name", sorted(CHECKS))
def test_a_published_fact_stands_as_the_file_says(name: str) -> None:
    fact = FACTS[name]
    assert CHECKS[name](fact["says"]) == (fact["view"] == "agrees"), f"{name}: {fact['source']}"


def test_every_fact_has_its_check_or_is_not_covered() -> None:
    uncovered = {name for name, fact in FACTS.items() if fact["view"] == "not covered"}
    assert CHECKS.keys() | uncovered == FACTS.keys()
    assert not CHECKS.keys() & uncovered


def test_every_disagreement_is_explained_and_agreement_is_counted() -> None:
    assert all(bool(fact.get("why")) == (fact["view"] != "agrees") for fact in FACTS.values())
    assert Counter(fact["view"] for fact in FACTS.values()) == {"agrees": 70, "own": 26, "not covered": 5}
