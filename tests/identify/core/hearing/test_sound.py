"""Reading WAV recordings: everything a browser or a person may bring, answered with a sentence."""

import io
import struct
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify.core.hearing.sound import MOST_BYTES, PLAIN_SUBFORMAT_TAIL, UnreadableSound, read_sound
from tests.identify.tones import horn_tone, wav

TONE = horn_tone(233.08, seconds=0.3)


@pytest.mark.parametrize(
    ("bits", "kind", "close"),
    [(8, 1, 0.01), (16, 1, 1e-4), (24, 1, 1e-6), (32, 1, 1e-6), (32, 3, 1e-6), (64, 3, 1e-6)],
)
@pytest.mark.parametrize("channels", [1, 2, 6])
@pytest.mark.parametrize("extensible", [False, True])
def test_every_usual_kind_of_wav_gives_the_samples_that_were_put_in(bits, kind, close, channels, extensible):
    heard = read_sound(wav(TONE, bits=bits, kind=kind, channels=channels, extensible=extensible))
    assert heard.rate == 22_050
    assert len(heard.samples) == len(TONE)
    assert np.abs(heard.samples - TONE).max() < close


def refusal(data):
    with pytest.raises(UnreadableSound) as refused:
        read_sound(data)
    assert str(refused.value).endswith(".")
    return refused.value.code


def test_an_empty_file_is_said_to_be_empty():
    assert refusal(b"") == "empty"
    assert refusal(wav([])) == "empty"


def test_a_renamed_document_is_called_by_its_name():
    with pytest.raises(UnreadableSound, match="PDF"):
        read_sound(b"%PDF-1.7 and so on")
    assert refusal(b"hello, I am no recording at all") == "not-wav"


@pytest.mark.parametrize("kept", [4, 12, 16, 24, 30, 43])
def test_a_file_cut_off_in_its_heading_is_refused(kept):
    assert refusal(wav(TONE)[:kept]) in {"damaged", "not-wav", "empty"}


def test_a_file_cut_off_in_its_sound_gives_what_is_there_and_says_so():
    whole = wav(TONE)
    heard = read_sound(whole[: 44 + 2 * 3000])
    assert len(heard.samples) == 3000
    assert "length" in heard.remarks[0]


@pytest.mark.parametrize("claimed", [0, 1 << 31, 0xFFFFFFFF])
def test_a_file_that_lies_about_its_length_gives_what_is_there(claimed):
    heard = read_sound(wav(TONE, claimed=claimed))
    assert len(heard.samples) == len(TONE)
    assert heard.remarks


def test_a_file_of_two_hundred_megabytes_is_refused_after_reading_a_bounded_part():
    class Endless(io.RawIOBase):
        asked = 0

        def read(self, size=-1):
            assert 0 <= size <= MOST_BYTES + 1
            self.asked += size
            return bytes(min(size, 200_000_000))

    stream = Endless()
    assert refusal(stream) == "too-big"
    assert stream.asked <= MOST_BYTES + 1


@pytest.mark.parametrize("rate", [0, 1, 7_999, 192_001, 10_000_000])
def test_a_rate_no_recorder_has_is_refused_with_the_rates_that_can_be_read(rate):
    assert refusal(wav(TONE, rate=rate)) == "rate"


@pytest.mark.parametrize("channels", [0, 9, 65_535])
def test_a_number_of_channels_no_recorder_has_is_refused(channels):
    broken = bytearray(wav(TONE))
    struct.pack_into("<H", broken, 22, channels)
    assert refusal(bytes(broken)) == "channels"


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_floats_that_are_no_numbers_are_refused(value):
    broken = TONE.copy()
    broken[100] = value
    assert refusal(wav(broken, bits=32, kind=3)) == "not-numbers"


def test_a_double_too_large_for_a_single_is_refused():
    broken = TONE.astype(float)
    broken[7] = 1e300
    assert refusal(wav(broken, bits=64, kind=3)) == "not-numbers"


def test_floats_over_the_top_are_brought_back_not_clipped():
    heard = read_sound(wav(TONE * 1000, bits=32, kind=3))
    assert np.abs(heard.samples).max() == pytest.approx(1.0, abs=1e-6)
    assert heard.samples * np.abs(TONE).max() == pytest.approx(TONE, abs=1e-5)


def test_channels_that_cancel_each_other_are_not_mixed_to_silence():
    both = np.stack([TONE, -TONE], axis=1).reshape(-1)
    stereo = bytearray(wav(both))
    struct.pack_into("<H", stereo, 22, 2)
    struct.pack_into("<H", stereo, 32, 4)
    assert np.abs(read_sound(bytes(stereo)).samples).max() > 0.2


def test_only_the_first_thirty_seconds_are_kept():
    heard = read_sound(wav(np.zeros(8_000 * 31), rate=8_000))
    assert heard.seconds == 30.0
    assert "30 seconds" in heard.remarks[0]
    assert read_sound(wav(np.zeros(8_000 * 30), rate=8_000)).remarks == ()


def test_a_packed_format_is_refused_as_such():
    packed = bytearray(wav(TONE))
    struct.pack_into("<H", packed, 20, 7)  # mu-law, as telephones pack it
    assert refusal(bytes(packed)) == "format"


def test_unknown_chunks_before_the_sound_are_passed_over():
    whole = wav(TONE)
    odd = b"LIST" + struct.pack("<I", 5) + b"hello\0"  # an odd length is padded by one byte
    assert np.array_equal(read_sound(whole[:12] + odd + whole[12:]).samples, read_sound(whole).samples)


def test_a_file_of_nothing_but_empty_chunks_is_refused_at_once():
    flood = b"RIFF\xff\xff\xff\xffWAVE" + (b"junk" + bytes(4)) * 500_000
    before = time.process_time()
    assert refusal(flood) == "damaged"
    assert time.process_time() - before < 0.5


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_no_file_whatever_raises_anything_but_a_sentence(data):
    whole = bytearray(wav(TONE[:600], bits=data.draw(st.sampled_from([8, 16, 24, 32]))))
    for _ in range(data.draw(st.integers(0, 6))):
        # The heading is where lies do harm, so it is hit most often.
        whole[data.draw(st.integers(0, 60))] = data.draw(st.integers(0, 255))
    whole = whole[: data.draw(st.integers(0, len(whole)))] + data.draw(st.binary(max_size=40))
    try:
        heard = read_sound(bytes(whole))
    except UnreadableSound:
        return
    assert np.isfinite(heard.samples).all()
    assert np.abs(heard.samples).max() <= 1.0
    assert heard.seconds <= 30.0


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=300))
def test_random_bytes_are_refused_with_a_sentence(junk):
    refusal(junk)


def test_a_wav_file_packed_in_another_way_is_refused_as_that():
    data = wav(TONE, extensible=True)
    tail = data.index(struct.pack("<H", 1) + PLAIN_SUBFORMAT_TAIL) + 2
    with pytest.raises(UnreadableSound) as no:
        read_sound(data[:tail] + b"\xff" + data[tail + 1 :])
    assert no.value.code == "format"
