"""What open pages cost: first load, processor time of server and browser with 0, 1 and 2 viewers, memory over minutes.

The pages are those of the demo, served by a process of its own; Chromium is asked over its debugging protocol. By default
each count of viewers is watched for half a minute. FROTHLINE_VIEWER_MINUTES gives other minutes, 60 for the hour.
"""

import contextlib
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from reader_window import ARGUMENTS, CHROMIUM
from results_page import Part

ROOT = Path(__file__).parents[2]
MINUTES = "FROTHLINE_VIEWER_MINUTES"  # environment variable: minutes for which each count of viewers is watched
WARM = 20.0  # s in which compiled code and caches still grow
IDLE = 15.0  # s without a viewer
LOADS = 3
FIRST_WORDS = """
new PerformanceObserver((list) => { for (const e of list.getEntries()) {
  if (e.name === "first-contentful-paint") { window.firstWords = e.startTime; } } })
  .observe({ type: "paint", buffered: true });
const waiting = setInterval(() => {
  const place = document.querySelector("[data-live=now-line_pressure]");
  if (place && !window.firstQuestion) { window.firstQuestion = performance.now(); }
  if (place && /[0-9]/.test(place.textContent)) { window.firstFigure = performance.now(); clearInterval(waiting); }
}, 5);
"""


@contextlib.contextmanager
def served(seed=1):
    """Serve the demo from a process of its own; gives its address and its process id."""
    with tempfile.TemporaryDirectory(prefix="frothline-", ignore_cleanup_errors=True) as folder:
        command = [sys.executable, "-m", "frothline", "demo", "--no-browser", "--seed", str(seed), "--web-port", "0"]
        process = subprocess.Popen([*command, "--folder", folder], stdout=subprocess.PIPE, text=True, cwd=ROOT)
        try:
            yield next(word for line in process.stdout for word in line.split() if word.startswith("http")), process.pid
        finally:
            process.terminate()
            process.wait()
            process.stdout.close()


@contextlib.contextmanager
def chromium():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


class Opened:
    """A page with the debugging protocol at hand. ``transferred`` : bytes on the wire so far, headers included."""

    def __init__(self, browser, address):
        self.context = browser.new_context(viewport={"width": 1280, "height": 800})
        self.page = self.context.new_page()
        self.debugger = self.context.new_cdp_session(self.page)
        self.transferred = 0
        self.debugger.on("Network.loadingFinished", self._finished)
        for domain in ("Network", "HeapProfiler", "Performance"):
            self.debugger.send(f"{domain}.enable")
        self.page.add_init_script(FIRST_WORDS)
        self.page.goto(address)
        self.page.wait_for_function("window.firstFigure")
        self.page.wait_for_function("document.querySelector('#plane .js-plotly-plot .xtick')")

    def _finished(self, event):
        self.transferred += event["encodedDataLength"]

    @property
    def messages(self):
        return self.page.evaluate("frothline.drawn.ticks")

    @property
    def heap(self):
        """Bytes of live objects, after the garbage has been collected."""
        for _ in range(3):
            self.debugger.send("HeapProfiler.collectGarbage")
        return self.debugger.send("Runtime.getHeapUsage")["usedSize"]

    @property
    def nodes(self):
        """Number of elements and texts that the browser holds."""
        metrics = self.debugger.send("Performance.getMetrics")["metrics"]
        return int(next(one["value"] for one in metrics if one["name"] == "Nodes"))

    def moments(self):
        """Milliseconds from the server's answer to the first words, the page's question and the first figure."""
        answer = self.page.evaluate("performance.getEntriesByType('navigation')[0].responseStart")
        return [
            self.page.evaluate(f"window.{name}") - answer for name in ("firstWords", "firstQuestion", "firstFigure")
        ]


def growth(opened, seconds):
    """``(messages, bytes of heap per message, bytes of heap per minute)`` over some seconds."""
    before, drawn, begun = opened.heap, opened.messages, time.monotonic()
    time.sleep(seconds)
    grown, drawn = opened.heap - before, opened.messages - drawn
    return drawn, grown / max(drawn, 1), grown * 60 / (time.monotonic() - begun)


def processor_time(browser, pid):
    """``(server, browser)`` : processor seconds used so far."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    processes = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")["processInfo"]
    return (int(fields[11]) + int(fields[12])) / 100, sum(process["cpuTime"] for process in processes)


def spent(browser, pid, seconds):
    """``(server, browser)`` : processor time over some seconds, in per cent of a core."""
    before, begun = processor_time(browser, pid), time.monotonic()
    time.sleep(seconds)
    passed = time.monotonic() - begun
    return [100 * (b - a) / passed for a, b in zip(before, processor_time(browser, pid), strict=True)]


def first_load(browser, address):
    """MB on the wire, and milliseconds from the server's answer to the first words and the first figure: the least."""
    loads = [Opened(browser, address) for _ in range(LOADS)]
    loads[-1].page.wait_for_timeout(1000)
    words, _, figure = (min(moments) for moments in zip(*(one.moments() for one in loads), strict=True))
    transferred = loads[0].transferred / 1e6
    for one in loads:
        one.context.close()
    return transferred, words, figure


def measure(seed):
    seconds = 60.0 * float(os.environ.get(MINUTES, "0.5"))
    with served(seed % 1000) as (address, pid), chromium() as browser:
        idle, _ = spent(browser, pid, IDLE)
        transferred, words, figure = first_load(browser, address)
        rows = [("0", f"{idle:.1f} %", "", "", "", "", "")]
        viewers, last, grows = [], idle, 0.0
        for count in (1, 2):
            viewers.append(Opened(browser, address))
            time.sleep(WARM)
            nodes, before, begun = viewers[0].nodes, processor_time(browser, pid), time.monotonic()
            drawn, each, minute = growth(viewers[0], seconds)
            after, passed = processor_time(browser, pid), time.monotonic() - begun
            server, browsers = (100 * (b - a) / passed for a, b in zip(before, after, strict=True))
            rows.append(
                (
                    str(count),
                    f"{server:.1f} %",
                    f"{server - last:+.1f} %",
                    f"{browsers / count:.1f} %",
                    f"{drawn / passed:.1f}",
                    f"{each:+.0f} bytes, {minute / 1e6:+.2f} MB",
                    f"{viewers[0].nodes - nodes:+d}",
                )
            )
            last, grows = server, minute / 1e6
    return Part(
        "Viewers",
        (
            "open pages",
            "server",
            "for this page",
            "browser for each page",
            "messages a second each",
            "heap for a message, for a minute",
            "elements",
        ),
        rows,
        before=(
            f"The demo and Chromium on one machine, source page, each count for {seconds / 60:g} min after {WARM:.0f} s. "
            "Processor time in per cent of one core; the server's includes reading and recording the rig. The heap is "
            "that of the first page after the garbage was collected. "
            f"First load: {transferred:.2f} MB on the wire; from the server's answer {words:.0f} ms to the first words and "
            f"{figure:.0f} ms to the first figure, the least of {LOADS}."
        ),
        after=(
            f"The heap of a page changes by {grows:+.2f} MB a minute, which in a short run is what the browser keeps for a "
            "while: over an hour it is flat (part Memory over an hour)."
        ),
        order=42,
    )
