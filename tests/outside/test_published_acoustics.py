"""The core against values from outside it; each check names where its figures come from."""

import pytest

from identify.core.horns.air import TUBES, AirColumn, Valve, partial_semitones, usual_way, valve_fraction
from identify.core.horns.builds import columns
from identify.core.horns.catalogue import catalogue
from identify.core.horns.pitch import cents_between, midi_to_hz, parse_note, sounding
from identify.core.reasoning.expect import Hypothesis, expected, usual_answer

THREE = tuple(Valve(name, semitones, valve_fraction(semitones)) for name, semitones in (("1", 2), ("2", 1), ("3", 3)))


def test_a4_is_440_hz():
    # ISO 16:1975.
    assert midi_to_hz(69) == 440.0
    assert parse_note("A4").hz == 440.0


def test_the_test_note_has_its_tempered_frequency():
    # Computed: 440 * 2 ** (-11 / 12).
    assert (parse_note("Bb3").midi, round(parse_note("Bb3").hz, 4)) == (58, 233.0819)


@pytest.mark.parametrize(
    ("note", "midi", "heard"),
    # MusicXML 4.0, the part in F: chromatic -7, diatonic -4.
    [
        ("F#2", 42, 35), ("C3", 48, 41), ("C4", 60, 53), ("F4", 65, 58),
        ("G4", 67, 60), ("Bb4", 70, 63), ("C5", 72, 65), ("C6", 84, 77),
    ],
)  # fmt: skip
def test_written_notes_sound_a_fifth_lower(note, midi, heard):
    assert parse_note(note).midi == midi
    assert sounding(parse_note(note)).midi == heard


@pytest.mark.parametrize(
    ("tube", "hz"),
    # Computed from equal temperament at A4 = 440 Hz.
    [
        ("F12", 43.654), ("Bb9", 58.270), ("F6", 87.307), ("Eb6", 77.782),
        ("Eb13", 38.891), ("A9", 55.0), ("Bb4", 116.541), ("G", 97.999),
    ],
)  # fmt: skip
def test_tubes_have_their_pedals(tube, hz):
    assert TUBES[tube].pedal_hz == pytest.approx(hz, abs=0.0006)


def test_an_f_horn_is_as_much_longer_than_a_b_flat_horn_as_measured():
    # Grove's Dictionary of Music and Musicians, 1954, "Horn": F 3.746 m, B flat 2.807 m.
    assert TUBES["F12"].length_over(TUBES["Bb9"]) == pytest.approx(3.746 / 2.807, abs=0.001)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    # Computed from equal temperament.
    [
        ("F12", "Bb9", 1.3348), ("Eb13", "Bb9", 1.4983), ("A9", "Bb9", 1.0595), ("Bb9", "F6", 1.4983),
        ("Bb9", "Eb6", 1.3348), ("F12", "F6", 2.0),
    ],
)  # fmt: skip
def test_tubes_have_their_relative_lengths(one, other, ratio):
    assert TUBES[one].length_over(TUBES[other]) == pytest.approx(ratio, abs=0.00005)


@pytest.mark.parametrize(
    ("partial", "cents"),
    # Computed: 1200 * log2(k) against the nearest hundred.
    [
        (2, 0), (3, 2.0), (4, 0), (5, -13.7), (6, 2.0), (7, -31.2), (8, 0), (9, 3.9),
        (10, -13.7), (11, -48.7), (12, 2.0), (13, 40.5), (14, -31.2), (15, -11.7), (16, 0),
    ],
)  # fmt: skip
def test_partials_lie_where_the_harmonic_series_puts_them(partial, cents):
    semitones = partial_semitones(partial)
    assert 100 * (semitones - round(semitones)) == pytest.approx(cents, abs=0.06)


@pytest.mark.parametrize(("semitones", "part"), [(1, 0.059463), (2, 0.122462), (3, 0.189207), (5, 0.334840)])
def test_valves_add_their_part_of_the_tube(semitones, part):
    # Computed: 2 ** (n / 12) - 1.
    assert valve_fraction(semitones) == pytest.approx(part, abs=5e-7)


@pytest.mark.parametrize(("fingering", "cents"), [("12", 10.63), ("23", 15.53), ("13", 30.32), ("123", 53.56)])
def test_valves_tuned_singly_are_sharp_together(fingering, cents):
    # Computed; 11, 16, 30 and 54 cents in the published notes of the project Horn Journey.
    assert AirColumn("F12", THREE).sharpness(fingering) == pytest.approx(cents, abs=0.005)
    assert round(AirColumn("F12", THREE).sharpness(fingering)) == {"12": 11, "23": 16, "13": 30, "123": 54}[fingering]


@pytest.mark.parametrize(
    ("fingering", "cents"),
    [("2", 24.5), ("1", 48.0), ("12", 78.8), ("23", 104.2), ("13", 136.7), ("123", 175.3)],
)
def test_an_uncompensated_extension_is_sharp(fingering, cents):
    # Computed: the B flat horn's slides on the F tube.
    build = catalogue()["single-bb-f-extension"]
    extended = columns(build, build.stand("Bb"))[1]
    assert extended.sharpness(fingering) == pytest.approx(cents, abs=0.06)


@pytest.mark.parametrize(
    ("code", "ratio"),
    # Computed from the tubes, against the B flat set; for the descant in F against its F set.
    [
        ("double-full", 1.335), ("double-compensating", 0.335), ("descant-bb-high-f", 0.667),
        ("descant-bb-high-eb", 0.749), ("descant-f-high-f", 0.500),
    ],
)  # fmt: skip
def test_second_slide_sets_have_their_relative_lengths(code, ratio):
    assert catalogue()[code].set_ratios()[0] == pytest.approx(ratio, abs=0.0005)


@pytest.mark.parametrize(
    ("code", "fingering", "partial", "step"),
    # Computed from the harmonic series. The fingerings on F and B flat agree with C. Smalley's Double Horn
    # Fingering Dictionary (CC0): written F4 is 1 on the F horn and 0 on the B flat horn.
    [
        ("single-f", "1", 6, 3), ("single-bb", "0", 4, 5), ("mellophone-f", "1", 3, 7),
        ("alto-horn-eb", "0", 3, 7), ("single-f-eb", "0", 6, 3), ("marching-mellophone-g", "23", 3, 7),
        ("flugelhorn-bb", "0", 2, 12),
    ],
)  # fmt: skip
def test_the_test_note_and_its_step_down_on_every_tube(code, fingering, partial, step):
    build = catalogue()[code]
    way = usual_way(columns(build, build.stands[0])[0], 58)
    assert way is not None
    assert (way.fingering, way.partial) == (fingering, partial)
    assert usual_answer(Hypothesis(build, build.stands[0]), "step_down") == str(step)


def test_a_horn_in_a_has_no_taught_fingering_in_tune_for_the_test_note():
    # Computed: with valves tuned singly no usual partial of a 9¾-foot A tube comes within 20 cents of B flat
    # 3.
    way = usual_way(AirColumn("A9", THREE), 58)
    assert way is None or abs(way.cents) > 20


def test_a_fingering_of_the_other_side_does_not_sound_the_test_note():
    # C. Smalley's Double Horn Fingering Dictionary (CC0) has no 1 for written F4 on the B flat side.
    build = catalogue()["single-bb"]
    assert "1" not in expected(Hypothesis(build, build.stands[0]), "test_note")


def test_old_high_pitch_is_48_cents_above_ours():
    # A4 = 452.4 Hz, the "old philharmonic" pitch of British bands.
    assert cents_between(440.0, 452.4) == pytest.approx(48.1, abs=0.05)
