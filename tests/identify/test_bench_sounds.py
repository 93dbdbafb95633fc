"""What the benchmark is built on: score files, spoiling, players. Rendering needs fluidsynth: not run here."""

import numpy as np
import pytest

from identify.bench import spoil
from identify.bench.players import FIVE, ORDINARY, claims_checked, play, tubes_found
from identify.bench.render import HELD, LET_GO, midi_file, sounding_hz
from identify.core.open_notes import SCHOOL_MIX
from identify.core.pitch import hz_to_midi

from .tones import horn_tone


def test_a_score_holds_its_notes_one_after_another(tmp_path):
    music21 = pytest.importorskip("music21")
    path = tmp_path / "notes.mid"
    path.write_bytes(midi_file(60, [(53, 80), (58, 100)]))
    score = music21.converter.parse(path).stripTies().flatten()  # it divides notes at bar lines
    notes = list(score.notes)
    assert [note.pitch.midi for note in notes] == [53, 58]
    # 120 quarter notes to the minute: two to the second.
    assert float(notes[0].quarterLength) == pytest.approx(2 * HELD)
    assert float(notes[1].offset) == pytest.approx(2 * (HELD + LET_GO))


@pytest.mark.parametrize("hz", [90.0, 233.0, 900.0])
def test_the_label_of_a_clip_is_what_it_sounds_not_what_was_asked_for(hz):
    tone = horn_tone(hz * 2 ** (17 / 1200), seconds=1, rate=44_100)
    assert sounding_hz(tone, hz) == pytest.approx(hz * 2 ** (17 / 1200), rel=2e-4)
    assert sounding_hz(np.zeros(44_100, dtype=np.float32), hz) is None


def test_a_stretched_tone_sounds_as_much_higher_as_asked():
    tone = horn_tone(220, seconds=1, rate=44_100)
    assert sounding_hz(spoil.stretch(tone, 40), 220) == pytest.approx(220 * 2 ** (40 / 1200), rel=2e-4)


@pytest.mark.parametrize("rate", [8_000, 16_000, 48_000])
def test_resampling_keeps_the_note_and_the_length(rate):
    tone = horn_tone(220, seconds=1, rate=44_100)
    other = spoil.resampled(tone, 44_100, rate)
    assert len(other) == rate
    assert sounding_hz(other, 220, rate) == pytest.approx(220, rel=2e-4)


def test_spoiling_is_the_same_for_the_same_dice_and_stays_within_full_scale():
    tone = horn_tone(220, seconds=0.5, rate=44_100)
    one, two = (spoil.spoil(tone, 44_100, np.random.default_rng(5)) for _ in range(2))
    assert np.array_equal(one.samples, two.samples)
    assert (one.rate, one.how) == (two.rate, two.how)
    assert np.abs(one.samples).max() <= 1


def test_an_ordinary_player_plays_upwards_on_the_horn_s_own_notes():
    notes = [hz_to_midi(note.hz) for note in play("F12", 4, ORDINARY, np.random.default_rng(1))]
    assert notes == sorted(notes)
    assert 40 < notes[0] < 60


def test_four_notes_of_ordinary_players_find_their_tubes_and_judge_their_claims():
    right, wrong, left_open = tubes_found(1, 60, 4, ORDINARY, FIVE, SCHOOL_MIX)
    assert right + wrong + left_open == pytest.approx(1)
    assert right > 0.9
    assert wrong < 0.05
    judged = claims_checked(1, 40, 4, ORDINARY)
    assert judged["false alarms"] < 0.1
    assert judged["caught"] > 0.8
