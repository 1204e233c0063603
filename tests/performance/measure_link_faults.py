"""Link under faults: cables pulled, resets in a frame, garbage, a wrong rate, silence, a second program, a sleeping laptop.

A board of the tests is behind a pseudo-terminal, which keeps 4 kB for a late reader, as a USB bridge does. Each scene has
a session of its own, which records. The everyday tests try few cases of each, see ``test_link_faults.py``.
"""

import random
import sys
import tempfile
import time
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests/support"), str(ROOT / "tests/performance")]

from fake_board import FakeBoard, PtyBoard  # noqa: E402
from results_page import Part  # noqa: E402
from waiting import until  # noqa: E402

from frothline.bench.session import Session  # noqa: E402
from frothline.errors import FrothlineError, PortBusy  # noqa: E402
from frothline.recording.reader import load, verify  # noqa: E402
from frothline.rig import open_rig  # noqa: E402
from frothline.wire import WIRE, encode  # noqa: E402

RATE = 100  # Hz


@dataclass
class Found:
    """One scene: number of cases, lines lost besides those that had no way, what was reported, s until data again."""

    fault: str
    cases: int
    lost: int
    damaged: int
    words: str
    longest: float  # s until data again
    verdict: str


@contextmanager
def recorded(folder, **board):
    """A board, a session that records it, and the path of the recording."""
    folder.mkdir(parents=True)
    with (
        PtyBoard(FakeBoard(rate=RATE, identity=0xB0A2D, **board), folder) as there,
        Session(there.url, folder, rate=RATE, own_process=False) as session,
    ):
        session.start(wait=True)
        path = session.start_recording("faults")
        frames_pass(session, 30)
        yield there, session, path


def frames_pass(session, count):
    goal = session.snapshot().losses.frames + count
    until(lambda: session.snapshot().losses.frames >= goal, f"{count} further frames")


def seconds_until_data(session):
    """Time until frames pass again, s."""
    began = time.monotonic()
    frames_pass(session, 3)
    return time.monotonic() - began


def lines_in(path):
    """Numbers of the recorded lines; the fake board counts them as pulses."""
    return set(load(path).decoded.tables["line"]["pulses"].tolist())


def disconnects(folder, count):
    longest, no_cable, words = 0.0, set(), ""
    with recorded(folder) as (there, session, path):
        for _ in range(count):
            with there.lock:
                there.unplug()
                gone = there.board.sent_lines
            until(lambda: session.snapshot().link.state == "lost", "the loss of the port")
            words = session.snapshot().link.words
            with there.lock:
                there.plug_in()
                no_cable |= set(range(gone, there.board.sent_lines + 1))
            longest = max(longest, seconds_until_data(session))
        assert session.snapshot().losses.times_lost == count
        first, last = min(lines_in(path)), there.board.sent_lines
        session.stop_recording()
    there_are = lines_in(path)
    lost = set(range(first, max(there_are) + 1)) - there_are - no_cable
    report = verify(path)
    assert last >= max(there_are)
    return Found("cable pulled and plugged in", count, len(lost), len(report.damage), words, longest, report.verdict)


def resets(folder, count, seed):
    """The board restarts within a frame; the part that was sent is followed by its new description."""
    draw, longest, words = random.Random(seed), 0.0, ""
    with recorded(folder) as (there, session, path):
        for k in range(count):
            with there.lock:
                there.exchange()
                frame = encode(
                    "line", there.board.sequence & 0xFFFF, tick=there.board.tick, pressure_sum=1, pressure_n=1,
                    differential_sum=0, differential_n=0, thermal_sum=0, thermal_n=0, pulses=0, edge_tick=0, flags=0,
                )  # fmt: skip
                there.board.out += frame[: draw.randrange(1, len(frame) - 1)]
                there.board.reset(draw.choice(["external", "brown_out", "watchdog"]))
            until(lambda k=k: session.snapshot().losses.board_resets > k, "the report of the reset")
            words = session.snapshot().marks[-1].text
            longest = max(longest, seconds_until_data(session))
        session.stop_recording()
    report, lines = verify(path), lines_in(path)
    # A board that starts anew does not stream until it is asked to; it counts only lines that it sent.
    lost = set(range(min(lines), max(lines) + 1)) - lines
    return Found("reset within a frame", count, len(lost), len(report.damage), words, longest, report.verdict)


def garbage(folder, count, seed):
    draw, longest = random.Random(seed), 0.0
    with recorded(folder) as (there, session, path):
        for _ in range(count):
            with there.lock:
                there.board.out += draw.randbytes(draw.randrange(1, 2000))
            frames = session.snapshot().losses.damaged
            until(lambda frames=frames: session.snapshot().losses.damaged > frames, "the report of the damage")
            longest = max(longest, seconds_until_data(session))
        words = f"{session.snapshot().losses.damaged} damaged stretches counted"
        session.stop_recording()
    report, lines = verify(path), lines_in(path)
    lost = set(range(min(lines), max(lines) + 1)) - lines
    return Found("up to 2 kB of garbage", count, len(lost), len(report.damage), words, longest, report.verdict)


def refused(folder, fault, **board):
    """A port that cannot be opened as a rig: what is reported, and after how long."""
    folder.mkdir(parents=True)
    with PtyBoard(FakeBoard(**board), folder) as there:
        began = time.monotonic()
        try:
            open_rig(there.url).close()
        except FrothlineError as error:
            return Found(fault, 1, 0, 0, f"{error.what} ({type(error).__name__})", time.monotonic() - began, "")
    raise AssertionError(f"{fault}: it was opened")


