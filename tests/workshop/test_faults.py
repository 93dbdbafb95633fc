from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.workshop.models.faults import FILE, CatalogueError, catalogue, grade_of, read, worst

GOOD = """
origin = "common practice, no source"
[[caution]]
code = "first"
words = "Ask a repairer."
origin = "common practice, no source"
[[stop]]
code = "harm"
words = "it may cut"
[[part]]
name = "Bell"
[[part.fault]]
code = "bell-torn"
words = "bell torn"
severity = "x"
who = "repairer"
minutes = 90
stops = "harm"
do = "Put it away."
"""


def test_the_catalogue_has_every_fault_once_and_says_where_it_comes_from():
    found = catalogue()

    assert len(found.by_code) == 78
    assert sum(len(part.faults) for part in found.parts) == 78
    assert found.origin == "common practice, no source"


def test_the_usual_severities_and_minutes_are_those_of_common_practice():
    # Common practice of school repair benches, no source.
    usual = {
        code: (fault.severity, fault.who, fault.minutes)
        for code, fault in catalogue().by_code.items()
        if code
        in {"string-broken", "rotor-frozen", "rotor-leaking", "leadpipe-red-rot", "leadpipe-pierced", "finish-worn"}
    }

    assert usual == {
        "string-broken": ("r", "staff", 15),
        "rotor-frozen": ("x", "repairer", 60),
        "rotor-leaking": ("w", "repairer", None),
        "leadpipe-red-rot": ("w", "repairer", 180),
        "leadpipe-pierced": ("x", "repairer", 180),
        "finish-worn": ("n", "", None),
    }


def test_what_oil_mends_is_no_horn_that_must_not_be_played_and_no_frozen_slide_or_sharp_edge_is_lent():
    # The sentences of who tried the bench; common practice, no source.
    severity = {code: fault.severity for code, fault in catalogue().by_code.items()}

    assert {severity[code] for code in ("rotor-sluggish", "piston-sluggish", "thumb-valve-sluggish")} == {"r"}
    assert {found for code, found in severity.items() if "slide-frozen" in code} == {"r"}
    assert {severity[code] for code in ("branch-dented", "crook-dented", "finger-hook-broken")} == {"r"}
    assert severity["object-in-tube"] == "x"


def test_every_fault_that_a_technician_names_is_there_and_says_who_and_how_long():
    # The trade words asked for; from memory which of them nobody can time beforehand.
    named = [
        "rotor-leaking",
        "piston-leaking",
        "rotor-end-play",
        "rotor-out-of-line",
        "piston-out-of-line",
        "linkage-clicking",
        "piston-noisy",
        "stop-arm-loose",
        "stop-arm-bent",
        "lever-pivot-worn",
        "lever-out-of-line",
        "receiver-worn",
        "object-in-tube",
        "bell-cracked",
        "bell-creased",
        "bell-ring-loose",
        "slide-out-of-line",
        "acid-bleed",
        "string-wrong-size",
        "linkage-joint-worn",
        "bumper-rest-worn",
        "bumper-pressed-worn",
        "piston-felt-worn",
    ]
    faults = [catalogue().by_code[code] for code in named]

    assert [fault.code for fault in faults if not fault.who] == []
    assert [fault.code for fault in faults if not fault.minutes] == ["rotor-leaking", "piston-leaking"]


def test_a_bare_mouthpiece_and_red_rot_are_playing_faults_while_worn_finish_is_not():
    # Rule of museum condition checking (Collections Trust): looks and use are two axes.
    assert not catalogue().fault("plating-worn-through").finish
    assert not catalogue().fault("leadpipe-red-rot").finish
    assert [fault.code for fault in catalogue().by_code.values() if fault.finish] == ["finish-worn", "lacquer-peeling"]


def test_rotors_come_out_at_the_repairers_only_and_the_page_says_so():
    # Hazard statement H304 of Regulation (EC) No 1272/2008 for light oils.
    said = catalogue().cautions_for(["rotor-sluggish", "rotor-frozen", "rotor-frozen"])

    assert said == [
        "Light valve oil may be fatal if swallowed and enters airways (H304): lock it up, child-proof, never decanted.",
        "Pupils never take rotors out.",
        "The school’s own rules and a qualified repairer come first.",
    ]


def test_a_fault_that_an_older_catalogue_knew_is_still_readable():
    assert catalogue().fault("pushrod-cracked").words == "pushrod cracked"


