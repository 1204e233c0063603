"""Whole-file decode, compared in one run with a plain loop over packaged parts and with a copy of the payload."""

import os
import struct
import time
import tracemalloc
import zlib

import numpy as np
from cobs import cobs
from line_stream import check_against_the_encoder, stream
from results_page import Part

from frothline.wire import MESSAGES, decode_all

RATE = 500
COMPARED, GROWING = 10, (10, 100, 1000)  # MB
REPEATS = 5
PACKED = {
    message.id: struct.Struct("<BH" + "".join(field.packing for field in message.fields))
    for message in MESSAGES.values()
}


def plain_loop(data):
    """Decode frame by frame with packaged parts; columns of arrays by message id."""
    rows = {number: [] for number in PACKED}
    for frame in data.split(b"\0"):
        try:
            text = cobs.decode(frame)
        except cobs.DecodeError:
            continue
        payload = text[:-4]
        if payload and zlib.crc32(payload) == int.from_bytes(text[-4:], "little"):
            rows[payload[0]].append(PACKED[payload[0]].unpack(payload))
    return {number: [np.array(column) for column in zip(*of_one, strict=True)] for number, of_one in rows.items()}


def copied(payloads):
    """Columns of payloads that are already unstuffed and sorted by message."""
    columns = []
    for name, payload in payloads.items():
        table = np.frombuffer(payload, dtype=MESSAGES[name].dtype)
        columns += [table[field].copy() for field in table.dtype.names]
    return columns


def processor_time(work):
    start = time.process_time()
    work()
    return time.process_time() - start


def user_time(work):
    """Processor time without that in which the system provides memory."""
    start = os.times().user
    work()
    return os.times().user - start


def peak(data):
    """Largest memory of the decoder without what it returns, in bytes."""
    tracemalloc.start()
    found = decode_all(data)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    returned = sum(table.nbytes for table in found.tables.values())
    return most - returned - sum(where.nbytes for where in found.offsets.values())


def of_size(megabytes, seed):
    pieces, size = [], 0
    for piece in stream(1e9, RATE, seed):
        pieces.append(piece)
        size += len(piece)
        if size >= megabytes * 1e6:
            return b"".join(pieces)[: int(megabytes * 1e6)]
    raise AssertionError


def measure(seed):
    check_against_the_encoder()
    data = of_size(COMPARED, seed)
    found = decode_all(data)
    payloads = {name: table.tobytes() for name, table in found.tables.items()}
    loops, copies, whole = [], [], []
    for _ in range(REPEATS):
        loops.append(processor_time(lambda: plain_loop(data)))
        whole.append(processor_time(lambda: decode_all(data)))
        copies.append(processor_time(lambda: copied(payloads)))
    loop, copy, ours = min(loops), min(copies), min(whole)
    rows = [
        [
            "Plain loop: `cobs`, zlib's CRC-32, `struct`",
            f"{loop / found.frames * 1e9:.0f} ns",
            f"{loop / ours:.1f} : 1",
        ],
        ["Whole-file decode", f"{ours / found.frames * 1e9:.0f} ns", "1"],
        ["Copy of the payload into columns", f"{copy / found.frames * 1e9:.1f} ns", f"1 : {ours / copy:.1f}"],
    ]
    each, own = [], []
    for size in GROWING:
        data, turns = of_size(size, seed), max(1, 100 // size)  # the clock of the user time has steps of 10 ms
        took = min(processor_time(lambda data=data: decode_all(data)) for _ in range(2))
        each.append(took / size)
        own.append(
            min(user_time(lambda data=data, n=turns: [decode_all(data) for _ in range(n)]) for _ in range(2))
            / turns
            / size
        )
        most = peak(data) / len(data)
        rows.append([f"Whole-file decode of {size} MB", f"{took:.2f} s", f"{most:.2f} times its size in memory"])
    return Part(
        title="Whole-file decode",
        columns=["What", "Processor time (a frame, or the file)", "Ratio to the whole-file decode"],
        rows=rows,
        before=(
            f"A stream of {RATE} line messages a second with slow messages between them, {COMPARED} MB, "
            f"{found.frames} frames. All three are timed in turn in one process, and the shortest of {REPEATS} counts. "
            "The loop uses packaged COBS (compiled), zlib's CRC-32, which is the check of the wire, and struct. "
            "The copy starts from payloads that are already found, unstuffed, checked and sorted by message. "
            "Memory is the largest amount beyond the returned tables and offsets."
        ),
        after=(
            f"Goals: 20 times faster than the loop, at most 10 times slower than the copy. "
            f"{GROWING[1]} MB take {each[1] / each[0]:.2f} times as long a megabyte as {GROWING[0]} MB, "
            f"{GROWING[2]} MB {each[2] / each[0]:.2f} times; without the time in which the system provides memory for the result "
            f"{own[1] / own[0]:.2f} and {own[2] / own[0]:.2f} times. The ratio to the loop depends on the processor. Copying frames to "
            "rows and unstuffing them takes two fifths of the time, the search for zeros and the check a fifth each, the "
            "count of missing frames a tenth (processor time, AMD EPYC)."
        ),
        order=10,
    )
