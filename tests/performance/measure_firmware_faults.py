"""Firmware under faults: the shipped image in the instruction simulator.

The everyday tests try a sample of each, see ``test_firmware_faults.py``; ``firmware/emulator`` has to be built.
"""

import itertools
import random
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests" / name) for name in ("support", "performance", "firmware", "simulation")]

from benches import Bench  # noqa: E402
from firmware_probe import SECOND, named  # noqa: E402
from results_page import Part  # noqa: E402
from test_emulated_rig import NEW, OLD, clock_words  # noqa: E402
from test_firmware_on_chip import ADCSRA, TWCR, Running  # noqa: E402

from frothline.simulation.emulator_binding import FREQUENCY  # noqa: E402
from frothline.wire import ENUMS, StreamDecoder, encode  # noqa: E402

TORN = 16  # values of a byte whose write was cut off that are tried: old, new, empty, and by chance
WRITE = 0.3  # s in which settings are written
FLOOD = 5.0  # s
FLOOD_RATES = (50, 100, 200, 500)  # Hz
EDGE_APART = 500  # cycles, 31 µs: a little more than the simulated switch conducts
DEAD = 2000  # cycles; 125 µs, ROTOR_SHORTEST_TICKS
LOST = ("frames_dropped", "adc_overruns", "capture_overruns")


@dataclass
class Found:
    fault: str
    cases: str
    frames: int  # lost
    edges: int  # lost
    result: str


# --- settings -----------------------------------------------------------------------------------------------------


def _settings(running):
    running.decoder = StreamDecoder()
    running.run(0.25)
    running.give(("read_settings", {}))
    (found,) = named(running.run(0.05), "settings")
    return {name: found[name].decode() if name == "label" else int(found[name]) for name in OLD}


def states_of_a_write(step):
    """What the storage held at every ``step`` cycles (1: each instruction) of a write of settings.

    Returns (states in order, without repetition; number of moments looked at; moments within the write of a byte).
    """
    running = Running()
    running.run(0.3)
    running.give(("write_settings", OLD))
    running.run(0.5)
    chip = running.chip
    states, looks, busy, before = [chip.storage], 0, 0.0, False  # busy: s
    running.give(("write_settings", NEW))
    end = chip.cycle + round(WRITE * FREQUENCY)
    while chip.cycle < end:
        begin = chip.cycle
        chip.run(begin + step)
        now = chip.storage_busy
        looks, busy = looks + 1, busy + now * (chip.cycle - begin) / FREQUENCY
        if (now and not before) or step > 1:
            held = chip.storage
            if held != states[-1]:
                states.append(held)
        before = now
    running.now = chip.cycle
    assert _settings(running) == NEW
    chip.close()
    return states, looks, busy


def cut_writes(step=1, every=1, seed=1):
    """Boot a board from each state that a power cut can leave; counts of old and new settings and of mixtures."""
    states, looks, busy = states_of_a_write(step)
    draw, seen = random.Random(seed), {"old": 0, "new": 0, "mixed": 0}
    running = Running()
    for before, after in list(itertools.pairwise(states))[::-1][::every]:  # the last write decides
        (at,) = [k for k in range(len(before)) if before[k] != after[k]] or [0]
        torn = [before[at], after[at], 255, before[at] & after[at], *(draw.randrange(256) for _ in range(TORN - 4))]
        for value in torn:
            running.chip.storage = before[:at] + bytes([value]) + before[at + 1 :]
            running.chip.reset("power_on")
            found = _settings(running)
            seen["old" if found == OLD else "new" if found == NEW else "mixed"] += 1
    running.chip.close()
    return seen, looks, busy, len(states) - 1


def settings_cut(step=1, every=1, seed=1):
    seen, looks, _, writes = cut_writes(step, every, seed)
    assert not seen["mixed"], seen
    return Found(
        "power cut while settings are written",
        f"{looks:,} instructions, {writes} byte writes, {sum(seen.values())} boots"
        if step == 1
        else f"{sum(seen.values())}",
        0,
        0,
        f"{seen['old']} boots with the old settings, {seen['new']} with the new, {seen['mixed']} mixed",
    )


# --- a running board ----------------------------------------------------------------------------------------------


