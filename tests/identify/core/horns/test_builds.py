import re

import pytest

from identify.core import DATA
from identify.core.horns.builds import column_at_rest, columns
from identify.core.horns.catalogue import DataError, catalogue, read_catalogue
from identify.core.reasoning.evidence import Observations
from identify.core.reasoning.expect import usual_answers
from identify.core.reasoning.scales import Scales
from identify.core.reasoning.verdict import assess

CODES = [
    "single-f",
    "single-f-eb",
    "single-bb",
    "compact-f",
    "compact-bb",
    "single-bb-stopping",
    "single-f-stopping",
    "compact-bb-stopping",
    "single-bb-f-extension",
    "single-bb-stopping-f-extension",
    "piston-single-f",
    "vienna-f",
    "single-high-f",
    "double-full",
    "double-full-stopping",
    "double-compensating",
    "double-compensating-stopping",
    "compact-double-full",
    "compact-double-compensating",
    "vienna-double",
    "descant-bb-high-f",
    "descant-bb-high-f-stopping",
    "descant-bb-high-eb",
    "descant-f-high-f",
    "triple-full",
    "triple-compensating",
    "natural-horn",
    "wagner-tenor-bb",
    "wagner-bass-f",
    "wagner-double",
    "alto-horn-eb",
    "alto-horn-f",
    "alto-horn-eb-left",
    "mellophone-f",
    "mellophone-eb",
    "mellophonium-f",
    "marching-mellophone-f",
    "marching-mellophone-g",
    "mellophone-bugle-g",
    "marching-horn-bb",
    "marching-horn-g",
    "baritone-bb",
    "flugelhorn-bb",
    "trumpet-bb",
    "hunting-horn-d",
    "hunting-horn-eb",
    "hunting-horn-bb",
    "post-horn-bb",
    "bugle-bb",
    "bugle-g",
]

# A build the catalogue does not list.
NEW = """
[[build]]
code = "single-d"
name = "single horn in D"
about = "A horn for a test, longer than any other valved one."
family = "horn"
prior = 5
certainty = "from memory"
source = "invented for this test"
class = "423.232.12"
reads = "D"
stands = { D14 = 1 }
valves = [2, 1, 3]
hand = ["left"]
mechanism = ["rotary"]
bell = ["back"]
wrap = ["standard"]
sides = [{ tube = "D14" }]
"""


def reach(build):
    return {
        stand.name: [(c.tube, c.lowered, c.thumb, c.fingers) for c in columns(build, stand)] for stand in build.stands
    }


def written(tmp_path, text):
    path = tmp_path / "builds.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_catalogue_has_every_build_under_its_code():
    assert list(catalogue()) == CODES


def test_every_build_says_where_its_description_comes_from():
    for build in catalogue().values():
        assert build.source.strip()
        assert build.certainty in ("sure", "good", "from memory")
        assert build.about.endswith(".")


def test_a_full_double_changes_between_f_and_b_flat_and_can_be_strung_either_way():
    double = catalogue()["double-full"]
    assert double.reversible
    assert reach(double) == {
        "F": [("F12", 0, (), ()), ("Bb9", 0, ("change",), ())],
        "Bb": [("Bb9", 0, (), ()), ("F12", 0, ("change",), ())],
    }


def test_an_extension_borrows_its_slides_and_plays_sharp():
    build = catalogue()["single-bb-f-extension"]
    rest, extended = columns(build, build.stand("Bb"))
    assert (extended.tube, extended.in_tune, extended.thumb) == ("F12", False, ("extension",))
    assert rest.sharpness("1") == pytest.approx(0)
    assert extended.sharpness("1") == pytest.approx(48.0, abs=0.05)


def test_a_stopping_slide_lowers_between_half_and_three_quarters_of_a_tone():
    build = catalogue()["single-bb-stopping"]
    rest, stopped = columns(build, build.stand("Bb"))
    assert 1.0 <= rest.pedal - stopped.pedal <= 1.5


def test_a_stopping_slide_on_the_b_flat_side_does_nothing_on_the_f_side():
    build = catalogue()["double-full-stopping"]
    assert reach(build)["F"] == [
        ("F12", 0, (), ()),
        ("Bb9", 0, ("change",), ()),
        ("Bb9", 1.5, ("change", "stopping"), ()),
    ]


def test_a_triple_reaches_three_tubes_from_either_stand():
    for code in ("triple-full", "triple-compensating"):
        build = catalogue()[code]
        for stand in build.stands:
            assert {column.tube for column in columns(build, stand)} == {"F12", "Bb9", "F6"}


def test_a_compensating_baritone_changes_with_a_finger_and_not_with_the_thumb():
    form = next(form for form in catalogue()["baritone-bb"].forms if form.form == "compensating")
    assert [column.fingers for column in columns(form, form.stand("Bb"))] == [(), ("4",)]
    assert form.thumb_levers == ()
    assert (form.valve_count, form.slide_sets) == (4, 2)


def test_a_natural_horn_has_no_valves_and_reads_in_the_key_of_its_crook():
    natural = catalogue()["natural-horn"]
    assert (natural.valve_count, natural.slide_sets, natural.crooked) == (0, 0, True)
    assert natural.reads_in(natural.stand("Eb")) == "Eb"
    assert natural.reads_in(natural.stand("C")) == "C low"
    assert column_at_rest(natural, natural.stand("F")).valves == ()


def test_what_is_no_french_horn_says_so():
    others = {code for code, build in catalogue().items() if not build.is_french_horn}
    assert others == set(CODES[CODES.index("wagner-tenor-bb") :])


