"""Pictures of every page in every state, to be looked at, and the pictures of the README.

    python tests/screens.py [folder] [--states empty,sweep,curve,run,alarm,replay] [--pages source,run]
    python tests/screens.py --readme

The first form writes one PNG for each state, page, width (1280, 820, 390) and colour scheme into the folder, by default
``screens`` in the folder of temporary files, and prints the length of each page. The second one makes the pictures in
``host/pictures``. Everything shown is simulated. Debian's chromium takes the pictures.
"""

import argparse
import contextlib
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "support"))

from PIL import Image  # noqa: E402
from reader_window import ARGUMENTS, CHROMIUM, PATIENCE, Look, Tabs  # noqa: E402

from frothline.bench.session import Session  # noqa: E402
from frothline.web import serving  # noqa: E402
from frothline.web.pages import PAGES  # noqa: E402
from frothline.web.tour import BROKEN  # noqa: E402

SIZES = {1280: 800, 820: 1100, 390: 844}  # CSS px, width: height
SCHEMES = ("light", "dark")
SPEED = 12  # of simulated time
POINTS = 6  # of the source in the pictures of a sweep
FOAMING = 40.0  # s of a run before the packing is blown out: the watch has learnt the line, the reservoir is not empty
REPLAYED = ROOT / "recordings" / "season" / "03-29-sweep-shop-motor.froth"
README = ROOT / "host" / "pictures"
COLOURS = 224  # of a picture of the README: a third of the bytes, and no difference to be seen
HIGH = 900  # px, of its pictures
STATES = {  # name: its pages
    "empty": PAGES,
    "sweep": ("source", "generator", "guide"),
    "curve": PAGES,
    "run": ("generator", "run", "batch"),
    "alarm": ("source", "generator", "run"),
    "replay": ("source", "run"),
}


class Scene:
    """A served simulated session, and the windows that look at it."""

    def __init__(self, session, address, chromium):
        self.session, self._address, self._chromium, self._tabs = session, address, chromium, Tabs(chromium)
        self.tour = True

    @contextlib.contextmanager
    def window(self, page, width=1280, scheme="light", height=None):
        """A window on a page that has been drawn, charts included. ``self.tour`` : whether its tour is shown."""
        phone = {"has_touch": True} if width < 720 else {}
        size = {"width": width, "height": height or SIZES[width], "color_scheme": scheme}
        look = Look(self._chromium, self._address, tabs=self._tabs, **size, **phone)
        look.open("" if page == "source" else page)
        look.drawn(3)
        if not self.tour:
            look.page.locator(".tour").get_by_role("button", name="Dismiss").click()
            look.page.wait_for_selector(".tour", state="detached")
        charts = "[...document.querySelectorAll('.graph > div')].filter((e) => e.offsetWidth)"
        look.page.wait_for_function(f"{charts}.every((e) => e.querySelector('.xtick'))")
        try:
            yield look
        finally:
            look.close()

    def until(self, condition, what):
        """Wait until the simulation has come so far."""
        end = time.monotonic() + PATIENCE / 1000
        while not condition(self.session.snapshot()):
            if time.monotonic() > end:
                raise SystemExit(f"did not come in {PATIENCE / 1000:.0f} s: {what}")
            time.sleep(0.05)

    # --- the states, in their order

    def empty(self):
        """A rig, and nothing measured with it."""

    def sweep(self):
        """Half of a sweep; the hand at the throttle is taken away, so that it stays so."""
        self.session.start_sweep(record=True)
        self.until(lambda now: now.sweep.points >= POINTS and now.sweep.target is not None, "a half sweep")
        self.session.turn_throttle(self.session.simulation.truth()["throttle"])

    def curve(self):
        self.session.stop_sweep()  # it has been held at one opening for long; its points would not be those of a visitor
        self.session.start_sweep(record=False)
        self.session.turn_throttle(None)
        self.until(lambda now: now.sweep.done and now.fit is not None, "the curve")
        self.session.stop_recording()

    def run(self):
        with self.window("run") as look:
            look.page.get_by_role("button", name="Make foam (simulated)").click()
            self.until(lambda now: now.run is not None and now.run.elapsed > FOAMING, "foam")

    def alarm(self):
        with self.window("run") as look:
            look.page.get_by_text("Try a fault (simulation)").click()
            look.page.get_by_role("button", name="the packing has left through the outlet").click()
            self.until(lambda now: any(alarm.code == BROKEN for alarm in now.run.alarms), "its alarm")


