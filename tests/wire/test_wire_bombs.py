"""Files made to exhaust the memory: what they take is a small multiple of their size."""

import tracemalloc

import pytest

from frothline.wire import decode_all


def peak(data):
    """Largest memory of the decoder as a multiple of the file's size."""
    tracemalloc.start()
    try:
        found = decode_all(data)
        return tracemalloc.get_traced_memory()[1] / len(data), found
    finally:
        tracemalloc.stop()


def test_a_file_of_zeros_takes_no_more_memory_than_a_few_times_its_size():
    times, found = peak(bytes(4_000_000))
    assert times < 5
    assert (found.frames, found.tail, len(found.damage), found.bytes) == (0, 0, 0, 4_000_000)


def test_a_file_without_a_zero_takes_no_more_memory_than_a_few_times_its_size():
    times, found = peak(b"\xff" * 4_000_000)
    assert times < 5
    assert (found.frames, found.tail) == (0, 4_000_000)


@pytest.mark.parametrize("pattern", [b"\1\0", b"\xff\0", b"\2\1\0"])
def test_a_file_of_frames_of_one_byte_takes_no_more_than_its_list_of_damage(pattern):
    """17 bytes for each damaged stretch of two: 8.5 times the file, and as much again while it is put together."""
    times, found = peak(pattern * 500_000)
    assert times < 20
    assert len(found.damage) == 500_000


@pytest.mark.parametrize("data", [b"", b"\0", b"\0\0\0", b"\1", b"\0\1", b"\1\0", b"\1\0\0\2"])
def test_the_smallest_files_are_read(data):
    found = decode_all(data)
    assert found.frames == 0
    assert found.tail == len(data) - 1 - data.rfind(b"\0")
