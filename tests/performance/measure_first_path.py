"""A first visitor's path through the demo: presses and seconds to the first curve, what-if, foam, alarm, sample, batch."""

import tempfile
import time

from reader_window import ARGUMENTS, CHROMIUM, WHOLE_SWEEP, Look
from results_page import Part

from frothline.bench.session import Session
from frothline.web import serving

SPEED = 12  # of simulated time
FILLING = 4.0  # s of the rig between two presses at the bucket
FAULT = "the packing has left through the outlet"
ANY_FIGURE = "/[0-9]/.test(document.querySelector('[data-live=\"{}\"]').textContent)"


class Visitor:
    """Presses what the page offers, and counts. A press needs a control that is visible and enabled."""

    def __init__(self, session, look):
        self.session, self.look, self.page = session, look, look.page
        self.rows = []
        self._begin()

    def _begin(self):
        self.presses, self.scrolled, self.names = 0, 0, []
        self.since, self.since_simulated = time.monotonic(), self.session.snapshot().time

    def press(self, place, name):
        place.wait_for(state="visible")
        box, height = place.bounding_box(), self.page.viewport_size["height"]
        self.scrolled += box is None or not 0 <= box["y"] <= height - box["height"]
        place.click()
        self.presses += 1
        self.names.append(name)

    def button(self, name):
        self.press(self.page.get_by_role("button", name=name, exact=True).locator("visible=true").first, name)

    def tab(self, name):
        self.press(self.page.locator(f"nav a[data-page={name}]").locator("visible=true").first, f"tab {name}")

    def wait(self, condition):
        self.page.wait_for_function(condition, timeout=WHOLE_SWEEP)

    def reached(self, what):
        """Note what was reached since the last one, and begin the next."""
        wall, simulated = time.monotonic() - self.since, self.session.snapshot().time - self.since_simulated
        self.rows.append(
            (
                what,
                *map(str, (self.presses, self.scrolled)),
                f"{wall:.1f} s",
                f"{simulated:.0f} s",
                ", ".join(self.names) or "none: the demo sweeps by itself",
            )
        )
        self._begin()


def curve(visitor):
    visitor.wait(ANY_FIGURE.format("fit-shut_off"))
    visitor.reached("curve")


def what_if(visitor):
    visitor.tab("generator")
    slider = visitor.page.locator("#slide-outlet-bore")
    slider.wait_for(state="visible")
    slider.focus()
    visitor.page.keyboard.press("ArrowLeft")
    visitor.presses += 1
    visitor.names.append("slider outlet bore")
    visitor.page.wait_for_selector(".sheet-head .moves >> text=→", timeout=WHOLE_SWEEP)
    visitor.reached("what-if")


def foam(visitor):
    visitor.tab("run")
    visitor.button("Make foam (simulated)")
    visitor.wait(ANY_FIGURE.format("run-foam_rate"))
    visitor.reached("foam")


def alarm(visitor):
    page = visitor.page
    fault = page.get_by_role("button", name=FAULT)
    visitor.press(page.get_by_text("Try a fault (simulation)", exact=True), "Try a fault (simulation)")
    visitor.press(fault, FAULT)
    page.wait_for_selector("[data-block=alarms] >> text=/packing/i", timeout=WHOLE_SWEEP)
    visitor.press(fault, f"{FAULT}, again")
    page.wait_for_selector(".tour >> text=All five done", timeout=WHOLE_SWEEP)
    visitor.reached("alarm handled")


def sample(visitor):
    page, session = visitor.page, visitor.session
    visitor.button("Take a sample")
    for name in ("Foam is flowing in – start", "Bucket full – stop", "Save weight"):
        before = session.snapshot().time
        while session.snapshot().time < before + FILLING:
            time.sleep(0.01)
        visitor.button(name)
    page.wait_for_selector("#sample .entry [name=drained]")
    visitor.button("Done")
    page.wait_for_selector("[data-rows=samples] >> text=kg/m³")
    visitor.reached("sample")


def batch(visitor):
    visitor.tab("batch")
    visitor.page.wait_for_selector("[data-rows=batch] >> text=/[0-9] /")
    visitor.reached("batch")


def walk(seed):
    """The rows of one visit, and what the browser complained of."""
    from playwright.sync_api import sync_playwright

    with (
        sync_playwright() as playwright,
        tempfile.TemporaryDirectory(prefix="frothline-") as folder,
        Session(f"modelled://sweep?seed={seed % 1000}&speed={SPEED}", folder) as session,
        serving(session) as address,
    ):
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        session.start(wait=True)
        session.start_sweep(name="demo")  # as the command demo does
        look = Look(browser, address).open()
        visitor = Visitor(session, look)
        for step in (curve, what_if, foam, alarm, sample, batch):
            step(visitor)
        browser.close()
    return visitor.rows, look.complaints


def measure(seed):
    rows, complaints = walk(seed)
    assert not complaints, complaints
    total = sum(int(row[1]) for row in rows)
    return Part(
        "A first visitor's path",
        ("first", "presses", "scrolls", "wall time", "time of the rig", "what is pressed"),
        rows,
        before=(
            f"Chromium at 1280 px opens the demo, simulated at {SPEED} times real time, and presses what the page offers. "
            "Each row begins where the one before ended. A visitor of the demo at real time waits for the time of the rig."
        ),
        after=(f"All six take {total} presses. The next step is a person who has not seen the pages."),
        order=40,
    )