def silence(folder):
    """The board falls silent in mid-stream for two seconds and goes on."""
    with recorded(folder) as (there, session, path):
        with there.lock:
            there.exchange()
            there.board.mute = True
        until(lambda: session.snapshot().link.state == "quiet", "the report of the silence")
        words = session.snapshot().link.words
        with there.lock:
            there.board.mute = False
        longest = seconds_until_data(session)
        session.stop_recording()
    report, lines = verify(path), lines_in(path)
    lost = set(range(min(lines), max(lines) + 1)) - lines
    return Found("silent in mid-stream", 1, len(lost), len(report.damage), words, longest, report.verdict)


def second_program(folder, count):
    with recorded(folder) as (there, session, path):
        words = ""
        for _ in range(count):
            try:
                open_rig(there.url).close()
            except PortBusy as error:
                words = error.what
            frames_pass(session, 3)
        assert words, "the port was opened twice"
        session.stop_recording()
    report, lines = verify(path), lines_in(path)
    lost = set(range(min(lines), max(lines) + 1)) - lines
    return Found("second program opens the port", count, len(lost), len(report.damage), words, 0.0, report.verdict)


def sleeps(folder, hours):
    """The computer sleeps, the board streams on: its ticks and numbers go on, the wall clock steps, ours stands."""
    folder.mkdir(parents=True)
    wall, ns, jump = time.time, time.time_ns, 0.0
    try:
        with recorded(folder / "r") as (there, session, path):
            # The count of what is missed is the board's usual rate times the sleep, rounded to 65,536: for eight hours the
            # rate must be known to a hundredth, and descriptions of ten frames come every 5 s.
            before_it = session.snapshot().losses.frames
            frames_pass(session, 300 if hours < 4 else 2500)
            with there.lock:
                there.exchange()
                board = there.board
                board.first_tick += round(hours * 3600 * WIRE.tick_hz)
                board.sequence += round(hours * 3600 * RATE)
                jump = hours * 3600.0
                time.time, time.time_ns = (lambda: wall() + jump), (lambda: ns() + round(jump * 1e9))
            longest = seconds_until_data(session)
            frames_pass(session, 150)
            at_first = session.snapshot().losses
            until(lambda: not session.snapshot().losses.at_least)  # the board was heard for long enough to tell
            frames_pass(session, before_it)  # the recording did not hear it before it began, and needs as much itself
            now = session.snapshot()
            figure = now.latest["line_pressure"]
            off = abs(figure.time - now.time)
            said = [mark.text for mark in now.marks if "slept" in mark.text]
            words = (
                f"{now.losses.missing} frames missing; {said[-1].split(';')[0] if said else 'nothing'}; figure of now"
            )
            words += f" {'shown' if figure.known else 'unknown'}" + (f", {off:.0f} s off" if off > 1.0 else "")
            words += f"; {at_first.missing} at least, until the board was heard longer" if at_first.at_least else ""
            session.stop_recording()
    finally:
        time.time, time.time_ns = wall, ns
    report = verify(path)
    missing = abs(report.lost - round(hours * 3600 * RATE))
    return Found(
        f"computer sleeps {hours * 60:.0f} min", 1, missing, len(report.damage), words, longest, report.verdict
    )


def rows_of(found):
    for one in found:
        yield [
            one.fault, str(one.cases), str(one.lost), str(one.damaged), one.words,
            f"{one.longest:.2f}" if one.longest else "", one.verdict,
        ]  # fmt: skip


def measure(seed):
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        noise = bytes(random.Random(seed).choices(range(1, 256), k=300))
        found = [
            disconnects(folder / "cable", 50),
            resets(folder / "reset", 50, seed),
            garbage(folder / "garbage", 50, seed),
            refused(folder / "noise", "wrong rate: noise only", chatter=noise),
            refused(folder / "silent", "silent port", mute=True),
            silence(folder / "quiet"),
            second_program(folder / "second", 10),
            *(sleeps(folder / f"sleep{k}", hours) for k, hours in enumerate((1 / 60, 0.5, 2.0, 8.0))),
        ]
    return Part(
        "Link under faults",
        [
            "fault",
            "cases",
            "lines lost",
            "damaged stretches",
            "what is reported (the last one)",
            "s until data",
            "verdict",
        ],
        list(rows_of(found)),
        before=(
            f"A board at {RATE} Hz behind a pseudo-terminal, a session that records. Lines that the board sent while there was "
            "no cable are not counted as lost; those that it sent before the port was open again are. For a sleeping "
            "computer the column is the error of the count of missing frames; the board's clock wraps after 36 min, and the "
            "computer's wall clock tells how often it did. The board was heard for 25 s before the eight hours, for 3 s before "
            "the others: after less than a long sleep needs, the count is said to be the least, until the board was heard "
            "for longer. The time until data runs from the end of the fault to the third new frame, the longest of all cases."
        ),
        after=(
            "Windows is not measured: there the system gives a port to one program only, and the words for that are "
            "tried with its error messages (`tests/rig/test_rig_ports.py`). The next step is a run on a Windows machine "
            "with a USB bridge."
        ),
        order=51,
    )
