"""Board time, rotor edges, windows of conversions and the button, held against exact arithmetic in Python."""

import random
from fractions import Fraction

import pytest
from firmware_probe import SECOND, flag

CONVERSION = 208  # ticks: 13 converter clocks at 125 kHz (ATmega328P data sheet, table "ADC Conversion Time")
WRAP = 1 << 32
ALL = sum(1 << kind for kind in range(1, 10))
PRESSURE, DIFFERENTIAL, THERMAL, TEMPERATURE, SUPPLY = 1 << 1, 1 << 2, 1 << 4, 1 << 5, 1 << 6


# --- the timer and its wrap ---


def test_a_capture_is_right_on_either_side_of_the_wrap_whether_it_was_counted_yet_or_not(probe):
    """True time t; the capture interrupt reads the count of overflows up to 1000 ticks later, the wrap pending or not."""
    for overflows in (0, 1, 7, 0xFFFE, 0xFFFF):
        for offset in (-3000, -1000, -2, -1, 0, 1, 2, 500, 1000, 3000):
            captured = (overflows << 16) + 0x10000 + offset
            for delay in (0, 1, 10, 1000):
                read = captured + delay
                for counted in (True, False):
                    wrapped = read >= (overflows << 16) + 0x10000
                    seen = (overflows + 1) & 0xFFFF if wrapped and counted else overflows
                    pending = wrapped and not counted
                    if pending is False and wrapped and captured < (overflows << 16) + 0x10000:
                        continue  # the wrap was counted before the capture was read: priority of the vectors forbids it
                    got = int(probe.ask("extend", seen, captured & 0xFFFF, int(pending)))
                    assert got == captured % WRAP, (overflows, offset, delay, counted)


# --- the rotor ---


def rotor(probe, *steps):
    answer = probe.ask("rotor", *(word for step in steps for word in step)).split()
    return [tuple(map(int, one.split(","))) for one in answer]


STOPPED, SEEN = flag("line_flag", "rotor_stopped"), flag("line_flag", "rotor_seen")


def test_a_rotor_that_never_turned_is_stopped_and_unseen(probe):
    assert rotor(probe, ("watch", 5), ("read", 10)) == [(0, 0, STOPPED, 0)]


def test_a_turning_rotor_gives_its_count_and_the_capture_of_the_last_edge(probe):
    steps = [("edge", 1000 * k) for k in range(1, 8)]
    assert rotor(probe, *steps, ("watch", 7100), ("read", 7100)) == [(7, 7000, SEEN, 0)]


def test_an_edge_after_the_end_of_the_window_belongs_to_the_next(probe):
    assert rotor(probe, ("edge", 1000), ("edge", 2100), ("read", 2000), ("read", 2200)) == [
        (1, 1000, SEEN, 0),
        (2, 2100, SEEN, 0),
    ]


def test_the_first_edge_after_a_stop_does_not_hide_the_stop_from_the_window_before_it(probe):
    late = 1000 + 3 * SECOND
    assert rotor(probe, ("edge", 1000), ("watch", late), ("edge", late + 50), ("read", late), ("read", late + 99)) == [
        (1, 1000, SEEN | STOPPED, 0),
        (2, late + 50, SEEN, 0),
    ]


def test_a_rotor_is_stopped_one_second_after_its_last_edge_and_stays_so_through_the_wrap_of_the_tick(probe):
    """Half a turn of the tick is 1073 s: an age found by subtraction alone would grow young again."""
    for edge in (5000, WRAP - 1000, (1 << 31) - 1, 1 << 31):
        steps = [("edge", edge), ("watch", (edge + SECOND) % WRAP), ("read", (edge + SECOND) % WRAP)]
        for later in (1.001, 10, 1000, 1073, 1074, 2000, 2147.4, 2148, 3000):
            now = round(edge + later * SECOND) % WRAP
            steps += [("watch", now), ("read", now)]
        readings = rotor(probe, *steps)
        assert readings[0] == (1, edge, SEEN, 0)
        assert readings[1:] == [(1, edge, SEEN | STOPPED, 0)] * 9


def test_edges_closer_than_125_us_are_counted_as_rejected_and_not_as_pulses(probe):
    steps = [("edge", 10_000), ("edge", 10_100), ("edge", 10_249), ("edge", 10_250), ("edge", 10_500)]
    assert rotor(probe, *steps, ("read", 11_000)) == [(3, 10_500, SEEN, 2)]


# --- windows ---


def windows(probe, rate, start, seconds, channels=PRESSURE | TEMPERATURE | SUPPLY):
    n = round(seconds * SECOND / CONVERSION)
    answer = [one.split(",") for one in probe.ask("windows", rate, start, n, channels).split()]
    fast = [tuple(map(int, one)) for one in answer if one[0] != "slow"]
    slow = [tuple(map(int, one[1:])) for one in answer if one[0] == "slow"]
    return fast, slow


