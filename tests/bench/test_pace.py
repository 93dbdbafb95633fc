"""Seconds are asked for at the pace of one machine, whatever other one a benchmark is run on."""

from __future__ import annotations

import sys

import pytest

from tests.bench.pace import BARE_SECONDS, begun, times_slower


def test_a_machine_half_as_fast_has_twice_as_long_and_a_faster_one_is_asked_for_no_more():
    assert times_slower(2 * BARE_SECONDS) == pytest.approx(2)
    assert times_slower(BARE_SECONDS / 2) == 1


def test_the_peer_is_a_site_that_answers_and_says_what_that_took_and_what_it_holds():
    seconds, held = begun()

    assert seconds > 0
    assert held > 10 if sys.platform == "linux" else held == 0
    with pytest.raises(RuntimeError, match="It answered 404"):
        begun("def application(environ, start): start('404 Not Found', []); return [b'']\n")
