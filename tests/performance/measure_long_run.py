"""Long runs: memory of a session with its pages over 72 simulated hours, viewers coming and going.

The board sends its lines as fast as the session takes them; everything behind the port is the real thing: reader, decoder,
converter, rings, steady points, runs, recorder, and the messages to the pages. The everyday test runs some minutes.
"""

import ctypes
import gc
import random
import sys
import tempfile
import time
import tracemalloc
from contextlib import suppress
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests/support"), str(ROOT / "tests/performance")]

from fake_board import FakeBoard  # noqa: E402
from results_page import Part  # noqa: E402
from waiting import until  # noqa: E402

from frothline.bench import background, ring_buffer  # noqa: E402
from frothline.bench.session import Session  # noqa: E402
from frothline.rig import Reader, Rig, ask, link  # noqa: E402
from frothline.rig.port import Line  # noqa: E402
from frothline.web import memo  # noqa: E402
from frothline.web.feed import Feed  # noqa: E402
from frothline.web.pages import PAGES  # noqa: E402
from frothline.web.pages.batch import content as batch  # noqa: E402
from frothline.web.viewer import Viewer  # noqa: E402
from frothline.wire import WIRE  # noqa: E402

RATE = 10  # Hz, the slowest that a board may have
EVERY, READINGS = 600.0, 10.0  # s from one stretch of readings to the next, and its length
RING = 1 << 10  # samples; full after 100 min, as those of a session at 100 Hz are after 22
KEPT = 4  # answers and pieces of pages that are kept for the next viewer, so that they are soon as many as there may be
LOOK = 600.0  # s between two messages to viewers
RUN_EVERY, RUN_FOR = 4 * 3600.0, 1200.0  # s
HOURS = (2, 24, 72)


