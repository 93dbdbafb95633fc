"""Reads a short recording from a WAV file held in memory, carefully.

The browser sends 16-bit mono; a file that somebody brings may hold anything. Whatever comes in, the answer
is either a ``Sound`` or one ``UnreadableSound`` whose text can be shown as it is, in bounded time and
memory.

Layout of the file: "Multimedia Programming Interface and Data Specifications 1.0" (1991) for RIFF/WAVE, and
the published description of WAVEFORMATEXTENSIBLE (2001). Written from those descriptions.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from identify.core.horns.speech import _s

MOST_BYTES = 32 * 1024 * 1024
"""The largest file read at all. Thirty seconds of 96 kHz stereo floats are 23 MB."""
MOST_SECONDS = 30.0
SLOWEST_RATE, FASTEST_RATE = 8_000, 192_000
MOST_CHANNELS = 8
MOST_CHUNKS = 1_000  # a file of nothing but empty chunks would otherwise keep us busy for seconds

PCM, FLOAT, EXTENSIBLE = 1, 3, 0xFFFE
# The tail shared by the sub-format identifiers of plain formats; the format's number stands in the first
# two bytes.
PLAIN_SUBFORMAT_TAIL = bytes.fromhex("000000001000800000aa00389b71")

# What the first bytes of other files look like, so that a renamed file is called by its name.
OTHER_FILES = (
    (b"%PDF", "a PDF document"),
    (b"ID3", "an MP3 file"),
    (b"\xff\xfb", "an MP3 file"),
    (b"OggS", "an Ogg file"),
    (b"fLaC", "a FLAC file"),
    (b"\x1aE\xdf\xa3", "a WebM file"),
    (b"FORM", "an AIFF file"),
    (b"RIFX", "a WAV file of a rare kind, written back to front"),
    (b"RF64", "a WAV file of the very long kind"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"PK\x03\x04", "a zip file or an office document"),
)
MP4 = "an MP4 or M4A file"


class UnreadableSound(ValueError):
    """The file holds no recording that can be analysed; the text says why and what to do.

    ``code`` is one of: empty, too-big, not-wav, damaged, format, rate, channels, not-numbers.
    """

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code


@dataclass(frozen=True, eq=False)
class Sound:
    """One recording. ``samples`` is one-dimensional float32 within ±1, ``rate`` in samples a second.

    ``clipped`` is the share of samples (0–1) that sit at the ceiling; ``remarks`` are sentences about what
    was repaired on the way in, such as a length that did not match.
    """

    samples: NDArray[np.float32]
    rate: int
    clipped: float = 0.0
    remarks: tuple[str, ...] = ()

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate


@dataclass(frozen=True)
class _Form:
    kind: int
    channels: int
    rate: int
    bits: int

    @property
    def frame(self) -> int:
        """Bytes of one moment in time over all channels."""
        return self.channels * self.bits // 8


def read_sound(source: bytes | BinaryIO) -> Sound:
    """The recording in a WAV file: 8, 16, 24 or 32-bit numbers, 32 or 64-bit floats, up to eight channels.

    Reads at most ``MOST_BYTES`` + 1 from a stream, keeps at most the first thirty seconds, mixes to one
    channel. Raises ``UnreadableSound``.
    """
    data = source if isinstance(source, bytes) else source.read(MOST_BYTES + 1)
    if not data:
        raise UnreadableSound("empty", _s("The recording is empty: nothing arrived. Record the note again."))
    if len(data) > MOST_BYTES:
        raise UnreadableSound(
            "too-big",
            _s("The file is larger than %(most)s MB. One to five seconds are enough.") % {"most": MOST_BYTES // 2**20},
        )
    form, body, remarks = _chunks(data)
    wanted = int(MOST_SECONDS * form.rate) * form.frame
    if len(body) > wanted:
        remarks.append(_s("Only the first %(seconds)s seconds were listened to.") % {"seconds": f"{MOST_SECONDS:.0f}"})
    body = body[:wanted]
    body = body[: len(body) // form.frame * form.frame]
    if not body:
        raise UnreadableSound("empty", _again(_s("The file holds no sound after its heading.")))
    channels = _numbers(body, form).reshape(-1, form.channels)
    if not np.isfinite(channels).all():
        raise UnreadableSound(
            "not-numbers",
            _again(_s("The recording holds values that are not numbers, so it cannot be trusted.")),
        )
    peak = float(np.abs(channels).max())
    if peak > 1.0:  # floats may go over the top without being clipped; bring them back before anything is squared
        channels = (channels / peak).astype(np.float32)
    mono = _mix(channels.astype(np.float32))
    return Sound(mono, form.rate, _clipped_share(channels), tuple(remarks))


def _again(sentence: str) -> str:
    """A sentence that says what is wrong, and what to do."""
    return f"{sentence} {_s('Record the note again, or save the recording as a 16-bit WAV file.')}"


def _not_wav(name: str) -> UnreadableSound:
    return UnreadableSound("not-wav", _again(_s("This is %(name)s, not a WAV recording.") % {"name": _s(name)}))


def _packed() -> UnreadableSound:
    return UnreadableSound("format", _again(_s("The sound in this WAV file is packed in a way we cannot read.")))


def _chunks(data: bytes) -> tuple[_Form, memoryview, list[str]]:
    """The format and the bytes of the sound. Lengths in the file are claims, never trusted beyond its end."""
    if data[:4] != b"RIFF" or data[8:12] != b"WAVE":
        for start, name in OTHER_FILES:
            if data.startswith(start):
                raise _not_wav(name)
        if data[4:8] == b"ftyp":
            raise _not_wav(MP4)
        raise UnreadableSound("not-wav", _again(_s("This is not a WAV recording.")))
    view = memoryview(data)
    form: _Form | None = None
    body: memoryview | None = None
    remarks: list[str] = []
    at = 12
    for _ in range(MOST_CHUNKS):
        if at + 8 > len(data) or (form and body is not None):
            break
        chunk = bytes(view[at : at + 4])
        (length,) = struct.unpack_from("<I", data, at + 4)
        begin, end = at + 8, at + 8 + length
        if chunk == b"fmt " and form is None:
            form = _form(bytes(view[begin : min(end, begin + 40)]))
        elif chunk == b"data" and body is None:
            if end > len(data) or (length == 0 and begin < len(data)):
                # A recorder that was cut off, or one that never went back to fill in the length.
                remarks.append(_s("The file’s length did not match its heading; what was there was used."))
                end = len(data)
            body = view[begin:end]
        at = end + (length & 1)
    if form is None:
        raise UnreadableSound("damaged", _again(_s("The file is cut off or damaged: it does not say what it holds.")))
    if body is None:
        raise UnreadableSound("damaged", _again(_s("The file is cut off or damaged: it holds no sound.")))
    return form, body, remarks


def _form(heading: bytes) -> _Form:
    if len(heading) < 16:
        raise UnreadableSound("damaged", _again(_s("The file is cut off or damaged: its heading is too short.")))
    kind, channels, rate, _per_second, _frame, bits = struct.unpack_from("<HHIIHH", heading)
    if kind == EXTENSIBLE:
        if len(heading) < 40 or heading[26:40] != PLAIN_SUBFORMAT_TAIL:
            raise _packed()
        (kind,) = struct.unpack_from("<H", heading, 24)
    bits = (bits + 7) // 8 * 8  # 12 or 20 bits sit at the top of the next whole byte
    if (kind, bits) not in {(PCM, 8), (PCM, 16), (PCM, 24), (PCM, 32), (FLOAT, 32), (FLOAT, 64)}:
        raise _packed()
    if not 1 <= channels <= MOST_CHANNELS:
        raise UnreadableSound(
            "channels", _again(_s("The file says it has %(channels)s channels.") % {"channels": channels})
        )
    if not SLOWEST_RATE <= rate <= FASTEST_RATE:
        raise UnreadableSound(
            "rate",
            _again(
                _s("The file gives its sample rate as %(rate)s Hz; %(least)s to %(most)s Hz can be read.")
                % {"rate": rate, "least": SLOWEST_RATE, "most": FASTEST_RATE}
            ),
        )
    return _Form(kind, channels, rate, bits)


def _numbers(body: memoryview, form: _Form) -> NDArray[np.float32]:
    """The samples as float32; whole numbers come out within ±1, floats as they are."""
    if form.kind == FLOAT:
        with np.errstate(over="ignore", invalid="ignore"):  # a 64-bit float too large for 32 becomes inf, refused later
            return np.frombuffer(body, dtype=f"<f{form.bits // 8}").astype(np.float32)
    if form.bits == 8:
        return (np.frombuffer(body, dtype=np.uint8).astype(np.float32) - 128.0) / 128.0
    if form.bits == 24:
        triples = np.frombuffer(body, dtype=np.uint8).reshape(-1, 3)
        words = np.zeros((len(triples), 4), dtype=np.uint8)
        words[:, 1:] = triples
        return words.reshape(-1).view("<i4").astype(np.float32) / 2.0**31
    return np.frombuffer(body, dtype=f"<i{form.bits // 8}").astype(np.float32) / 2.0 ** (form.bits - 1)


def _mix(channels: NDArray[np.float32]) -> NDArray[np.float32]:
    """One channel: the mean, or the loudest where the channels cancel each other."""
    if channels.shape[1] == 1:
        return np.ascontiguousarray(channels[:, 0])
    mean: NDArray[np.float32] = channels.mean(axis=1, dtype=np.float32)
    power = np.square(channels).mean(axis=0)
    if float(np.square(mean).mean()) < 0.2 * float(power.max()):
        return np.ascontiguousarray(channels[:, int(power.argmax())])
    return mean


def _clipped_share(channels: NDArray[np.float32]) -> float:
    """The share of samples at the ceiling, where the same extreme value comes twice or more in a row."""
    peak = float(np.abs(channels).max())
    if peak < 0.05:
        return 0.0
    at_top = np.abs(channels) >= 0.999 * peak
    together = at_top[1:] & at_top[:-1]
    return float(together.mean()) if len(together) else 0.0
