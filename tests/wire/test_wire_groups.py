"""Frames that are decoded together: the whole-file decoder gives what the stream decoder gives for each frame alone."""

import tracemalloc
import zlib

import numpy as np
import pytest
from cobs import cobs as packaged_cobs

from frothline.wire import Damage, StreamDecoder, decode_all, encode, file_decoder, gather
from frothline.wire.decoder import LONGEST
from frothline.wire.frame_groups import Unstuffing, windows


def frames_of(count, seed=1, *, zeros=0.2):
    """Line messages with zeros in any byte, and a note after each tenth, as a list of frames."""
    rng = np.random.default_rng(seed)
    fields = {"tick": 4, "pressure_sum": 4, "pressure_n": 2, "differential_sum": 4, "differential_n": 2}
    fields |= {"thermal_sum": 4, "thermal_n": 2, "pulses": 4, "edge_tick": 4, "flags": 1}
    out = []
    for k in range(count):
        drawn = rng.integers(1, 256, 31, dtype=np.uint8)
        if k % 3:  # the others are alike
            drawn[rng.random(31) < zeros] = 0
        values, at = {}, 0
        for name, size in fields.items():
            values[name] = int.from_bytes(drawn[at : at + size].tobytes(), "little")
            at += size
        out.append(encode("line", k & 0xFFFF, **values))
        if k % 10 == 9:
            out.append(encode("note", k, unix_ns=k, monotonic_ns=0, tick=0, kind="note", text=f"{k} ä" * (k % 7)))
    return out


def same(data):
    """Compare both decoders and return the result of the whole-file decoder."""
    decoder = StreamDecoder()
    events = decoder.feed(data) + decoder.finish()
    whole, tables = decode_all(data), gather(events)
    assert {name: table.tobytes() for name, table in whole.tables.items()} == {
        name: table.tobytes() for name, table in tables.items()
    }
    assert {name: where.tolist() for name, where in whole.offsets.items()} == {
        name: where.tolist() for name, where in tables.offsets.items()
    }
    damage = [event for event in events if isinstance(event, Damage)]
    if whole.tail:
        damage.pop()
    assert whole.events() == damage
    assert (whole.lost, whole.doubled) == (decoder.counts.lost, decoder.counts.doubled)
    return whole


def spoilt(data, seed, share):
    """The data with a part of its bytes replaced by others than zero."""
    rng = np.random.default_rng(seed)
    array = np.frombuffer(data, dtype=np.uint8).copy()
    hit = (rng.random(array.size) < share) & (array != 0)
    array[hit] = rng.integers(1, 256, hit.sum(), dtype=np.uint8)
    return array.tobytes()


@pytest.mark.parametrize("zeros", [0.0, 0.02, 0.4, 1.0])
def test_a_thousand_frames_with_zeros_in_any_place_are_those_of_the_stream(zeros):
    whole = same(b"".join(frames_of(1000, zeros=zeros)))
    assert (len(whole.tables["line"]), len(whole.tables["note"]), whole.damage.size) == (1000, 100, 0)


@pytest.mark.parametrize("share", [0.0003, 0.003, 0.03])
def test_damage_in_a_group_costs_the_damaged_frames_alone(share):
    whole = same(spoilt(b"".join(frames_of(1000)), 2, share))
    assert whole.damage.size
    assert whole.frames + whole.damage.size + whole.unknown.size == 1100


@pytest.mark.parametrize(
    ("size", "step", "count"), [(12_000, 1 << 18, 700), (10_280, 64, 700), (1, 1, 60), (2560, 37, 200)]
)
def test_the_borders_between_groups_and_between_steps_change_nothing(monkeypatch, size, step, count):
    data = spoilt(b"".join(frames_of(count)), 3, 0.001)
    at_once = same(data)
    monkeypatch.setattr(file_decoder, "_AT_ONCE", size)
    monkeypatch.setattr(file_decoder, "_STEP", step)
    in_parts = same(data)
    assert in_parts.tables["line"].tobytes() == at_once.tables["line"].tobytes()
    assert in_parts.events() == at_once.events()