def _missing(heard, rate=100):
    """Lines that are missing between the first and the last one of some messages."""
    ticks = np.array([int(line["tick"]) for line in named(heard, "line")], dtype=np.int64)
    steps = (np.diff(ticks) % 2**32) / (SECOND / rate)
    return int(np.rint(steps - 1).clip(min=0).sum())


def _missing_between(heard, rates):
    """Lines that are missing where the rate changed again and again: steps of the ticks that are no window's length.

    The length of a window is a whole number of ticks, cut down, so that it can be one tick longer than the one before.
    """
    ticks = np.array([int(line["tick"]) for line in named(heard, "line")], dtype=np.int64)
    steps = np.diff(ticks) % 2**32
    lengths = np.array([SECOND // rate for rate in rates])
    known = np.isin(steps, np.concatenate([lengths, lengths + 1]))
    return int(np.rint(steps[~known] / lengths.max()).clip(min=1).sum())


def _started(rate=100):
    running = Running()
    running.run(0.3)
    running.give(("set_rate", {"rate": rate}), ("start", {}))
    running.run(0.5)
    return running


def _health(heard):
    return named(heard, "health")[-1]


def tick_wraps():
    """The 32-bit tick is put forward to 2 s before its wrap, as if that time had passed."""
    board = Bench("emulated://steady?seed=1")
    board.run(4.0)
    words, chip = clock_words(board), board.rig.chip
    board.rig.control("unplug", "ambient")
    board.run(1.5)
    for high, low in ((0x70, None), (0xE0, None), (0xFF, None), (0xFF, 0xC0)):
        for address in words:
            chip.poke(address + 1, high)
            if low is not None:
                chip.poke(address, low)
        board.run(0.3)
    board.command("start", seconds=0.2)
    heard = board.run(5.0)
    rows = named(heard, "line")
    ticks = [int(one["tick"]) for one in rows]
    assert ticks[0] > 2**31 > ticks[-1]
    pulses = np.diff([int(one["pulses"]) for one in rows])
    stopped = sum(bool(int(one["flags"]) & ENUMS["line_flag"]["rotor_stopped"]) for one in rows)
    odd = int((np.abs(pulses - np.median(pulses)) > 1).sum())
    resets = chip.resets
    chip.close()
    return Found(
        "tick of 32 bits wraps in mid-stream",
        "1",
        _missing(heard),
        odd,
        f"{stopped} false stops of the rotor, {resets} resets",
    )


def chatter(seconds=4.0, seed=1):
    """Each edge of the rotor is followed by up to five more within 125 µs, as a bad switch gives."""
    running, draw = _started(), random.Random(seed)
    chip = running.chip
    start, running.next_edge = running.now, 1 << 62
    before = int(named(running.run(0.1), "line")[-1]["pulses"])
    true, at, edges = 0, running.now + 40_000, []
    while at < start + (seconds - 0.5) * FREQUENCY:
        edges.append(at)
        for _ in range(draw.randrange(6)):
            bounce = edges[-1] + draw.randrange(EDGE_APART, 3 * EDGE_APART)
            if bounce - at < DEAD - EDGE_APART:
                edges.append(bounce)
        true += 1
        at += FREQUENCY // draw.choice([50, 200, 700])
    heard = []
    while running.now < start + seconds * FREQUENCY:
        to = running.now + 160_000
        now = [edge for edge in edges if running.now <= edge < to]
        chip.edges(now)
        chip.run(to)
        running.now = to
        heard += running.decoder.feed(chip.take())
    counted = (int(named(heard, "line")[-1]["pulses"]) - before) % 2**32
    result = f"{counted} pulses counted of {true} true edges, {len(edges) - true} bounces; {chip.resets} resets"
    chip.close()
    return Found("chatter at the rotor's input", f"{len(edges):,} edges", _missing(heard), abs(true - counted), result)


def storm(seconds=3.0):
    """20,000 edges a second at the rotor's input, 30 times what a rotor gives."""
    running = _started(500)
    chip, heard = running.chip, []
    running.next_edge = 1 << 62
    end = running.now + round(seconds * FREQUENCY)
    while running.now < end:
        to = running.now + 160_000
        chip.edges(list(range(running.now + 100, to, 800)))
        chip.run(to)
        running.now = to
        heard += running.decoder.feed(chip.take())
    running.next_edge = running.now + 1000
    heard += running.run(1.5)
    health = _health(heard)
    result = f"{int(health['frames_dropped'])} frames dropped, worst turn {health['loop_worst_ticks'] / 2000:.1f} ms, {chip.resets} resets"
    lost = int(health["capture_overruns"])
    chip.close()
    return Found(
        "storm of 20,000 edges/s",
        f"{seconds:g} s",
        _missing(heard, 500),
        0,
        f"{result}; {lost} edges rejected as bounces",
    )


def bus_held(seconds=4.0):
    """The bus interrupt is taken away in the middle of transfers, again and again: none ends."""
    running = _started()
    chip, heard, cut = running.chip, [], 0
    for _ in range(round(seconds * 20_000)):
        if chip.peek(TWCR) & 1:
            chip.poke(TWCR, 0)
            cut += 1
        heard += running.run(0.00005)
    after = running.run(4.0)
    health = _health(after)
    present = ENUMS["device_flag"]["present"]
    back = bool(int(named(after, "ambient")[-1]["flags"]) & present)
    result = f"{int(health['bus_recoveries'])} recoveries; the module is {'read again' if back else 'lost'}; {chip.resets} resets"
    chip.close()
    return Found("bus held in mid-transfer", f"{cut} transfers", _missing(heard + after), 0, result)


def flood(seconds=FLOOD, seed=1):
    """Commands and garbage as fast as the line carries them."""
    running, draw = _started(), random.Random(seed)
    chip, heard, sent = running.chip, [], 0
    end = running.now + round(seconds * FREQUENCY)
    while running.now < end:
        name = draw.choice(["describe", "read_settings", "start", "set_rate"])
        data = encode(name, sent & 0xFFFF, **({"rate": draw.choice(FLOOD_RATES)} if name == "set_rate" else {}))
        if draw.random() < 0.2:
            data = draw.randbytes(draw.randrange(1, 60))
        chip.give(data)
        sent += 1
        heard += running.run(len(data) * 20e-6)  # 10 bits a byte at 500 kBd
    running.give(("set_rate", {"rate": 100}))
    heard += running.run(0.2)
    quiet = running.run(3.0)
    health = _health(quiet)
    acks = len(named(heard, "ack"))
    result = (
        f"{acks} answered, {int(health['frames_dropped'])} frames dropped and counted, {chip.resets} resets; afterwards "
        f"{_missing(quiet)} lines missing"
    )
    chip.close()
    return Found("flood of commands and garbage", f"{sent:,} commands", _missing_between(heard, FLOOD_RATES), 0, result)


def watchdog(count=5):
    """The converter stops; time until the board has started again and says why."""
    running = _started()
    chip, longest, told = running.chip, 0.0, 0
    for _ in range(count):
        chip.poke(ADCSRA, 0)
        began, resets = running.now, chip.resets
        while chip.resets == resets:
            running.run(0.01)
        heard = running.run(0.3)
        longest = max(longest, (running.now - began) / FREQUENCY)
        told += any(int(one["reset_cause"]) & ENUMS["reset_cause"]["watchdog"] for one in named(heard, "description"))
        running.give(("start", {}))
        running.run(0.5)
    chip.close()
    return Found(
        "converter stands still (watchdog)", str(count), 0, 0,
        f"{told} restarts reported with their cause, {longest:.1f} s until the description",
    )  # fmt: skip


def measure(seed):
    found = [
        settings_cut(seed=seed),
        tick_wraps(),
        chatter(20.0, seed),
        storm(),
        bus_held(),
        flood(seed=seed),
        watchdog(),
    ]
    return Part(
        "Firmware under faults",
        ["fault", "cases", "lines lost", "edges lost", "result"],
        [[one.fault, one.cases, str(one.frames), str(one.edges), one.result] for one in found],
        before=(
            "The image that ships, executed instruction by instruction. Only the storage outlives a power cut, so the storage "
            "is looked at after every instruction of a settings write, and a board is booted from each state that a cut can "
            f"leave: between two byte writes, and with {TORN} values of the byte under way. Lines are lost if their ticks are "
            "missing in the stream."
        ),
        after=(
            "The simulator knows no supply that sinks slowly; there the chip's brown-out detector decides (2.7 V fuse). "
            "The next step is a real board whose supply is cut by a transistor."
        ),
        order=52,
    )
