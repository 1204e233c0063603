"""The ring of newest samples: what goes in comes out, also while it is being written."""

import threading

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from frothline.bench.ring_buffer import RingBuffer


def put(ring, numbers):
    numbers = np.asarray(numbers, dtype=float)
    ring.write(numbers / 10, numbers, numbers * 0 + 0.5, np.zeros(numbers.size, np.uint8))


@given(st.lists(st.integers(0, 40), max_size=30), st.integers(0, 60))
def test_the_newest_samples_come_out_in_order_whatever_the_batches(batches, wanted):
    ring, count = RingBuffer("line_pressure", "Pa", capacity=32), 0
    for size in batches:
        put(ring, range(count, count + size))
        count += size
    kept = ring.newest(wanted)
    assert ring.written == count
    assert kept.value.tolist() == list(range(count - min(wanted, count, 32), count))
    assert kept.first == count - len(kept.value)


@given(st.integers(1, 500), st.floats(0, 60))
def test_a_window_holds_the_samples_of_its_seconds_and_knows_their_absolute_numbers(count, seconds):
    ring = RingBuffer("line_pressure", "Pa", capacity=256)
    put(ring, range(count))
    window = ring.window(seconds)
    all_times = np.arange(max(0, count - 256), count) / 10
    assert window.time.tolist() == all_times[all_times >= all_times[-1] - seconds].tolist()
    assert window.value.tolist() == list(range(window.first, count))


@given(st.lists(st.integers(0, 40), max_size=30), st.floats(0, 6))
def test_a_window_is_found_wherever_the_newest_sample_lies_in_the_memory(batches, seconds):
    ring, count = RingBuffer("line_pressure", "Pa", capacity=32), 0
    for size in batches:
        put(ring, range(count, count + size))
        count += size
        window = ring.window(seconds)
        kept = np.arange(max(0, count - 32), count)
        expected = kept[kept / 10 >= (count - 1) / 10 - seconds]
        assert window.value.tolist() == expected.tolist()
        assert window.time.tolist() == (expected / 10).tolist()
        assert window.first == (expected[0] if count else 0)
        assert len(window.u) == len(window.status) == len(expected)


@given(st.lists(st.lists(st.floats(-1e3, 1e3) | st.just(float("nan")), max_size=30), max_size=9), st.floats(0, 6))
def test_the_recent_means_are_those_of_the_window(batches, seconds):
    ring, count = RingBuffer("line_pressure", "Pa", capacity=32), 0
    for batch in batches:
        value = np.array(batch, dtype=float)
        status = np.arange(count, count + value.size).astype(np.uint8)
        ring.write(np.arange(count, count + value.size) / 10, value, np.abs(value) + 1.0, status)
        count += value.size
    mean, window = ring.mean(seconds), ring.window(seconds)
    good = np.isfinite(window.value)
    assert mean.n == good.sum()
    if good.any():
        assert np.isclose(mean.value, window.value[good].mean(), atol=1e-9)
        assert np.isclose(mean.u, window.u[good].mean())
    if count:
        assert (mean.last_known, mean.last_status) == (good[-1], window.status[-1])
        assert mean.last_time == window.time[-1]
    else:
        assert mean.last_status is None
        assert not mean.last_known


def test_a_gap_is_one_unknown_sample_so_that_a_line_breaks_there():
    ring = RingBuffer("line_pressure", "Pa")
    put(ring, range(5))
    ring.gap(0.41)
    put(ring, range(20, 22))
    window = ring.window(10)
    assert np.isnan(window.value[5])
    assert window.status[5] == 1
    assert np.isfinite(window.value[[4, 6]]).all()


def test_an_empty_ring_gives_an_empty_window():
    assert RingBuffer("scale_mass", "kg").window(10).time.size == 0


def test_a_reader_beside_the_writer_never_sees_a_mixture_of_old_and_new():
    ring, over, seen = RingBuffer("line_pressure", "Pa", capacity=512), threading.Event(), [0, 0]

    def look():
        while not over.is_set():
            for window in (ring.newest(500), ring.window(49.9)):
                seen[0] += 1
                seen[1] += not np.array_equal(window.value, np.arange(window.first, window.first + len(window.value)))

    reader = threading.Thread(target=look)
    reader.start()
    for start in range(0, 400_000, 40):
        put(ring, range(start, start + 40))
    over.set()
    reader.join()
    assert seen[0] > 20
    assert seen[1] == 0
