"""What one open page costs: bytes and time of the first load, memory per message, processor time of browser and server.

    python tests/performance/viewer_cost.py [seconds]

The pages are served by a process of their own, on the stand-in for the session; Chromium is asked over its debugging
protocol. Compare ratios: the figures depend on the machine.
"""

import contextlib
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests/support")]

from reader_window import ARGUMENTS, CHROMIUM  # noqa: E402

SERVER = """
import sys, tempfile
sys.path.insert(0, "tests/support")
from fake_session import FakeSession
from frothline.web import serve
bench = FakeSession(tempfile.mkdtemp())
for opening in (0.0, 0.3, 0.6, 1.0):
    bench._take(opening)
serve(bench, port=0, ready=lambda address: print(address, flush=True))
"""
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
def served():
    """Serve the pages from a process of its own; gives its address and its process id."""
    process = subprocess.Popen([sys.executable, "-c", SERVER], stdout=subprocess.PIPE, text=True, cwd=ROOT)
    try:
        yield process.stdout.readline().strip(), process.pid
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


def main(seconds):
    with served() as (address, pid), chromium() as browser:
        loads = [Opened(browser, address) for _ in range(3)]
        loads[-1].page.wait_for_timeout(1000)
        print(f"first load: {loads[-1].transferred / 1e6:.3f} MB transferred")
        words, question, figure = (min(moments) for moments in zip(*(one.moments() for one in loads), strict=True))
        print(f"from the server's answer: first paint {words:.0f} ms, page {question:.0f} ms, figure {figure:.0f} ms")
        for one in loads:
            one.context.close()
        viewers = []
        for count in (1, 2):
            viewers.append(Opened(browser, address))
            time.sleep(2)
            before, begun = processor_time(browser, pid), time.monotonic()
            drawn, each, minute = growth(viewers[0], seconds)
            after, passed = processor_time(browser, pid), time.monotonic() - begun
            server, browsers = ((b - a) / passed * 100 / count for a, b in zip(before, after, strict=True))
            print(
                f"{count} viewer(s), {drawn / passed:.1f} messages a second each: processor of the server {server:.1f} %,"
                f" of the browser {browsers:.1f} % per viewer; heap {each:+.0f} bytes a message,"
                f" {minute / 1e6:+.2f} MB a minute"
            )


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0)
