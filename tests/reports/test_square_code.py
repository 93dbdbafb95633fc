"""Our choice of mask against a slow and plain reading of ISO/IEC 18004, 7.8.3.1, and against an outside decoder."""

import numpy as np
import segno
import zxingcpp
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fleet.reports.sheet.square_code import modules, penalties, runs


def plain_penalty(rows: list[list[bool]]) -> int:
    size = len(rows)
    score = 0
    for line in [*rows, *[list(column) for column in zip(*rows, strict=True)]]:
        length = 1
        for before, now in zip(line, [*line[1:], None], strict=True):
            if now == before:
                length += 1
                continue
            score += length - 2 if length >= 5 else 0
            length = 1
        said = "".join("1" if one else "0" for one in [False] * 4 + line + [False] * 4)
        for at in range(len(said) - 10):
            score += 40 if said[at : at + 11] in {"10111010000", "00001011101"} else 0
    for y in range(size - 1):
        for x in range(size - 1):
            score += 3 if rows[y][x] == rows[y][x + 1] == rows[y + 1][x] == rows[y + 1][x + 1] else 0
    dark = sum(map(sum, rows)) * 100 / size**2
    return int(score + 10 * (abs(dark - 50) // 5))


@given(st.from_regex(r"https://[a-z]{3,20}\.example\.org/h/[0-9A-Z]{8}/", fullmatch=True))
@example("Räume")
@example("HN-0007 hängt")
@settings(max_examples=25, deadline=None)
def test_the_code_is_the_librarys_own_with_the_mask_of_the_least_penalty(address):
    ours = modules(address).tolist()
    theirs = [
        [[bool(one) for one in row] for row in segno.make(address.encode(), error="m", micro=False, mask=mask).matrix]
        for mask in range(8)
    ]
    assert ours in theirs
    assert plain_penalty(ours) == min(map(plain_penalty, theirs))


@given(st.lists(st.booleans(), min_size=441, max_size=441))
@settings(max_examples=40, deadline=None)
def test_the_penalty_is_that_of_the_plain_reading(bits):
    symbol = np.array(bits, dtype=np.bool_).reshape(21, 21)
    assert penalties(symbol[None]).tolist() == [plain_penalty(symbol.tolist())]


@given(st.text(min_size=1, max_size=60))
@settings(max_examples=40, deadline=None)
def test_an_outside_reader_reads_what_was_written(said):
    said = said.encode("utf-8", "ignore").decode()
    if not said:
        return
    symbol = np.pad(~modules(said), 4, constant_values=True)
    picture = np.kron(symbol, np.ones((6, 6))).astype(np.uint8) * 255
    found = zxingcpp.read_barcodes(picture)
    assert [one.bytes for one in found] != []


def test_runs_cover_the_dark_modules_and_no_others():
    symbol = modules("https://horns.example.org/h/ABCD2345/")
    drawn = np.zeros_like(symbol)
    for x, y, length in runs(symbol):
        assert not drawn[y, x : x + length].any()
        drawn[y, x : x + length] = True
    assert (drawn == symbol).all()
