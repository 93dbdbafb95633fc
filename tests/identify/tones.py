"""Tones and files made for the tests: what they sound is known because it was put in."""

import struct

import numpy as np

from identify.core.hearing.sound import Sound


def horn_tone(hz, seconds=1.5, rate=22_050, partials=10, gain=0.3, seed=1, hiss=0.002):
    """A tone of ``partials`` partials, falling 3 dB each, that swells in and dies away, with a little hiss."""
    time = np.arange(int(seconds * rate)) / rate
    dice = np.random.default_rng(seed)
    tone = np.zeros(len(time))
    for k in range(1, partials + 1):
        if k * hz < 0.45 * rate:
            tone += 10 ** (-3 * (k - 1) / 20) * np.sin(2 * np.pi * (k * hz * time + dice.random()))
    swell = np.minimum(1, time / 0.06) * np.minimum(1, (seconds - time) / 0.08)
    breath = 1 + 0.03 * np.sin(2 * np.pi * 0.7 * time)
    tone = tone / np.abs(tone).max() * swell * breath * gain
    return (tone + hiss * gain / 0.3 * dice.standard_normal(len(time))).astype(np.float32)


def sound(samples, rate=22_050):
    return Sound(np.asarray(samples, dtype=np.float32), rate)


def wav(samples, rate=22_050, bits=16, kind=1, channels=1, extensible=False, claimed=None):
    """A WAV file of samples within ±1, the same on every channel; ``claimed`` is a false length for its data."""
    mono = np.asarray(samples, dtype=np.float64)
    many = np.repeat(mono, channels)
    if kind == 3:
        body = many.astype(f"<f{bits // 8}").tobytes()
    elif bits == 8:
        body = np.clip(np.round(many * 127 + 128), 0, 255).astype(np.uint8).tobytes()
    elif bits == 24:
        whole = np.round(many * (2**23 - 1)).astype("<i4")
        body = whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    else:
        body = np.round(many * (2 ** (bits - 1) - 1)).astype(f"<i{bits // 8}").tobytes()
    frame = channels * bits // 8
    form = struct.pack("<HHIIHH", 0xFFFE if extensible else kind, channels, rate, rate * frame % 2**32, frame, bits)
    if extensible:
        tail = bytes.fromhex("000000001000800000aa00389b71")
        form += struct.pack("<HHIH", 22, bits, 0, kind) + tail
    length = len(body) if claimed is None else claimed
    chunks = b"fmt " + struct.pack("<I", len(form)) + form + b"data" + struct.pack("<I", length) + body
    return b"RIFF" + struct.pack("<I", (4 + len(chunks)) % 2**32) + b"WAVE" + chunks