@pytest.mark.parametrize("rate", [10, 11, 60, 100, 137, 300, 333, 499, 500])
@pytest.mark.parametrize("start", [0, 12_345, WRAP - SECOND])
def test_windows_end_on_the_exact_schedule_of_any_rate(probe, rate, start):
    """The k-th window ends floor(k * 2 MHz / rate) after the start, through the wrap of the tick, without drift."""
    fast, _ = windows(probe, rate, start, 3.0)
    ends = [(start + int(Fraction(k * SECOND, rate))) % WRAP for k in range(1, len(fast) + 1)]
    assert [w[0] for w in fast] == ends
    assert len(fast) >= 3 * rate - 1
    assert [w[4] for w in fast] == [flag("line_flag", "first")] + [0] * (len(fast) - 1)


@pytest.mark.parametrize("rate", [10, 100, 500])
def test_every_conversion_falls_into_one_window_or_is_thrown_away_after_a_change_of_input(probe, rate):
    """Pressure alone: of some 8 x 224 conversions the looks take 7 x (2 + 4) + (12 + 2), and 8 x 2 to come back: 96 %."""
    fast, slow = windows(probe, rate, 0, 4.0)
    conversions = fast[-1][0] / CONVERSION
    summed = sum(w[1] for w in fast)
    assert 0.955 < summed / conversions < 0.97
    assert [s[0] for s in slow] == [400_000 * k for k in range(1, len(slow) + 1)]


@pytest.mark.parametrize("channels", [PRESSURE | TEMPERATURE | SUPPLY, ALL])
def test_every_slow_message_holds_line_temperature_and_supply(probe, channels):
    _, slow = windows(probe, 100, 0, 20.0, channels)
    assert len(slow) >= 99
    assert min(s[1] for s in slow) >= 20
    assert min(s[2] for s in slow) >= 1


def test_at_500_hz_no_window_is_without_pressure_even_with_every_input_enabled(probe):
    fast, _ = windows(probe, 500, 0, 10.0, ALL)
    assert min(w[1] for w in fast) >= 1
    whole = fast[1:]
    assert sum(w[1] for w in whole) > 2 * sum(w[2] + w[3] for w in whole) * 0.9  # pressure has most
    # the supply's look with its settling takes 1.5 ms of a 2 ms window, so some lack another input; few they must be
    lacking = sum(1 for w in whole if w[2] == 0 or w[3] == 0)
    assert lacking <= 0.05 * len(whole)


def test_at_100_hz_every_window_holds_every_enabled_input(probe):
    fast, _ = windows(probe, 100, 0, 10.0, ALL)
    assert min(min(w[1:4]) for w in fast) >= 2


def test_inputs_that_are_not_enabled_are_never_looked_at(probe):
    looked = set(probe.ask("inputs", PRESSURE, 20_000))
    assert looked == {"0"}
    assert set(probe.ask("inputs", PRESSURE | THERMAL, 20_000)) == {"0", "2"}
    assert set(probe.ask("inputs", ALL, 20_000)) == set("01234")


def test_a_look_at_the_bandgap_lasts_until_it_has_settled(probe):
    """The data sheet asks for time after selecting the bandgap; 1 ms is 9.6 conversions, of which two are summed."""
    looks = [part for part in probe.ask("inputs", PRESSURE | SUPPLY, 40_000).split("0") if part]
    assert looks
    assert {len(look) for look in looks} == {14}


# --- the button ---


def presses(probe, contact, every=2000):
    words = [word for k, closed in enumerate(contact) for word in (int(closed), k * every)]
    return [int(tick) // every for tick in probe.ask("button", *words).split()]


def test_a_bouncing_press_is_one_mark_at_its_last_touch(probe):
    """Asked each millisecond: 3 ms of bounce, a press of 200 ms, 3 ms of bounce on release."""
    contact = [0] * 10 + [1, 0, 1, 0, 1] + [1] * 200 + [0, 1, 0, 1, 0] + [0] * 100
    assert presses(probe, contact) == [14]


def test_a_glitch_shorter_than_20_ms_is_no_mark(probe):
    assert presses(probe, [0] * 10 + [1] * 19 + [0] * 50) == []


def test_presses_are_counted_apart(probe):
    contact = ([0] * 50 + [1] * 50) * 4 + [0] * 50
    assert presses(probe, contact) == [50, 150, 250, 350]


def test_random_bounce_never_makes_two_marks_of_one_press(probe):
    source = random.Random(4)
    for _ in range(50):
        bounce = [source.randrange(2) for _ in range(12)]
        release = [source.randrange(2) for _ in range(12)]
        assert len(presses(probe, [0] * 5 + bounce + [1] * 100 + release + [0] * 60)) == 1
