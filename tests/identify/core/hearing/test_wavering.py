"""A beginner's wobble is one note, a slow bend is none; what may be no horn is never sure."""

import numpy as np
import pytest

from identify.core.hearing.halves import DOUBTED
from identify.core.hearing.listening import listen
from identify.core.hearing.notes import SURE
from identify.core.hearing.wavering import FEWEST_MOMENTS, bends, wavers
from tests.identify.tones import sound

RATE = 22_050


def tone(hz, cents=None, seconds=2.0, partials=10, fall=3.0, envelope=None):
    """A tone whose pitch goes as ``cents`` of the time, each partial ``fall`` dB under the one before."""
    time = np.arange(int(seconds * RATE)) / RATE
    off = np.zeros_like(time) if cents is None else cents(time)
    phase = 2 * np.pi * np.cumsum(hz * 2 ** (off / 1200)) / RATE
    dice = np.random.default_rng(1)
    numbers = [k for k in range(1, partials + 1) if k * hz < 0.45 * RATE]
    out = sum(10 ** (-fall * (k - 1) / 20) * np.sin(k * phase + 6.28 * dice.random()) for k in numbers)
    swell = np.minimum(1, time / 0.06) * np.minimum(1, (seconds - time) / 0.08)
    swell = swell if envelope is None else envelope(time)
    return 0.3 * out / np.abs(out).max() * swell + 0.002 * dice.standard_normal(len(time))


def heard(*args, **how):
    return listen(sound(tone(*args, **how)))


@pytest.mark.parametrize("hz", [117, 233, 466])
@pytest.mark.parametrize("times", [0.7, 1.5, 3, 5])
def test_a_wobble_of_sixty_cents_up_and_down_is_one_note_at_its_middle_and_never_sure(hz, times):
    found = heard(hz, lambda time: 60 * np.sin(2 * np.pi * times * time + 0.4))

    assert found.hz is not None, found.reason
    assert abs(1200 * np.log2(found.hz / hz)) < 30
    assert found.confidence <= DOUBTED < SURE
    assert any("wavers" in remark for remark in found.remarks)
    # In cents from that note, so that the line drawn of it lies about it; of many moments sixty are kept.
    assert abs(np.median(found.course)) < 10


@pytest.mark.parametrize("hz", [175, 349])
@pytest.mark.parametrize("cents", [-200, -100, 60, 80, 100, 150])
def test_a_slow_bend_is_not_one_note(hz, cents):
    assert heard(hz, lambda time: cents * (time / 2 - 0.5)).code == "moving"


def test_a_note_that_sinks_a_little_is_still_one():
    assert heard(175, lambda time: -30 * (time / 2 - 0.5)).hz is not None


@pytest.mark.parametrize("hz", [150, 233, 440, 700, 990])
def test_a_sine_is_never_sure(hz):
    assert not heard(hz, partials=1).sure
    assert heard(hz, partials=10).sure


@pytest.mark.parametrize(("hz", "sure"), [(990, True), (1010, False), (1050, False), (1200, False)])
def test_a_whistle_above_a_thousand_hertz_is_never_sure(hz, sure):
    assert heard(hz, partials=4, fall=6).sure == sure


@pytest.mark.parametrize("hz", [1397, 2093])
def test_what_has_nothing_below_a_thousand_hertz_is_never_sure_whatever_note_it_is_taken_for(hz):
    time = np.arange(2 * RATE) / RATE
    three = sum(level * np.sin(2 * np.pi * hz * k * time) for k, level in ((1, 0.3), (3, 0.12), (5, 0.05)))

    assert not listen(sound(three)).sure


@pytest.mark.parametrize(("hz", "doubted"), [(75, True), (77.8, False)])
def test_what_lies_under_the_lowest_open_note_of_a_horn_is_doubted(hz, doubted):
    assert (heard(hz, partials=20, fall=1).confidence <= DOUBTED) == doubted


@pytest.mark.parametrize("hz", [71.4, 120, 180])
def test_a_drum_is_never_sure(hz):
    assert not heard(hz, seconds=1.5, envelope=lambda time: np.exp(-time / 0.3) * np.minimum(1, time / 0.004)).sure


