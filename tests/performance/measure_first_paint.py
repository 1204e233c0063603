"""First paint of every page: from the start of the navigation to the first words, and to a figure of this session.

The pages are those of the demo while it makes foam, served by a process of its own; Chromium asks for each of them anew.
"""

import json
import statistics
from dataclasses import dataclass

from measure_viewers import chromium, served
from reader_window import PATIENCE, WHOLE_SWEEP
from results_page import Part

LOADS = 10
GOAL = 300  # ms from the request to a figure of this session, at desktop size
SLOWED = 4  # times, the processor of the phone
ANY_DIGIT = "[0-9]"
PLACES = {  # page: an element that is filled in with what this session has, and what its text then holds
    "source": ("[data-live=now-line_pressure]", ANY_DIGIT),
    "generator": ("[data-live=meet-pressure]", ANY_DIGIT),
    "run": ("[data-live=run-foam_rate]", ANY_DIGIT),
    "batch": ("[data-block=batch-plan]", ANY_DIGIT),
    "notebook": ("[data-block=notebook-trials]", ANY_DIGIT),
    "spool": ("[data-table=channels] td", ANY_DIGIT),
}
# In the callback before each frame: is the element in the page, has it a size, and does its text hold what it should?
# The frame is then painted in the same turn, and a message that was posted in the callback arrives after that turn.
OBSERVED = """(places) => {
  if (!(location.pathname in places)) { return; }
  const [place, text] = places[location.pathname];
  window.painted = {};
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) { if (entry.name === "first-contentful-paint") { painted.words = entry.startTime; } }
  }).observe({ type: "paint", buffered: true });
  const after = new MessageChannel(), wanted = new RegExp(text);
  after.port1.onmessage = () => { painted.figure = performance.now(); };
  function look() {
    const element = document.querySelector(place), box = element && element.getBoundingClientRect();
    if (box && box.width && box.height && wanted.test(element.textContent)) { after.port2.postMessage(0); } else { requestAnimationFrame(look); }
  }
  requestAnimationFrame(look);
}"""


def path(name):
    """Where a page is, without the first stroke."""
    return "" if name == "source" else name


@dataclass(frozen=True)
class Screen:
    """A window and the processor behind it."""

    name: str
    width: int
    height: int
    slowed: int = 1
    touch: bool = False


DESKTOP = Screen("desktop", 1280, 800)
PHONE = Screen("phone", 390, 844, SLOWED, touch=True)


@dataclass(frozen=True)
class Load:
    """Milliseconds from the start of the navigation to the first words and to the figure, and bytes on the wire."""

    words: float
    figure: float
    transferred: int


class Reader:
    """A tab that loads pages anew, each with a cold or a warm store of files."""

    def __init__(self, browser, address, screen):
        self.browser, self.address, self.screen = browser, address, screen
        self._open()

    def _open(self):
        """A new store of files, which is empty, and a tab whose process has begun."""
        size = {"width": self.screen.width, "height": self.screen.height}
        self.context = self.browser.new_context(viewport=size, has_touch=self.screen.touch)
        self.context.set_default_timeout(PATIENCE)
        self.page = self.context.new_page()
        self.page.goto(self.address + "alive")  # a short answer of the same server, of which nothing is kept
        observed = {f"/{path(name)}": PLACES[name] for name in PLACES}
        self.page.add_init_script(f"({OBSERVED})({json.dumps(observed)})")
        debugger = self.context.new_cdp_session(self.page)
        debugger.send("Emulation.setCPUThrottlingRate", {"rate": self.screen.slowed})

    def load(self, name, *, cold):
        """Load the page ``name`` and wait for its figure."""
        if cold:
            self.close()
            self._open()
        self.page.goto(self.address + path(name), wait_until="commit")
        self.page.wait_for_function("window.painted?.figure && painted.words")
        found = self.page.evaluate("""() => [painted.words, painted.figure, [
          ...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")
        ].reduce((sum, entry) => sum + entry.transferSize, 0)]""")
        self.page.goto(self.address + "alive")
        words, figure, transferred = found
        return Load(words, max(words, figure), transferred)  # the same frame, if the words come with the figure

    def close(self):
        self.context.close()


def loads(browser, address, name, screen, *, cold, count=LOADS):
    """``count`` loads of a page; with a warm store the files are loaded once before, which is not counted."""
    reader = Reader(browser, address, screen)
    if not cold:
        reader.load(name, cold=False)
    found = [reader.load(name, cold=cold) for _ in range(count)]
    reader.close()
    return found


def make_foam(browser, address):
    """Wait for the first curve of the demo's sweep and begin to make foam, so that every page has its figures."""
    page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
    page.goto(address)
    page.wait_for_function(
        f"/{ANY_DIGIT}/.test(document.querySelector('[data-live=fit-shut_off]').textContent)", timeout=WHOLE_SWEEP
    )
    page.goto(address + "run")
    page.get_by_role("button", name="Make foam (simulated)", exact=True).locator("visible=true").first.click()
    page.wait_for_function(
        f"/{ANY_DIGIT}/.test(document.querySelector('[data-live=run-foam_rate]').textContent)", timeout=WHOLE_SWEEP
    )
    page.context.close()


def spread(values):
    """Median and largest, as a text."""
    return f"{statistics.median(values):.0f}, {max(values):.0f} ms"


def table(found):
    """Rows of the part. ``found`` : loads by screen, by whether the store was cold, and by page."""
    rows = []
    for (screen, cold, name), them in found.items():
        figures = [load.figure for load in them]
        rows.append(
            (
                screen.name,
                "cold" if cold else "warm",
                name,
                spread([load.words for load in them]),
                spread(figures),
                f"{sum(figure > GOAL for figure in figures)} of {len(figures)}",
                f"{statistics.median(load.transferred for load in them) / 1000:.0f} kB",
            )
        )
    return rows


def measure(seed):
    found = {}
    with served(seed % 1000) as (address, _), chromium() as browser:
        make_foam(browser, address)
        for screen in (DESKTOP, PHONE):
            for cold in (True, False):
                for name in PLACES:
                    found[screen, cold, name] = loads(browser, address, name, screen, cold=cold)
    slowest = max(load.figure for (screen, *_), them in found.items() for load in them if screen is DESKTOP)
    return Part(
        "First paint",
        (
            "window",
            "store of files",
            "page",
            "first words: median, largest",
            "figure of this session: median, largest",
            f"figure later than {GOAL} ms",
            "on the wire until then",
        ),
        table(found),
        before=(
            f"The demo makes foam while Chromium loads each page anew, {LOADS} times in each row. All times are from the "
            "start of the navigation. First words: the browser’s first-contentful-paint. Figure of this session: before "
            "each frame a script looks for a stated element with a size and a digit in its text, and takes the time after "
            "that frame was painted; on the page of the source the pressure, of the generator the pressure at the "
            "operating point, of the run the foam rate, of the batch its plan, of the notebook its trials, of the spool "
            "its channels. Cold: a new store of files, and a browser process that has loaded one short text of the "
            f"server. Warm: the page was loaded once before. Desktop: {DESKTOP.width} × {DESKTOP.height}. Phone: "
            f"{PHONE.width} × {PHONE.height}, with its processor slowed {SLOWED} times; server and line are as fast as at "
            "the desktop."
        ),
        after=(
            f"Goal: at desktop size every page within {GOAL} ms; the slowest load took {slowest:.0f} ms. The first "
            "message has no chart: the two of the source page take the server 70 ms of processor time, and the chart "
            "library is loaded after the first figures were painted. The head of the document asks for the first message. "
            "Style sheets and scripts are one file each."
        ),
        order=41,
    )
