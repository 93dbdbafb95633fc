"""What the benchmark is built on: score files, spoiling, players. Rendering needs fluidsynth: not run here."""

from collections import Counter
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from identify.core.hearing.open_notes import SCHOOL_MIX
from identify.core.horns.pitch import hz_to_midi
from tests.bench.hearing import spoil
from tests.bench.hearing.__main__ import Command
from tests.bench.hearing.clips import Clip
from tests.bench.hearing.players import FIVE, HARSH, ORDINARY, claims_checked, play, tubes_found
from tests.bench.hearing.render import HELD, LET_GO, midi_file, sounding_hz
from tests.bench.hearing.report import Tally, missed
from tests.identify.tones import horn_tone


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


def test_the_benchmark_prints_a_line_for_every_player_and_number_of_notes():
    out = StringIO()
    call_command(Command(), "--only=tubes", "--trials=2", stdout=out, stderr=StringIO())
    lines = out.getvalue().splitlines()
    players = [line for line in lines if line.startswith(("  ordinary", "  harsh"))]
    assert sum(" notes, " in line for line in players) == 2 * 3 * 4
    assert sum("false alarms" in line for line in lines) == 2


def test_the_benchmark_ends_in_failure_when_a_target_is_missed(monkeypatch):
    monkeypatch.setattr("tests.bench.hearing.__main__.ENOUGH", 20)
    # Far rougher than any aim is meant for: every second note is a stray one.
    monkeypatch.setattr("tests.bench.hearing.players.PLAYERS", (replace(HARSH, wrong=0.5),))
    out = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command(Command(), "--only=tubes", "--trials=20", stdout=out, stderr=StringIO())

    assert ended.value.code == 1
    assert "MISSED: harsh" in out.getvalue()


def test_what_a_finder_falls_short_of_is_named():
    phoned, heard = Counter(telephone=100), Counter(telephone=95)
    good = Tally(
        "ours", notes=1000, answered=993, right=993, without=500, spent=1, sound=1000, met=phoned, mastered=heard
    )
    assert missed(replace(good, false=Counter(hum=5))) == []
    # Of 1,000 seven may be missed and of 500 five be false; so many more come by chance once in a thousand times.
    heard = Counter(telephone=85)
    bad = replace(good, right=980, mastered=heard, octaves=5, false=Counter(hum=14), sure_and_wrong=1, spent=20)
    assert len(missed(bad)) == 7


@pytest.mark.parametrize("wrong", ["--clips=0", "--trials=0", "--shortest=9"])
def test_the_benchmark_refuses_nonsense(wrong):
    with pytest.raises(CommandError, match="at least one"):
        call_command(Command(), wrong, stdout=StringIO(), stderr=StringIO())


def test_a_tally_tells_octave_errors_wrong_notes_and_false_answers_apart():
    tally = Tally("some finder")
    silence = np.zeros(100, dtype=np.float32)
    note, no_note = (Clip(silence, 8_000, hz, kind, ()) for hz, kind in ((220.0, "note"), (None, "speech")))
    for hz in (220.0, 220.0 * 2 ** (19 / 1200), 440.0, 247.0, None):
        tally.add(note, hz, 0.99)
    tally.add(no_note, None, 0.0)
    tally.add(no_note, 220.0, 0.99)
    assert (tally.notes, tally.answered, tally.right) == (5, 4, 2)
    assert (tally.octaves, tally.gross) == (1, 2)
    assert (tally.without, dict(tally.false)) == (2, {"speech": 1})
    assert tally.sure_and_wrong == 3