@pytest.mark.parametrize(("dies", "sure"), [(0.15, True), (0.1, False)])
def test_a_note_that_dies_away_as_a_blow_does_is_never_sure(dies, sure):
    # From the middle of the first third to that of the last it falls by 11 dB in the first case, by 13 in the second.
    found = heard(233, envelope=lambda time: np.minimum(1, time / 0.02) * dies ** (time / 2))

    assert found.sure == sure


def course(*cents):
    return np.repeat(np.array(cents, dtype=float), 5)


@pytest.mark.parametrize(
    ("cents", "bent"),
    [
        (course(0, 20, 30, 40), True),
        (course(0, 13, 26, 39), False),
        (course(0, -20, -30, -40), True),
        (course(0, 0, 0, 60), False),
        (course(-60, 0, 0, 0), False),
        (course(0, 0, 8, 60), True),
        (course(0, 0, 7, 60), False),
        (course(3, 0, 20, 60), True),
        (course(4, 0, 20, 60), False),
    ],
)
def test_a_bend_goes_one_way_through_more_than_half_of_the_recording(cents, bent):
    assert bends(cents) is bent


@pytest.mark.parametrize(("moments", "long"), [(FEWEST_MOMENTS - 1, False), (FEWEST_MOMENTS, True)])
def test_of_a_few_moments_nothing_is_said(moments, long):
    assert bends(np.linspace(0, 80, moments)) is long
    assert wavers(30 * (-1.0) ** (np.arange(moments) // 3)) is long


def there_and_back(most, turns, moments=200):
    """Goes from the middle up to ``most`` cents, and through the middle ``turns`` times."""
    return most * np.sin(np.linspace(0, np.pi * (turns + 1), moments))


@pytest.mark.parametrize(("most", "turns", "wavering"), [(85, 3, True), (110, 3, False), (60, 2, True), (60, 1, False)])
def test_a_note_wavers_that_goes_more_than_once_through_its_middle_and_not_far_from_it(most, turns, wavering):
    assert wavers(there_and_back(most, turns)) is wavering


@pytest.mark.parametrize(("between", "wavering"), [(30, True), (29, False)])
def test_a_wobble_is_found_in_its_middle_now_and_then_and_two_notes_in_turn_are_not(between, wavering):
    """Of 200 moments."""
    high, low = [50.0] * 50, [-50.0] * 50
    course = [*high, *low, *high, *low]
    course[35 : 35 + between] = [0.0] * between

    assert wavers(np.array(course)) is wavering


@pytest.mark.parametrize(("step", "wavering"), [(40, True), (41, False)])
def test_noise_that_jumps_does_not_waver(step, wavering):
    assert wavers(step / 2 * (-1.0) ** np.arange(40)) is wavering


@pytest.mark.parametrize(("outside", "wavering"), [(5, True), (6, False)])
def test_one_moment_in_twenty_may_stray(outside, wavering):
    cents = there_and_back(60, 6, 100)
    cents[10 : 10 + outside] = 110

    assert wavers(cents) is wavering


def hum(hz, ripple, partials=2, hiss=0.05):
    """A second without beginning or end; ``ripple`` is how much fainter its faintest moment is."""
    time = np.arange(RATE) / RATE
    out = sum(np.sin(2 * np.pi * hz * k * time + k) / k for k in range(1, partials + 1))
    out *= 1 - ripple / 2 * (1 - np.cos(4 * np.pi * time))
    return 0.02 * (out + hiss * np.random.default_rng(2).standard_normal(RATE))


@pytest.mark.parametrize(
    ("hz", "ripple", "is_hum"),
    [(100.4, 0.45, True), (119.5, 0.45, True), (100.4, 0.75, True), (101.0, 0.45, False), (98.0, 0.45, False)],
)
def test_about_twice_the_mains_is_hum_though_a_room_makes_it_less_even(hz, ripple, is_hum):
    assert (listen(sound(hum(hz, ripple))).code == "hum") == is_hum


def test_what_is_clearly_a_note_about_twice_the_mains_is_heard():
    assert listen(sound(hum(100.4, 0.45, partials=6, hiss=0.01))).hz is not None


@pytest.mark.parametrize(("least", "heard_so"), [(0.5, True), (1.0, False)])
def test_what_is_no_clearer_when_straightened_is_left_as_it_was(monkeypatch, least, heard_so):
    monkeypatch.setattr("identify.core.hearing.listening.STRAIGHT", least)

    assert (heard(233, lambda time: 60 * np.sin(9.4 * time)).hz is not None) == heard_so
