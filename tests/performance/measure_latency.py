"""From a byte at the port to a changed figure in the browser, and what viewers cost the server."""

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import long_recording
import numpy as np
import websockets
from fake_board import FakeBoard, PtyBoard
from reader_window import ARGUMENTS, CHROMIUM
from results_page import Part

from frothline.rig.link import BATCH

ROOT = Path(__file__).parents[2]
SERVER = """
import sys
from frothline.bench.session import Session
from frothline.web import serve
with Session(sys.argv[1], sys.argv[2]) as session:
    session.start(wait=True)
    serve(session, port=0, ready=lambda address: print(address, flush=True))
"""
SECONDS = 6.0
COUNTED = (0, 1, 5, 20)
STEPS = 40
RATE = 100
WATCH = """() => {
  window.changes = [];
  const place = document.querySelector("[data-live=now-line_pressure]");
  new MutationObserver(() => window.changes.push([performance.timeOrigin + performance.now(), place.textContent]))
    .observe(place, { childList: true, characterData: true, subtree: true });
}"""


class Served:
    """The pages of a port, served by a process of their own."""

    def __init__(self, url, folder):
        command = [sys.executable, "-c", SERVER, url, str(folder)]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT)
        self.address = self.process.stdout.readline().strip()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.terminate()
        self.process.wait()
        self.process.stdout.close()

    def processor_time(self):
        """Seconds used by the server and by its process at the port."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        found = [_used(self.process.pid), 0.0]
        for child in children:
            found[1] += _used(child)
        return np.array(found)


def _used(pid):
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


async def viewer(address, seconds, page="source"):
    """A page without a browser: it has drawn each message at once. Gives the moments at which messages came."""
    state = {"page": page, "scheme": "light", "system": "metric", "columns": 300, "seconds": 30, "have": {}, "seen": 0}
    came = []
    url = address.replace("http://", "ws://") + "live"
    async with websockets.connect(url, origin=address.rstrip("/"), max_size=None) as line:
        await line.send(json.dumps(state))
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            message = json.loads(await line.recv())
            came.append(time.monotonic())
            state["seen"] = message["number"]
            for kind in ("blocks", "figures"):
                state["have"] |= {name: one["key"] for name, one in message[kind].items()}
            await line.send(json.dumps(state))
    return came


VIEWERS = """
import asyncio, json, sys
sys.path[:0] = ["tests/performance", "tests/support"]
from measure_latency import viewer
async def all_of_them(address, count, seconds):
    return await asyncio.gather(*(viewer(address, seconds) for _ in range(count)))
print(json.dumps(asyncio.run(all_of_them(sys.argv[1], int(sys.argv[2]), float(sys.argv[3])))))
"""


def load(served, count):
    """Share of a core of the server and of its port process, messages a second of each viewer, longest delay (s)."""
    if not count:
        before, begun = served.processor_time(), time.monotonic()
        time.sleep(SECONDS)
        return (served.processor_time() - before) / (time.monotonic() - begun), 0.0, 0.0
    command = [sys.executable, "-c", VIEWERS, served.address, str(count), str(SECONDS + 2)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as viewers:
        time.sleep(2.0)  # the viewers start and get their first messages, which are longer
        before, begun = served.processor_time(), time.monotonic()
        time.sleep(SECONDS - 1)
        used = (served.processor_time() - before) / (time.monotonic() - begun)
        came = json.loads(viewers.stdout.read())
    steady = [np.array(one)[5:] for one in came]
    each = np.mean([(one.size - 1) / (one[-1] - one[0]) for one in steady])
    return used, float(each), max(float(np.diff(one).max()) for one in steady)


class SteppingBoard(FakeBoard):
    """A board whose pressure changes on request; ``changed`` is the moment of its first message at the port."""

    level = 25_000
    waiting = False
    changed = 0.0

    def send(self, message, /, **fields):
        if message == "line":
            fields["pressure_sum"] = self.level
            if self.waiting:
                self.waiting, self.changed = False, time.time()
        super().send(message, **fields)

    def change(self):
        self.level = 25_000 + 12_000 * (self.level == 25_000)
        self.waiting = True


def latencies(board, pages, rng):
    """Milliseconds from the changed message at the port to the first changed figure on each page."""
    found = []
    for page in pages:
        page.evaluate(WATCH)
    for _ in range(STEPS):
        time.sleep(float(rng.uniform(0.9, 1.1)))
        board.change()
        time.sleep(0.8)
        for page in pages:
            changes = page.evaluate("window.changes.splice(0)")
            after = [at - board.changed * 1000 for at, _ in changes if at >= board.changed * 1000]
            if after:
                found.append(after[0])
    return np.array(found)


def measure(seed):
    from playwright.sync_api import sync_playwright

    rng = np.random.default_rng(seed)
    rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        long_recording.write(folder / "line.froth", 600.0, seed, RATE)
        with Served(f"replay://{folder / 'line.froth'}", folder / "made") as served:
            time.sleep(3.0)
            for count in COUNTED:
                used, each, longest = load(served, count)
                goal = {0: "5 %", 1: "10 %", 20: "60 %"}.get(count, "")
                shown = [f"{each:.1f}", f"{longest * 1000:.0f} ms"] if count else ["", ""]
                what = f"Replayed line, {count or 'no'} viewer{'s' if count != 1 else ''}"
                rows.append([what, f"{100 * used[0]:.1f} %", f"{100 * used[1]:.1f} %", goal, *shown, ""])
        board = SteppingBoard(rate=RATE, identity=7)
        with (
            PtyBoard(board, folder) as port,
            Served(port.url, folder / "steps") as served,
            sync_playwright() as started,
        ):
            browser = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
            pages = []
            for count in (1, 4):
                while len(pages) < count:
                    page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
                    page.goto(served.address)
                    page.wait_for_function(
                        "/[0-9]/.test(document.querySelector('[data-live=now-line_pressure]').textContent)"
                    )
                    pages.append(page)
                found = latencies(board, pages, rng)
                middle, late = np.quantile(found, [0.5, 0.95])
                what = f"A step of pressure, {count} page{'s' if count > 1 else ''} in Chromium ({found.size} figures)"
                goal = "100 ms, 95 % 200 ms" if count == 4 else ""
                rows.append([what, "", "", goal, "", "", f"{middle:.0f} ms, 95 % {late:.0f} ms"])
            browser.close()
    return Part(
        title="Latency and load of the live pages",
        columns=[
            "What",
            "Server, of a core",
            "Process at the port, of a core",
            "Goal",
            "Messages a second, each viewer",
            "Longest time between two",
            "Byte at the port to changed figure",
        ],
        rows=rows,
        before=(
            f"A recording with {RATE} line messages a second is replayed at its own speed. Viewers without a browser read "
            f"the source page over sockets from another process, for {SECONDS:.0f} s; they confirm each message at once. "
            "For the latency, a board at a pseudo-terminal changes its pressure at random moments; the time is taken "
            "from the first changed message at the port to the first changed text of the figure in Chromium."
        ),
        after=(
            "Messages are made once for all viewers with the same page, units, theme, width and settings. While nobody "
            f"looks, readings are converted four times a second, otherwise {1 / BATCH:g} times, each 8 ms before the "
            "messages that show them. That conversion is half of the cost of one viewer. A rate of 20 a second was tried: "
            "a change came 15 ms earlier, for 14 % of a core with one viewer. The next step is to keep the parts of an "
            "uncertainty as one array, and to send only what has changed in a message."
        ),
        order=30,
    )
