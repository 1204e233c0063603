"""Every page with its parts open, and what covers a page, checked by axe-core (Deque, MPL-2.0) with all of its rules."""

import json

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from fake_session import course_of, state_of_run
from test_generator_page import blower
from test_run_page import alarm

from frothline.web.pages import PAGES

pytestmark = pytest.mark.browser
WIDE = {"width": 1280, "height": 800, "color_scheme": "light"}
PHONE = {"width": 390, "height": 844, "color_scheme": "dark", "has_touch": True}
OPEN_ALL = "document.querySelectorAll('.page details').forEach((e) => { if (e.offsetParent) { e.open = true; } })"
FIND = "axe.run({ resultTypes: ['violations'] }).then((found) => found.violations.map((one) => [one.id, one.nodes.map((n) => n.html.slice(0, 160) + ' | ' + n.any.concat(n.all, n.none).map((m) => m.message)[0])]))"


@pytest.mark.parametrize("size", [pytest.param(WIDE, marks=pytest.mark.exhaustive), PHONE])
def test_no_page_has_a_barrier_that_axe_core_finds(look, bench, size):
    bench._fit = blower()
    bench._take(0.4)
    bench.start_recording()
    bench.mark("hose moved")
    started = bench.now - 120.0
    alarms = (alarm("packing_blown"), alarm("clogging", number=2))
    bench.run = state_of_run(
        bench.now, started=started, elapsed=120.0, course=course_of(120.0, started=started), alarms=alarms, log=alarms
    )
    window = look(**size).open()
    page = window.page
    page.evaluate(AXE_SCRIPT)
    found = {}

    def check(what):
        window.drawn(2)
        if violations := page.evaluate(FIND):
            found[what] = violations

    for name in PAGES:
        page.locator(f"nav a[data-page={name}]:visible").click()
        page.evaluate(OPEN_ALL)
        check(name)
    page.locator("nav a[data-page=run]:visible").click()
    page.get_by_role("button", name="Take a sample").click()
    page.wait_for_selector("#sample", state="visible")
    check("timer of a sample")
    page.get_by_role("button", name="Minimise").click()
    bench.run = None
    page.locator("nav a[data-page=source]:visible").click()
    page.get_by_role("button", name="Guided sweep").click()
    page.wait_for_selector("#sweep", state="visible")
    check("guide")
    assert not found, json.dumps(found, indent=1)