def test_rotors_are_turned_by_strings_unless_the_description_says_otherwise(tmp_path):
    said = {code: catalogue()[code].linkage for code in ("single-f", "mellophone-f", "vienna-f", "flugelhorn-bb")}
    assert said == {"single-f": ("string",), "mellophone-f": (), "vienna-f": (), "flugelhorn-bb": ("mechanical",)}
    both = NEW.replace("bell =", 'linkage = ["mechanical", "string"]\nbell =')
    form = '\n[[build.forms]]\nform = "p"\nwords = "with pistons"\nshare = 0.1\nmechanism = ["piston"]\n'
    usual, pistons = read_catalogue(written(tmp_path, both + form))["single-d"].forms
    assert (usual.linkage, pistons.linkage) == (("mechanical", "string"), ())


def test_a_contributor_adds_a_build_by_adding_an_entry(tmp_path):
    text = (DATA / "builds.toml").read_text(encoding="utf-8") + NEW
    scales = Scales(read_catalogue(written(tmp_path, text)))
    new = next(one for one in scales.hypotheses if one.build.code == "single-d")
    answers = usual_answers(new)
    assert (answers["valves"], answers["test_note"], answers["step_down"]) == ("3", "23", "2")
    verdict = assess(Observations(answers), on=scales)
    assert verdict.likely or verdict.settled
    assert verdict.leading.key == ("single-d", "D")


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('code = "single-d"', 'code = "Single D"', "must look like single-f"),
        ('code = "single-d"', "", "code is None"),
        ('name = "single horn in D"', 'name = " "', "name must be some text"),
        ('family = "horn"', 'family = "trumpet"', "family is 'trumpet', but must be one of horn"),
        ("prior = 5", "prior = -1", "prior is -1, but must be a number above 0"),
        ("prior = 5", "prior = nan", "prior is nan"),
        ("prior = 5", "prior = true", "prior is True"),
        ('certainty = "from memory"', 'certainty = "rumour"', "certainty is 'rumour'"),
        ('class = "423.232.12"', 'class = "brass"', "class must look like"),
        ('reads = "D"', 'reads = "H"', "reads is 'H'"),
        ("stands = { D14 = 1 }", "stands = { F12 = 1 }", "stands names a tube that is no side"),
        ("stands = { D14 = 1 }", "stands = { D14 = 0.5 }", "must add up to 1"),
        ("stands = { D14 = 1 }", "", "stands must give the tube at rest"),
        ("valves = [2, 1, 3]", "valves = [2, 0, 3]", "none of them 0"),
        ("valves = [2, 1, 3]", "valves = [2, 1, 3, 5, 5]", "up to four"),
        ('hand = ["left"]', 'hand = ["both"]', "hand must list some of left, right"),
        ('hand = ["left"]', "hand = []", "hand is empty"),
        ('mechanism = ["rotary"]', 'mechanism = ["piston"]\nlinkage = ["string"]', "only rotary valves have a linkage"),
        ('mechanism = ["rotary"]', 'mechanism = ["rotary"]\nlinkage = ["belt"]', "linkage must list some of string"),
        ('wrap = ["standard"]', 'wrap = ["standard"]\nmouthpiece = "small"', "mouthpiece is 'small'"),
        ('bell = ["back"]', 'bell = ["back", "back"]', "bell must list some of"),
        ('tube = "D14"', 'tube = "D15"', "tube is 'D15'"),
        ('{ tube = "D14" }', '{ tube = "D14" }, { tube = "D14" }', "is there twice"),
        ('{ tube = "D14" }', '{ tube = "D14" }, { tube = "F12" }', "no stand and no lever makes F12 sound"),
        ('{ tube = "D14" }', '{ tube = "D14", row = "compensating", through = "F12" }', "listed before it"),
        (
            'sides = [{ tube = "D14" }]',
            'sides = [{ tube = "D14" }, { tube = "F12", row = "compensating", through = "D14" }]',
            "which is no shorter",
        ),
        (
            'sides = [{ tube = "D14" }]',
            'sides = [{ tube = "D14" }]\nlevers = [{ name = "x", does = "stopping", to = "D14" }]',
            "semitones is None",
        ),
        (
            'sides = [{ tube = "D14" }]',
            'sides = [{ tube = "D14" }]\nlevers = [{ name = "x", does = "change", to = "A9" }]',
            "leads to a tube that is no side",
        ),
        (
            'wrap = ["standard"]',
            'wrap = ["standard"]\nslide_sets = 1',
            "does not know the field 'slide_sets'",
        ),
    ],
)
def test_nonsense_is_refused_with_file_entry_and_reason(tmp_path, old, new, reason):
    assert old in NEW
    with pytest.raises(DataError, match=re.escape(reason)) as refused:
        read_catalogue(written(tmp_path, NEW.replace(old, new)))
    assert str(refused.value).startswith("builds.toml, entry 1")


def test_a_code_used_twice_is_refused(tmp_path):
    with pytest.raises(DataError, match=r"entry 2 \(single-d\): this code is there twice"):
        read_catalogue(written(tmp_path, NEW + NEW))


@pytest.mark.parametrize("text", ["", "[[build", "builds = 3", "[build]\n"])
def test_a_file_that_is_no_catalogue_is_refused(tmp_path, text):
    with pytest.raises(DataError, match=r"builds\.toml, the file"):
        read_catalogue(written(tmp_path, text))


def test_a_missing_file_is_refused_with_its_name(tmp_path):
    with pytest.raises(DataError, match=r"nowhere\.toml, the file: cannot be read"):
        read_catalogue(tmp_path / "nowhere.toml")