@pytest.mark.parametrize(
    ("before", "after", "entry", "reason"),
    [
        (
            'severity = "x"',
            'severity = "bad"',
            "entry 'bell-torn' of Bell",
            "severity must be n, w, r or x, not 'bad'.",
        ),
        ("minutes = 90", "minutes = -3", "entry 'bell-torn' of Bell", "minutes must be a whole number from 1 to 1000"),
        (
            "minutes = 90",
            "minutes = true",
            "entry 'bell-torn' of Bell",
            "minutes must be a whole number from 1 to 1000",
        ),
        (
            'who = "repairer"',
            'who = "pupil"',
            "entry 'bell-torn' of Bell",
            "who must be staff or repairer, not 'pupil'.",
        ),
        ('code = "bell-torn"', 'code = "Bell Torn"', "entry 'Bell Torn' of Bell", "code must be small letters"),
        ('words = "bell torn"', 'words = " "', "entry 'bell-torn' of Bell", "words is missing."),
        ("minutes = 90", 'caution = "acid"', "entry 'bell-torn' of Bell", "there is no caution 'acid'."),
        ('stops = "harm"', "", "entry 'bell-torn' of Bell", "a fault that keeps a horn from being lent says why"),
        ('stops = "harm"', 'stops = "bad"', "entry 'bell-torn' of Bell", "a fault that keeps a horn from being lent"),
        ('severity = "x"', 'severity = "w"', "entry 'bell-torn' of Bell", "a fault that keeps a horn from being lent"),
        ("minutes = 90", 'counts = true\nat = "valves"', "entry 'bell-torn' of Bell", "counts is for a fault without"),
        ("minutes = 90", 'measure = "wide"', "entry 'bell-torn' of Bell", "measure has what, unit, least and most."),
        (
            "minutes = 90",
            'measure = { what = "Width", unit = "mm", least = 4, most = 4 }',
            "entry 'bell-torn' of Bell",
            "measure must lie between two figures",
        ),
        (
            "minutes = 90",
            'measure = { what = " ", unit = "mm", least = 1, most = 4 }',
            "entry 'bell-torn' of Bell",
            "measure must say what is measured",
        ),
        ("minutes = 90", "finish = true", "entry 'bell-torn' of Bell", "a fault of the finish stays a note"),
        (
            "minutes = 90",
            'applies = ["wings"]',
            "entry 'bell-torn' of Bell",
            "applies names 'wings', which no horn has.",
        ),
        ("minutes = 90", 'applies = "rotors"', "entry 'bell-torn' of Bell", "applies must be a list of words."),
        ("minutes = 90", "hours = 2", "entry 'bell-torn' of Bell", "'hours' is no word of the catalogue."),
        ('code = "first"', 'code = "second"', "the cautions", "the one that defers to local rules"),
        ('name = "Bell"', "", "a part", "its name is missing."),
        ('origin = "common practice, no source"\n[[caution]]', "[[caution]]", "the head", "origin is missing"),
        ("[[part.fault]]", "[[part.fault", "the whole file", "not readable as TOML"),
    ],
)
def test_nonsense_in_the_catalogue_is_refused_with_file_entry_and_reason(
    tmp_path: Path, before: str, after: str, entry: str, reason: str
):
    assert before in GOOD
    file = tmp_path / "faults.toml"
    file.write_text(GOOD.replace(before, after, 1), encoding="utf-8")

    with pytest.raises(CatalogueError) as refused:
        read(file)

    assert str(refused.value).startswith(f"faults.toml, {entry}: {reason}")


def test_a_code_that_is_there_twice_is_refused(tmp_path: Path):
    file = tmp_path / "faults.toml"
    file.write_text(GOOD + GOOD[GOOD.index("[[part.fault]]") :], encoding="utf-8")

    with pytest.raises(CatalogueError, match="this code is there twice"):
        read(file)


def test_the_good_example_of_these_tests_is_read(tmp_path: Path):
    file = tmp_path / "faults.toml"
    file.write_text(GOOD, encoding="utf-8")

    assert list(read(file).by_code) == ["bell-torn"]
    assert FILE.name == "faults.toml"


@pytest.mark.parametrize(
    ("severities", "grade"),
    [("", 1), ("n", 1), ("nnn", 1), ("w", 2), ("nw", 2), ("r", 3), ("wwwwr", 3), ("x", 4), ("nwrx", 4)],
)
def test_the_grade_is_the_worst_finding(severities: str, grade: int):
    # Rule of museum condition checking (Collections Trust): the worst finding, never an average.
    assert grade_of(severities) == grade


@given(st.lists(st.sampled_from("nwrx")), st.sampled_from("nwrx"))
def test_one_more_finding_never_makes_a_horn_better(severities: list[str], more: str):
    assert grade_of([*severities, more]) >= grade_of(severities)
    assert grade_of([*severities, more]) == max(grade_of(severities), grade_of([more]))


@given(st.lists(st.sampled_from("nwrx"), min_size=1), st.randoms())
def test_the_order_of_findings_does_not_matter(severities: list[str], chance):
    shuffled = list(severities)
    chance.shuffle(shuffled)

    assert worst(shuffled) == worst(severities)


def test_a_catalogue_without_a_fault_is_none(tmp_path):
    (file := tmp_path / "faults.toml").write_text(GOOD.partition("[[part]]")[0], "utf-8")
    with pytest.raises(CatalogueError, match="there is no fault in it"):
        read(file)