@contextlib.contextmanager
def browser():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=[*ARGUMENTS, "--hide-scrollbars"])
        yield started
        started.close()


@contextlib.contextmanager
def scene(url, chromium):
    """A simulated session with a folder of its own."""
    with (
        tempfile.TemporaryDirectory(prefix="frothline-") as folder,
        Session(url, folder) as session,
        serving(session) as address,
    ):
        session.start(wait=True)
        yield Scene(session, address, chromium)


def take(stage, state, folder, pages):
    """One picture of each page in each look."""
    for page in pages:
        for width in SIZES:
            for scheme in SCHEMES:
                with stage.window("source" if page == "guide" else page, width, scheme) as look:
                    if page == "guide":
                        look.page.locator("#source-sweep").click()
                        look.page.wait_for_selector("#sweep", state="visible")
                    path = folder / f"{state}-{page}-{width}-{scheme}.png"
                    look.page.screenshot(path=path, full_page=page != "guide")
                    length = look.page.evaluate("document.documentElement.scrollHeight")
                    print(f"{path.name}: {length} px long", *look.complaints, flush=True)


def everything(folder, states, pages):
    folder.mkdir(parents=True, exist_ok=True)
    with browser() as chromium:
        with scene(f"modelled://sweep?seed=1&speed={SPEED}", chromium) as stage:
            for state in [name for name in STATES if name != "replay"]:
                if not set(states) - {"replay"}:
                    break
                getattr(stage, state)()
                if state in states:
                    take(stage, state, folder, [page for page in STATES[state] if page in pages])
                    states = [one for one in states if one != state]
        if "replay" in states:
            with scene(f"replay://{REPLAYED}", chromium) as stage:
                stage.until(lambda now: now.link.frames > 500, "a part of the replay")
                take(stage, "replay", folder, [page for page in STATES["replay"] if page in pages])


def for_readme():
    """The first minute: a sweep, its curve, a changed outlet, an alarm."""
    with browser() as chromium, scene(f"modelled://sweep?seed=1&speed={SPEED}", chromium) as stage:
        stage.tour = False
        stage.sweep()
        with stage.window("source") as look:
            look.page.locator("#source-sweep").click()
            look.page.wait_for_selector("#sweep", state="visible")
            keep(look, "sweep")
        stage.curve()
        with stage.window("source", height=HIGH) as look:
            look.page.add_style_tag(content="p:has(> .path) { visibility: hidden }")  # a folder of this one occasion
            keep(look, "source")
        with stage.window("generator", height=HIGH) as look:
            look.page.locator("#slide-outlet-bore").fill("26")
            look.page.wait_for_selector(".side-view .fl-outlet.fl-changed")
            look.page.wait_for_selector(".sheet-head .moves >> text=→")
            look.page.locator("#page-generator .side-view").evaluate("e => e.scrollIntoView()")
            look.drawn(5)
            keep(look, "generator")
            look.page.get_by_role("button", name="Discard changes").click()
        stage.run()
        stage.alarm()
        with stage.window("run", height=HIGH) as look:
            look.page.locator("#page-run .figures").evaluate("e => e.scrollIntoView()")
            look.drawn(5)
            keep(look, "alarm")


def keep(look, name):
    """A picture of what is in sight, with few colours."""
    path = README / f"{name}.png"
    look.page.screenshot(path=path)
    with Image.open(path) as picture:
        picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)
    print(f"{path.relative_to(ROOT)}: {path.stat().st_size / 1000:.0f} kB", *look.complaints, flush=True)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(tempfile.gettempdir()) / "screens")
    parser.add_argument("--states", default=",".join(STATES))
    parser.add_argument("--pages", default=",".join((*PAGES, "guide")))
    parser.add_argument("--readme", action="store_true")
    options = parser.parse_args()
    if options.readme:
        for_readme()
    else:
        everything(options.folder, options.states.split(","), options.pages.split(","))
        print(f"in {options.folder}")


if __name__ == "__main__":
    main()
