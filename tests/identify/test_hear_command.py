"""The hear command: one JSON object a line, sentences for a reader, exit status for a script."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from identify.core.horns.air import TUBES
from tests.identify.tones import horn_tone, wav


def ran(*arguments):
    """Exit status and output of the command."""
    out = StringIO()
    try:
        call_command("hear", *map(str, arguments), stdout=out)
    except SystemExit as left:
        return left.code, out.getvalue()
    return 0, out.getvalue()


@pytest.fixture
def recorded(tmp_path):
    def record(hz, name="note.wav"):
        path = tmp_path / name
        path.write_bytes(wav(horn_tone(hz)))
        return path

    return record


def test_a_note_becomes_one_json_object_with_the_promised_keys(recorded):
    path = recorded(233.08)
    status, out = ran(path, "--json")
    (line,) = out.splitlines()
    heard = json.loads(line)
    assert status == 0
    assert {key: heard[key] for key in ("file", "note", "written")} == {
        "file": str(path),
        "note": "Bb3",
        "written": "F4",
    }
    assert heard["hz"] == pytest.approx(233.08, abs=0.2)
    assert heard["cents"] == pytest.approx(0, abs=1)
    assert 0.9 < heard["confidence"] <= 1
    assert "reason" not in heard


def test_without_json_a_note_is_said_in_a_sentence(recorded):
    status, out = ran(recorded(349.23))
    assert status == 0
    assert "F4 (written C5 for a part in F)" in out


def test_files_that_hold_no_note_give_null_and_a_reason_each_and_exit_with_one(recorded, tmp_path):
    document = tmp_path / "loan.wav"
    document.write_bytes(b"%PDF-1.7")
    silence = tmp_path / "silence.wav"
    silence.write_bytes(wav([0.0] * 20_000))
    status, out = ran(recorded(233.08), document, silence, tmp_path / "gone.wav", tmp_path, "--json")
    lines = [json.loads(line) for line in out.splitlines()]
    assert status == 1
    assert [line["hz"] is None for line in lines] == [False, True, True, True, True]
    assert [line["note"] for line in lines[1:]] == [None] * 4
    assert "PDF" in lines[1]["reason"]
    assert "Almost nothing" in lines[2]["reason"]
    assert "no such file" in lines[3]["reason"]
    assert "directory" in lines[4]["reason"]


def test_four_open_notes_find_the_tube(recorded):
    pedal = TUBES["Bb9"].pedal_hz
    files = [recorded(pedal * k, f"{k}.wav") for k in (2, 3, 4, 5)]
    status, out = ran("--open", *files, "--json", "--claim", "F12")
    found = json.loads(out)
    assert status == 0
    assert found["tube"] == "Bb9"
    assert found["settled"] is True
    assert found["candidates"][0]["tube"] == "Bb9"
    assert sum(each["probability"] for each in found["candidates"]) == pytest.approx(1, abs=0.01)
    assert {each["tube"] for each in found["candidates"]} == {
        "F12", "Bb9", "Eb13", "A9", "F6", "Eb6", "G", "Bb4",
    }  # fmt: skip
    assert found["claim"]["verdict"] == "does-not-fit"


def test_a_recording_that_was_not_heard_is_named_and_leaves_the_others(recorded, tmp_path):
    broken = tmp_path / "broken.wav"
    broken.write_bytes(b"RIFF")
    pedal = TUBES["F12"].pedal_hz
    files = [recorded(pedal * k, f"{k}.wav") for k in (3, 4, 5, 6)]
    status, out = ran("--open", *files, broken, "--json")
    found = json.loads(out)
    assert status == 1
    assert found["tube"] == "F12"
    assert list(found["not_heard"]) == [str(broken)]


def test_two_notes_that_fit_several_tubes_settle_nothing_and_name_the_note_to_try(recorded):
    status, out = ran("--open", recorded(174.61, "f.wav"), recorded(261.63, "c.wav"))
    assert status == 1
    assert "Try " in out


def test_one_open_note_is_refused(recorded):
    with pytest.raises(CommandError, match="One note fits many tubes") as no:
        call_command("hear", "--open", str(recorded(233.08)))
    assert no.value.returncode == 2


def test_a_claim_without_open_notes_is_refused(recorded):
    with pytest.raises(CommandError, match="--open") as no:
        call_command("hear", "--claim", "F12", str(recorded(233.08)))
    assert no.value.returncode == 2


def test_a_file_is_named_in_json_as_it_is_written(recorded):
    assert "B♭.wav" in ran(recorded(233.08, "B♭.wav"), "--json")[1]
