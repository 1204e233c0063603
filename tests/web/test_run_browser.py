"""The run page and the batch page in Chromium: what an alarm moves, what its buttons do, both pages by keyboard."""

import pytest
from fake_session import state_of_run
from test_run_page import alarm

pytestmark = pytest.mark.browser
WIDE, PHONE = {"width": 1280, "height": 900}, {"width": 390, "height": 844, "has_touch": True}


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


@pytest.mark.parametrize("size", [WIDE, PHONE])
def test_an_alarm_moves_no_button_and_its_own_buttons_do_what_they_say(look, bench, size):
    bench.start_recording()
    bench.run = state_of_run(bench.now)
    window = look(**size).open("bucket")  # the former address
    page = window.page
    page.get_by_role("button", name="Stop the run").wait_for()
    assert page.evaluate("document.body.dataset.page") == "run"
    window.drawn(2)
    before = boxes(page)
    assert page.locator("[data-silence]").first.is_disabled()
    both = (alarm("joint_off_after"), alarm("clogging", number=2))
    for alarms in (both[1:], both):
        bench.run = state_of_run(bench.now, started=bench.run.started, alarms=alarms, log=alarms)
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
    assert page.locator(".alarm h2").first.text_content() == "generator clogs"  # what is not marked comes first
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
    page.locator(".drawer summary:visible").focus()
    page.keyboard.press("Enter")
    assert page.get_by_text("burns skin").is_visible()
    assert fits(window)
