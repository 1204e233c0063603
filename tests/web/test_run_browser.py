"""The run page and the batch page in Chromium: what an alarm moves, what its buttons do, both pages by keyboard."""

import dataclasses

import pytest
from fake_session import course_of, state_of_run
from test_run_page import alarm

pytestmark = pytest.mark.browser
WIDE, TABLET = {"width": 1280, "height": 900}, {"width": 820, "height": 1100}
PHONE = {"width": 390, "height": 844, "has_touch": True}


def fits(window):
    """Nothing has to be scrolled sideways."""
    return window.page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def boxes(page):
    """Place of every button and heading of the page that is in sight outside of the alarms."""
    return page.evaluate(
        """() => [...document.querySelectorAll('#page-run :is(button, summary, .picture, .heading)')]
        .filter(e => e.offsetWidth && !e.closest('.alarms'))
        .map(e => { const b = e.getBoundingClientRect(); return [e.textContent.slice(0, 20), b.x, b.y + scrollY, b.width, b.height]; })"""
    )


@pytest.mark.parametrize(
    "size",
    [pytest.param(WIDE, marks=pytest.mark.exhaustive), pytest.param(TABLET, marks=pytest.mark.exhaustive), PHONE],
)
def test_an_alarm_moves_no_button_and_its_own_buttons_do_what_they_say(look, bench, size):
    bench.start_recording()
    bench.run = state_of_run(bench.now, course=course_of(60.0))
    window = look(**size).open("bucket")  # the former address
    page = window.page
    page.get_by_role("button", name="Stop the run").wait_for()
    window.charted("run-chart")
    stop = page.locator("button.stop").bounding_box()
    assert stop["y"] + stop["height"] <= size["height"] - 20  # in sight without scrolling
    assert page.evaluate("document.body.dataset.page") == "run"
    window.drawn(2)
    before = boxes(page)
    assert page.locator("[data-silence]").first.is_disabled()
    both = (alarm("joint_off_after"), alarm("clogging", number=2))
    for alarms in (both[1:], both):
        bench.run = dataclasses.replace(bench.run, alarms=alarms, log=alarms)
        page.wait_for_function(f"document.querySelectorAll('.alarm').length === {len(alarms)}")
        window.drawn(2)
        assert boxes(page) == before
        assert fits(window)
    page.locator(".alarm h2").first.click()  # the first touch, before which a browser lets nothing sound
    page.wait_for_function("document.body.dataset.sounding === 'yes'")
    page.locator(".alarm-actions").get_by_role("button", name="Silence").click()
    page.wait_for_function("document.body.dataset.sounding === 'no'")
    page.get_by_role("button", name="Refilled").click()
    page.get_by_role("button", name="False alarm").click()
    page.wait_for_selector(".alarm.notice >> text=Marked as a false alarm")
    assert page.locator(".alarm h2").first.text_content() == "Generator clogs"  # what is not marked comes first
    page.get_by_role("button", name="Stop the run").click()
    page.get_by_role("button", name="Start another run").wait_for()
    said = [one for one in bench.calls if one.split(":")[0] in {"refill", "false alarm", "stop_run"}]
    assert said == [
        "refill: reservoir refilled",
        "false alarm: joint_off_after: alarm 1 of this run marked as false",
        "stop_run",
    ]
    page.get_by_label("Run name").fill("longer packing")
    page.get_by_role("button", name="Start another run").click()
    page.get_by_role("button", name="Stop the run").wait_for()
    assert "start_run longer packing" in bench.calls


@pytest.mark.exhaustive
def test_a_batch_is_worked_out_by_keyboard_alone(look, bench):
    bench.run = state_of_run(bench.now)
    window = look(**WIDE).open()
    page = window.page
    page.locator(".line a[data-page=batch]").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#batch-density")
    page.keyboard.press("Tab")
    while page.evaluate("document.activeElement.id") != "batch-foam":
        page.keyboard.press("Tab")
    page.keyboard.type("60")
    page.wait_for_selector("[data-rows=batch]")
    page.locator(".drawer summary:visible", has_text="Cautions").focus()
    page.keyboard.press("Enter")
    assert page.get_by_text("burns skin").is_visible()
    assert fits(window)


PLOT = "document.querySelector('#run-chart .js-plotly-plot')"


@pytest.mark.parametrize("size", [WIDE, pytest.param(PHONE, marks=pytest.mark.exhaustive)])
def test_the_chart_of_a_run_grows_with_it_and_is_read_under_the_pointer(look, bench, size):
    started = bench.now - 120.0
    bench.run = state_of_run(bench.now, started=started, elapsed=120.0, course=course_of(120.0, started=started))
    window = look(**size).open("run")
    page = window.page
    window.charted("run-chart")
    page.wait_for_function(f"Math.abs({PLOT}.data[3].x.at(-1) - 2) < 0.02")
    bench.mark("hose moved")
    bench.run = dataclasses.replace(bench.run, elapsed=180.0, course=course_of(180.0, started=started))
    page.wait_for_function(f"Math.abs({PLOT}.data[3].x.at(-1) - 3) < 0.02")
    page.wait_for_function(f"{PLOT}.data.at(-1).text.some(e => e.includes('hose moved'))")
    assert page.evaluate(f"{PLOT}.layout.xaxis.range[1]") >= 3.0
    room = page.evaluate(
        "(([a, b]) => [a.bottom, b.top])(['#run-chart .main-svg', '#page-run .key'].map(e => document.querySelector(e).getBoundingClientRect()))"
    )
    assert room[0] <= room[1] + 1  # the key lies below the chart
    page.locator("#run-chart").scroll_into_view_if_needed()
    box = page.locator("#run-chart").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_selector("#run-chart .hoverlayer .legend", state="attached")
    said = page.locator("#run-chart .hoverlayer").text_content()
    for part in ("Pressure", "kPa", "Foam rate", "Solution left"):
        assert part in said
    assert fits(window)
    bench.run = None
    page.wait_for_selector("#run-chart", state="hidden")
    page.get_by_role("button", name="Start a run").wait_for()
