"""Frames as the board makes and takes them, held against zlib, the package cobs, and the golden frames."""

import random
import zlib

import pytest
from cobs import cobs
from firmware_probe import GOLDEN


def blocks(name):
    """The blocks of a file of golden frames, as lists of (word, value)."""
    text = (GOLDEN / name).read_text("utf-8")
    for block in text.split("\n\n"):
        lines = [line.split(" ", 1) for line in block.splitlines() if line and not line.startswith("#")]
        if lines:
            yield [(line[0], line[1] if len(line) > 1 else "") for line in lines]


FRAMES = [dict(block) for block in blocks("frames.txt")]
DAMAGED = [dict(block) for block in blocks("damaged.txt")]
BOARDS = [frame for frame in FRAMES if int(frame["payload"][:2], 16) < 0x40]
COMMANDS = [frame for frame in FRAMES if 0x40 <= int(frame["payload"][:2], 16) < 0x80]


def test_the_check_of_123456789_is_the_one_of_the_crc_catalogue(probe):
    # CRC-32/ISO-HDLC, check value in the catalogue of parametrised CRC algorithms (reveng)
    assert probe.ask("crc", b"123456789".hex()) == "cbf43926"


def test_checks_of_random_bytes_are_those_of_zlib(probe):
    random_bytes = random.Random(1).randbytes
    for length in [0, 1, 2, 3, 4, 7, 8, 31, 58, 249, 4096, *range(9, 200, 13)]:
        data = random_bytes(length)
        assert probe.ask("crc", data.hex() or "-") == f"{zlib.crc32(data):08x}"


def test_frames_of_random_payloads_are_those_of_zlib_and_cobs(probe):
    """Every length a frame may have; payloads with many zeros and with none."""
    source = random.Random(2)
    for length in range(3, 250):
        for zeros in (0.0, 0.3, 1.0):
            payload = bytes(0 if source.random() < zeros else source.randrange(1, 256) for _ in range(length))
            whole = payload + zlib.crc32(payload).to_bytes(4, "little")
            assert probe.ask("close", payload.hex()) == (cobs.encode(whole) + b"\0").hex(), (length, zeros)


@pytest.mark.parametrize("frame", BOARDS, ids=lambda f: f["frame"])
def test_a_golden_frame_from_the_board_is_made_byte_for_byte(probe, frame):
    assert probe.ask("close", frame["payload"]) == frame["wire"]


@pytest.mark.parametrize("frame", COMMANDS, ids=lambda f: f["frame"])
def test_a_golden_command_is_taken_whole(probe, frame):
    assert probe.ask("collect", frame["wire"]) == frame["payload"]


@pytest.mark.parametrize("frame", [f for f in DAMAGED if f["damage"] in {"too-short", "too-long", "cobs", "check"}])
def test_a_golden_damaged_frame_is_refused(probe, frame):
    assert set(probe.ask("collect", frame["wire"]).split()) == {"damaged"}


def test_no_command_with_one_bit_flipped_is_taken_for_another(probe):
    """Every bit of every golden command, the closing zero too; after it, a good command is still taken."""
    good = next(f for f in COMMANDS if f["frame"] == "start")
    for frame in COMMANDS:
        wire = bytes.fromhex(frame["wire"])
        for bit in range(8 * len(wire)):
            flipped = bytearray(wire)
            flipped[bit // 8] ^= 1 << bit % 8
            taken = probe.ask("collect", flipped.hex() + "00" + good["wire"]).split()
            assert taken[-1] == good["payload"]
            assert set(taken[:-1]) <= {"damaged"}, (frame["frame"], bit)


def test_commands_are_found_again_after_any_garbage(probe):
    source = random.Random(3)
    good = next(f for f in COMMANDS if f["frame"] == "set_rate")
    for length in [1, 2, 3, 5, 8, 13, 21, 34, 63, 64, 65, 100, 500]:
        for _ in range(20):
            garbage = source.randbytes(length)
            taken = probe.ask("collect", garbage.hex() + "00" + good["wire"]).split()
            assert taken[-1] == good["payload"]
            assert set(taken[:-1]) <= {"damaged"}


def test_a_frame_that_arrives_byte_by_byte_is_the_same_frame(probe):
    frame = next(f for f in COMMANDS if f["frame"] == "write_settings")
    wire = bytes.fromhex(frame["wire"])
    answers = [probe.ask("collect", f"{byte:02x}") for byte in wire]
    assert answers == [""] * (len(wire) - 1) + [frame["payload"]]


# --- the ring to the serial line ---


def test_a_frame_that_does_not_fit_the_ring_is_left_out_whole(probe):
    # 16 bytes of room: 10 go in, 7 do not, 6 do; what comes out is the first and the third, nothing of the second
    answer = probe.ask("ring", 16, "+10", "+7", "?", "+6", "?", "-16", "?").split()
    assert answer == ["1", "0", "6", "1", "0", "[" + bytes(range(16)).hex() + "]", "16"]


def test_the_largest_ring_keeps_one_byte_free_so_that_full_is_not_empty(probe):
    answer = probe.ask("ring", 256, "?", "+255", "?", "+1", "-255", "?", "-1").split()
    assert answer == ["255", "1", "0", "0", "[" + bytes(range(255)).hex() + "]", "255", "[]"]


@pytest.mark.parametrize("capacity", [2, 8, 128, 256])
def test_bytes_leave_the_ring_in_order_for_any_mixture_of_writing_and_reading(probe, capacity):
    source = random.Random(capacity)
    limit = min(capacity, 255)
    expected, inside, written, wanted = [], 0, 0, []
    for _ in range(2000):
        n = source.randrange(1, limit + 2)
        if source.random() < 0.5 and n < 256:
            wanted.append(f"+{n}")
            fits = n <= limit - inside
            expected.append(str(int(fits)))
            inside, written = (inside + n, written + n) if fits else (inside, written)
        else:
            wanted.append(f"-{n}")
            out = min(n, inside)
            start = written - inside
            expected.append("[" + bytes(k % 256 for k in range(start, start + out)).hex() + "]")
            inside -= out
    assert probe.ask("ring", capacity, *wanted).split() == expected
