"""Board ticks without their wrap: the true count is drawn, sent modulo 2**32, and must come back."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frothline.wire import StreamDecoder, Tables, decode_all, encode, gather
from frothline.wire.ticks import HALF, WRAP, BootTicks, ahead, apart, boot_starts, nearest, not_after

HZ = 2_000_000
NAMES = ("line", "slow", "ambient", "scale", "mark", "health")


def line(sequence, tick):
    rest = dict.fromkeys(
        ("pressure_sum", "pressure_n", "differential_sum", "differential_n", "thermal_sum", "thermal_n", "pulses"), 1
    )
    return encode("line", sequence, tick=tick % WRAP, edge_tick=0, flags=0, **rest)


def scale(sequence, tick):
    return encode("scale", sequence, tick=tick % WRAP, counts=0, flags=3)


def described(sequence, tick, boot, label="shed"):
    numbers = dict.fromkeys(
        ("protocol", "layout_hash", "firmware_major", "firmware_minor", "firmware_patch", "board_kind", "reset_cause",
         "streaming", "rate", "enabled", "present", "adc_clock_hz", "adc_cycles", "rotor_timeout_ticks", "channels"), 1,
    )  # fmt: skip
    return encode("description", sequence, tick=tick % WRAP, tick_hz=HZ, boot_count=boot, label=label, **numbers)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(NAMES), st.integers(-2 * HZ, HALF - 3 * HZ)), min_size=1, max_size=60),
    st.integers(0, WRAP - 1),
    st.lists(st.integers(0, 60), max_size=4),
)
def test_the_order_of_the_frames_resolves_any_length_and_any_late_table(frames, start, cuts):
    """Frames of several tables up to just under half the range apart, or overtaking each other by two seconds."""
    true = start + np.cumsum([step for _, step in frames])
    sent = {name: [k for k, (which, _) in enumerate(frames) if which == name] for name in NAMES}
    counter, found = BootTicks(), {}
    bounds = [0, *sorted(min(cut, len(frames)) for cut in cuts), len(frames)]
    for low, high in pairwise(bounds):
        rows, offsets = {}, {}
        for name, places in sent.items():
            inside = [k for k in places if low <= k < high]
            if inside:
                table = Tables()[name]
                table = np.zeros(len(inside), table.dtype)
                table["tick"] = true[inside] % WRAP
                rows[name], offsets[name] = table, np.array(inside)
        for name, ticks in counter.feed_tables(Tables(rows, offsets)).items():
            found.setdefault(name, []).extend(ticks)
    first = int(true[0]) // WRAP * WRAP  # whole turns before the first frame cannot be seen
    for name, places in sent.items():
        assert found.get(name, []) == [int(true[k]) - first for k in places]


def test_the_shorter_and_the_forward_way_round():
    """By hand, at the wrap."""
    assert ahead(5, WRAP - 5) == 10
    assert ahead(WRAP - 5, 5) == WRAP - 10
    assert apart(5, WRAP - 5) == 10
    assert apart(WRAP - 5, 5) == -10
    assert nearest(5, 3 * WRAP - 1) == 3 * WRAP + 5
    assert nearest(WRAP - 1, 3 * WRAP + 5) == 3 * WRAP - 1
    assert not_after(WRAP - 1, 3 * WRAP + 5) == 3 * WRAP - 1
    assert not_after(5, 3 * WRAP + 5) == 3 * WRAP + 5
    assert not_after(6, 3 * WRAP + 5) == 2 * WRAP + 6


@pytest.mark.parametrize("minutes", [18, 36, 75, 600])
def test_a_table_that_begins_late_is_placed_by_the_frames_around_it(minutes):
    ticks = [second * HZ for second in range(60 * minutes)]
    late = [second * HZ + 11 for second in range(60 * minutes - 30, 60 * minutes)]
    data = b"".join(line(k, tick) for k, tick in enumerate(ticks[:-30]))
    data += b"".join(line(k, a) + scale(k, b) for k, (a, b) in enumerate(zip(ticks[-30:], late, strict=True)))
    for tables in (decode_all(data).tables, gather(StreamDecoder().feed(data))):
        found = BootTicks().feed_tables(tables)
        assert found["scale"].tolist() == late
        assert found["line"].tolist() == ticks


def test_both_decoders_give_the_order_of_the_frames():
    data = b"\0\0" + line(0, 5) + b"noise\0" + scale(1, 6) + line(2, 7)
    whole, streamed = decode_all(data).tables, gather(StreamDecoder().feed(data))
    assert whole.ordered
    assert streamed.ordered
    for name in whole:
        assert whole.offsets[name].tolist() == streamed.offsets[name].tolist()
    middle = whole.between(whole.offsets["line"][0] + 1, whole.offsets["line"][1])
    assert list(middle) == ["scale"]
    assert middle.ordered


def starts(*frames):
    """Numbers of the frames at which a board is found to begin counting."""
    tables = decode_all(b"".join(frames)).tables
    places = np.cumsum([0, *(len(frame) for frame in frames)])
    return [int(np.searchsorted(places, offset)) for offset in boot_starts(tables)]


def test_a_boot_begins_with_its_description_even_where_no_tick_goes_back():
    """A board that ran for two seconds, and one that is heard again three seconds after its boot."""
    assert starts(described(0, 0, 4), line(1, 2 * HZ), described(0, 0, 5), line(1, 3 * HZ)) == [2]


def test_a_boot_whose_description_was_lost_is_seen_by_the_ticks():
    assert starts(described(0, 0, 4), line(1, 900 * HZ), line(0, HZ), described(5, 2 * HZ, 5), line(6, 3 * HZ)) == [
        2,
        3,
    ]


def test_a_boot_that_was_announced_is_counted_once():
    first = [described(0, 0, 4), line(1, 900 * HZ)]
    assert starts(*first, described(0, 0, 5), scale(1, HZ), line(2, HZ), line(3, 2 * HZ)) == [2]


def test_the_same_boot_described_again_and_the_wrap_of_the_counter_are_no_boots():
    assert starts(described(0, 0, 4), line(1, WRAP - HZ), described(2, 0, 4), line(3, WRAP + HZ)) == []


def test_another_board_with_the_same_boot_count_is_another_boot():
    assert starts(described(0, 0, 4), line(1, HZ), described(0, 0, 4, "bench"), line(1, 2 * HZ)) == [2]