class FastBoard(FakeBoard):
    """A board whose time goes on as fast as the session handles what it sent; also the port and the simulation."""

    playback = None

    def __init__(self, readings):
        self.time, self.readings = 0.0, readings
        self.delivered = self.handled_bytes = 0
        self.allowed = 0.0  # s, up to which its time may go on
        super().__init__(rate=RATE, label="long run")
        self.simulation = self

    @property
    def tick(self):
        return round(self.time * WIRE.tick_hz) & 0xFFFFFFFF

    def _boot(self):
        super()._boot()
        self.last_line = 0.0

    def step(self):
        """A stretch of readings, when the one before has been handled; then the board is silent up to the next."""
        if not self.streaming or self.delivered > self.handled_bytes or self.time >= self.allowed:
            return
        begin = self.time
        self.describe()
        while self.time < begin + self.readings:
            self.time += 1 / RATE
            self.sent_lines += 1
            tick = self.tick
            self.send(
                "line", tick=tick, pressure_sum=50 * (400 + self.sent_lines // 3000 % 200), pressure_n=50,
                differential_sum=0, differential_n=0, thermal_sum=0, thermal_n=0, pulses=self.sent_lines * 20,
                edge_tick=tick, flags=2,
            )  # fmt: skip
        self.time = begin + EVERY

    # --- as a port and as a simulation ---

    @property
    def in_waiting(self):
        self.step()
        return len(self.out)

    def read(self, _size=1):
        data = self.take()
        if not data:
            time.sleep(0.001)
        self.delivered += len(data)
        return data

    def write(self, data):
        self.receive(data)
        return len(data)

    def close(self):
        pass

    def handled(self, count):
        self.handled_bytes = count

    def asked_speed(self):
        return 0.0

    def truth(self):
        return {"time": self.time, "throttle": 1.0}

    def control(self, name, value=None):
        pass

    def faults(self):
        return {}

    def figures(self):
        return {}


class Here:
    """Access to that board in this process."""

    def __init__(self, board):
        self.board = board

    def open(self, _url):
        line = Line("modelled://steady?speed=1000", self.board)
        answer = ask(line)
        self.reader = Reader(line, answer, lambda: None)
        return Rig(self.reader, answer)

    def record(self, folder, name, source):
        from frothline.bench.port_access import PortHere

        access = PortHere()
        access._reader = self.reader
        return access.record(folder, name, source)

    def resume(self, path):
        raise AssertionError(path)

    def detach(self):
        self.reader.detach()

    def close(self):
        pass


def resident():
    """Memory of this process, MB, after what is free was given back to the system where glibc can."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL("libc.so.6").malloc_trim(0)
    (line,) = [one for one in Path("/proc/self/status").read_text().splitlines() if one.startswith("VmRSS")]
    return int(line.split()[1]) / 1000


def long_session(folder, hours, *, readings=READINGS, look=LOOK, seed=1):
    """Run a session for the last of these simulated hours; memory (MB), objects and messages at each of them."""
    draw, messages, seen = random.Random(seed), 0, []
    board = FastBoard(readings)
    access = Here(board)
    usual, link.BATCH = link.BATCH, 0.0
    ring = ring_buffer.RingBuffer.__init__.__defaults__
    ring_buffer.RingBuffer.__init__.__defaults__ = (RING,)
    answers = background.BackgroundAnswers.__init__.__defaults__
    background.BackgroundAnswers.__init__.__defaults__ = (KEPT,)
    pieces, pages = memo.KEPT, batch.MOST_PAGES
    memo.KEPT = batch.MOST_PAGES = KEPT
    try:
        with Session("modelled://steady?speed=1000", folder, own_process=False) as session:
            session._link._port = session._keeper._port = access
            session.start(wait=True)
            feed, names = Feed(session, clock=lambda: board.time), itertools_names(draw)
            session.start_recording("long")
            due, next_run, left = list(hours), RUN_EVERY, [Viewer(page=page, name=next(names)) for page in PAGES]
            at = 0.0
            while due:
                at += look
                board.allowed = at
                until(
                    lambda at=at: board.time >= at and board.handled_bytes >= board.delivered,
                    f"{at:g} s of board time",
                    patience=900.0,
                )
                for viewer in draw.sample(left, 2):  # two look, one leaves, one comes
                    feed.update(viewer, messages)
                    messages += 1
                left[draw.randrange(len(left))] = Viewer(page=draw.choice(PAGES), name=next(names))
                if at >= next_run:
                    running = session.snapshot().run
                    if running is not None and running.running:
                        session.stop_run()
                        next_run += RUN_EVERY - RUN_FOR
                    else:
                        session.start_run(record=False)
                        next_run += RUN_FOR
                if at >= due[0] * 3600.0:
                    session.catch_up(60.0)
                    gc.collect()
                    seen.append(
                        (due.pop(0), resident(), len(gc.get_objects()), messages, session.snapshot().losses.frames)
                    )
            session.stop_recording()
    finally:
        link.BATCH = usual
        ring_buffer.RingBuffer.__init__.__defaults__ = ring
        background.BackgroundAnswers.__init__.__defaults__ = answers
        memo.KEPT, batch.MOST_PAGES = pieces, pages
    return seen


def itertools_names(draw):
    while True:
        yield f"{draw.getrandbits(64):016x}"


def growing(folder, hours):
    """The places in the code that hold more memory after the second than after the first of these hours, kB."""
    shots = []
    tracemalloc.start()
    original = resident

    def take():
        shots.append(tracemalloc.take_snapshot().filter_traces([tracemalloc.Filter(False, tracemalloc.__file__)]))
        return original()

    globals()["resident"] = take
    try:
        long_session(folder, hours)
    finally:
        globals()["resident"] = original
        tracemalloc.stop()
    before, after = shots[-2:]
    return [
        (f"{Path(one.traceback[0].filename).name}:{one.traceback[0].lineno}", one.size_diff / 1000)
        for one in after.compare_to(before, "lineno")
        if one.size_diff > 0
    ][:3]


def measure(seed):
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as scratch:
        seen = long_session(Path(scratch) / "long", HOURS, seed=seed)
        speed = HOURS[-1] * 3600.0 / (time.monotonic() - began)
        grown = growing(Path(scratch) / "traced", (3, 9))
    first = seen[0]
    rows = [
        [f"{hour} h", f"{frames:,}", f"{messages:,}", f"{memory:.0f}", f"{memory / first[1]:.2f}", f"{objects:,}"]
        for hour, memory, objects, messages, frames in seen
    ]
    told = ", ".join(f"{place} {size:.0f} kB" for place, size in grown) or "none"
    return Part(
        "Long runs",
        ["simulated time", "frames", "messages to viewers", "memory, MB", "against the first", "objects"],
        rows,
        before=(
            f"A session in one process: reader, decoder, converter, steady points, recorder, a run of {RUN_FOR / 60:.0f} min every "
            f"{RUN_EVERY / 3600:.0f} h, and two messages to viewers every {LOOK / 60:.0f} min, one of which leaves and another comes. "
            f"So that 72 hours fit into minutes the board sends {RATE} lines a second, the least of its range, for "
            f"{READINGS:.0f} s of every {EVERY:.0f}, and the rings hold {RING:,} samples, so that they are full soon. For the same reason {KEPT} "
            f"answers and pieces of pages are kept for the next viewer, in place of 40 to 120. {speed:,.0f} times real time. Memory is that of the "
            "process after free memory was given back to the system, objects those that the garbage collector knows."
        ),
        after=(
            f"Places that hold more after 9 h than after 3 h: {told}. With the usual numbers of answers and pieces the objects "
            "still grew by 170 an hour after 40 h: what is kept for the next viewer fills so slowly, because a viewer comes every 10 min. "
            "With few of them the number of objects stands still, so nothing else grows but a mark for each run. The "
            "browser is not measured here: see the part Memory over an hour."
        ),
        order=53,
    )
