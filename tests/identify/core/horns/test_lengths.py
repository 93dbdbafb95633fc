"""How long horns are: what is read from the file, and how lengths spread."""

import pytest

from identify.core import DATA
from identify.core.horns.catalogue import DataError, catalogue
from identify.core.horns.lengths import Length, bell_of, length_of, read_lengths

pytestmark = pytest.mark.either_engine


def known(tmp_path, old="", new=""):
    text = (DATA / "lengths.toml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "lengths.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return read_lengths(path, catalogue())


def test_nine_horns_in_ten_lie_within_what_is_said():
    assert Length(38.0, 46.0, "o").share_between(38.5, 45.5) == pytest.approx(0.9, abs=0.001)


def test_steps_that_follow_each_other_leave_no_gap():
    length = Length(38.0, 46.0, "o")
    assert length.share_between(0, 41) + length.share_between(42, 199) == pytest.approx(1)
    assert length.share_between(0, 41) == pytest.approx(length.share_between(43, 199))


def test_a_build_has_its_own_length_or_that_of_its_shape():
    builds = catalogue()
    assert length_of(builds["single-f"], "standard") == length_of(builds["double-full"], "standard")
    assert length_of(builds["single-f"], "compact").high < length_of(builds["single-f"], "standard").low
    assert length_of(builds["mellophone-f"], "standard").high == 43


def test_the_two_horns_that_museums_measured_lie_within():
    standard = length_of(catalogue()["double-full"], "standard")
    assert all(standard.low < cm < standard.high for cm in (41.3, 41.9))


# Vermillion 06971 and 6986, H. Pizka, “Standard dimensions of trumpet” (ofstandard.com).
@pytest.mark.parametrize(
    ("code", "cm"), [("mellophonium-f", 28.2), ("alto-horn-eb", 18.3), ("vienna-f", 28.5), ("trumpet-bb", 12.0)]
)
def test_the_bells_that_were_published_lie_within(code, cm):
    build = catalogue()[code]
    bell = bell_of(build, build.wrap[0])
    assert bell.low < cm < bell.high


def test_the_bells_of_a_flugelhorn_and_of_a_trumpet_do_not_meet():
    flugelhorn, trumpet = (bell_of(catalogue()[code], "trumpet") for code in ("flugelhorn-bb", "trumpet-bb"))
    assert trumpet.high < flugelhorn.low


@pytest.mark.parametrize("cm", ["[1, 2]", "[0.5, 200]", "[199.5, 200.0]"])
def test_two_rising_numbers_up_to_two_metres_are_taken(tmp_path, cm):
    low, high = (float(part) for part in cm.strip("[]").split(","))
    found = known(tmp_path, "cm = [38, 46]", f"cm = {cm}")["standard"]
    assert (found.low, found.high) == (low, high)


@pytest.mark.parametrize(
    "cm", ["[46, 38]", "[38, 38]", "[0, 38]", "[38, 201]", "[38]", "[38, 42, 46]", '["38", 46]', "[true, 46]", "38"]
)
def test_anything_else_is_refused(tmp_path, cm):
    with pytest.raises(DataError, match=r"standard.*two rising numbers up to 200"):
        known(tmp_path, "cm = [38, 46]", f"cm = {cm}")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[compact]", "[square]", "square.*neither a wrap nor the code"),
        ("[compact]", "[vienna-f]", "compact.*is missing"),
        ('origin = "from memory, no source"', 'origin = " "', "origin must be some text"),
        ('origin = "from memory, no source"', "", "must state cm and origin"),
        ("cm = [30, 37]", "cm = [30, 37]\nmore = 1", "must state cm and origin"),
        ("[standard]", "[standard", "cannot be read"),
    ],
)
def test_a_file_with_a_gap_is_refused(tmp_path, old, new, said):
    with pytest.raises(DataError, match=said):
        known(tmp_path, old, new)