def test_bits_that_are_wrong_in_the_same_place_of_several_frames_do_not_cancel():
    one = encode("slow", 7, tick=0x01020304, temperature_sum=0x01010101, temperature_n=0x0101, bandgap_sum=0x01010101,
                 bandgap_n=0x0101)  # fmt: skip
    for wrong in ([3, 4], [0, 1, 2, 3], [5, 250], [1, 90, 180, 299]):
        rows = np.tile(np.frombuffer(one, dtype=np.uint8), (300, 1))
        rows[wrong, 6] ^= 0x40
        whole = same(rows.tobytes())
        assert (whole.damage["offset"] // len(one)).tolist() == wrong


def test_every_frame_of_a_group_can_be_damaged():
    rows = np.tile(np.frombuffer(frames_of(1)[0], dtype=np.uint8), (600, 1))
    rows[:, 9] ^= 0x10
    whole = same(rows.tobytes())
    assert (whole.frames, whole.damage.size) == (0, 600)


def test_code_bytes_that_point_behind_the_frame_or_round_the_end_of_a_byte_are_damage():
    good = np.tile(np.frombuffer(frames_of(1)[0], dtype=np.uint8), (400, 1))
    length = good.shape[1] - 1
    for place, code in ((0, 255), (0, length + 1), (0, 256 - length)):
        rows = good.copy()
        rows[::7, place] = code
        whole = same(rows.tobytes())
        assert np.count_nonzero(whole.damage["reason"] == 2) == len(rows[::7])
    rows = good.copy()
    rows[::7, 0] = length - 1  # the next code is at the last byte but one, and leads 255 places on, to before itself
    rows[::7, length - 1] = 255
    assert np.count_nonzero(same(rows.tobytes()).damage["reason"] == 2) == len(rows[::7])


@pytest.mark.parametrize("size", [249, 250, 251, 300])
def test_frames_of_the_largest_payload_are_read_and_longer_ones_are_damage(size):
    rng = np.random.default_rng(size)
    frames = []
    for k in range(300):
        payload = bytes([0x3E, k & 255, 0]) + rng.integers(0 if k % 2 else 1, 256, size - 3, dtype=np.uint8).tobytes()
        frames.append(packaged_cobs.encode(payload + zlib.crc32(payload).to_bytes(4, "little")) + b"\0")
    whole = same(b"".join(frames))
    assert (whole.unknown.size, whole.damage.size) == ((300, 0) if size + 5 <= LONGEST else (0, 300))


@pytest.mark.parametrize("cut", range(1, 90, 7))
def test_the_last_frames_of_a_file_are_read_though_nothing_follows_them(cut):
    data = b"".join(frames_of(300))
    same(data[:-cut])
    assert same(data[:-1]).tail == 0


def test_messages_of_one_length_are_told_apart_by_their_id():
    frames = [
        encode("slow", k, tick=k, temperature_sum=k, temperature_n=1, bandgap_sum=2, bandgap_n=3) for k in range(400)
    ]
    text = packaged_cobs.decode(frames[0][:-1])
    other = bytes([0x3E]) + text[1:-4]
    frames[5::9] = [packaged_cobs.encode(other + zlib.crc32(other).to_bytes(4, "little")) + b"\0"] * len(frames[5::9])
    whole = same(b"".join(frames))
    assert (whole.unknown.size, len(whole.tables["slow"])) == (44, 356)


def test_a_long_file_takes_less_memory_beyond_its_tables_than_twice_its_size(monkeypatch):
    """The working memory was 3.6 times the size of the file."""
    data = b"".join(
        encode("slow", k, tick=20_000 * k, temperature_sum=k, temperature_n=1, bandgap_sum=2, bandgap_n=3)
        for k in range(10_000)
    )
    monkeypatch.setattr(file_decoder, "_STEP", 1 << 14)
    monkeypatch.setattr(file_decoder, "_AT_ONCE", 12_000)
    tracemalloc.start()
    found = decode_all(data)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    returned = sum(table.nbytes for table in found.tables.values()) + sum(one.nbytes for one in found.offsets.values())
    assert found.frames == 10_000
    assert most - returned < 2 * len(data)


def stuffed(texts):
    """The frames of texts of one length (n, bytes) as the decoder takes them together, and their length."""
    frames = [packaged_cobs.encode(text.tobytes()) + b"\0" for text in texts]
    length = len(frames[0]) - 1
    offsets = np.arange(len(frames), dtype=np.int64) * (length + 1)
    return windows(np.frombuffer(b"".join(frames), dtype=np.uint8), offsets, length), length


def test_frames_with_more_zeros_than_the_others_are_unstuffed_together_with_them():
    """Every frame has zeros at two places; some have more of them, and one lacks one."""
    texts = np.full((400, 20), 7, dtype=np.uint8)
    texts[:, [4, 15]] = 0
    texts[16, 6] = texts[20, [7, 9]] = texts[32, [0, 1, 2, 3]] = texts[48, [8, 10, 17]] = texts[50] = 0
    texts[64, 4] = 9
    rows, length = stuffed(texts)
    left = Unstuffing(length)(rows)
    expected = np.zeros((400, rows.shape[1]), dtype=np.uint8)
    expected[:, 1:length] = texts
    assert left.tolist() == [64]
    assert (np.delete(rows, left, axis=0) == np.delete(expected, left, axis=0)).all()


def test_frames_whose_form_changes_are_unstuffed_together_again():
    """A zero that all frames had is another byte from the second block on; another time many new ones appear."""
    texts = np.full((1200, 20), 7, dtype=np.uint8)
    texts[:, 4] = texts[:300, 9] = texts[600:, [1, 6, 12]] = 0
    _, length = stuffed(texts[:1])
    unstuff = Unstuffing(length)
    left = [unstuff(stuffed(texts[k : k + 300])[0]).size for k in (0, 300, 600, 900)]
    assert left == [0, 300, 0, 0]
