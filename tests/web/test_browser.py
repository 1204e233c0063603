"""The pages in Chromium: a whole guided sweep, many frames a second, zoom that stays, no word to the world outside."""

import dataclasses
import re
import time

import pytest
from fake_session import FakeSession
from reader_window import WHOLE_SWEEP, Look
from test_generator_page import blower
from waiting import until

from frothline.web.pages import PAGES

pytestmark = pytest.mark.browser


def rates(window, seconds=2.0, tries=8, enough=10.0):
    """Updates a second over several short stretches, until one is fast ``enough``."""
    found = []
    while len(found) < tries and (not found or max(found) < enough):
        before, begun = window.ticks, time.monotonic()
        time.sleep(seconds)
        found.append((window.ticks - before) / (time.monotonic() - begun))
    return found


def test_the_first_figures_come_without_a_click(look):
    window = look()
    window.page.goto(window.address)
    window.page.wait_for_function("/[0-9]/.test(document.querySelector('[data-live=now-line_pressure]')?.textContent)")
    assert re.fullmatch(r"[\d.]+", window.text("now-line_pressure"))


@pytest.mark.benchmark
def test_the_first_figures_come_within_two_seconds(look):
    """On a machine that has nothing else to do."""
    waits = []
    for _ in range(4):
        window = look()
        begun = time.monotonic()
        window.page.goto(window.address)
        window.page.wait_for_function(
            "/[0-9]/.test(document.querySelector('[data-live=now-line_pressure]')?.textContent)"
        )
        waits.append(time.monotonic() - begun)
    assert min(waits) < 2.0, waits


@pytest.mark.benchmark
def test_ten_updates_a_second_or_more_reach_the_page(look):
    window = look().open()
    window.drawn(5)
    found = rates(window)
    assert max(found) >= 10.0, found


@pytest.mark.exhaustive
def test_a_whole_guided_sweep_by_clicks_ends_with_a_curve(look, bench):
    bench.hold = 0.3
    window = look().open()
    page = window.page
    page.get_by_role("button", name="Guided sweep").click()
    page.wait_for_selector("#sweep", state="visible")
    assert page.locator("#sweep-next").evaluate("e => e === document.activeElement")
    for taken in range(1, 11):
        window.wait_text("sweep-points", f"{taken} of about 11")
        assert window.text("sweep-instruction") == "open slightly"
        page.locator("#sweep-next").click()
    window.wait_text("sweep-instruction", "done")
    window.wait_text("sweep-button", "Show the curve")
    page.locator("#sweep-next").click()
    page.wait_for_selector("#sweep", state="hidden")
    assert window.text("fit-shut_off") == "6.500"  # the stand-in's blower is shut at 6500 Pa
    assert window.text("fit-points") == "11 points."
    assert window.text("fit-standard").startswith("In standard air, 1.2 kg/m³ (here: 1.16 kg/m³): shut-off 6.63")
    page.wait_for_function(
        "document.querySelector('#plane .js-plotly-plot').data.some(t => t.name === 'Curve, measured')"
    )
    assert "recording" in window.text("recording")
    assert bench.calls[:2] == ["start_sweep", "start_recording"]


@pytest.mark.exhaustive
def test_a_sweep_of_the_simulated_blower_is_seen_through_to_its_curve(chromium, tmp_path):
    """The whole way: simulated board, messages, recording, sensors, steady points, fit, page. A simulated hand
    throttles, twelve times as fast as a person."""
    from frothline.bench.session import Session
    from frothline.web import serving

    with Session("modelled://sweep?seed=5&speed=12", tmp_path) as session, serving(session) as address:
        session.start(wait=True)
        window = Look(chromium, address).open()
        window.page.locator("#source-sweep").click()
        window.page.wait_for_selector("#sweep", state="visible")
        window.page.goto("about:blank")  # the sweep goes on without a page, and the machine is not busy with drawing it
        until(lambda: session.snapshot().sweep.done, "the end of the sweep", patience=600.0)
        window.open()
        window.charted("plane")
        window.page.wait_for_function(
            "document.querySelector('#plane .js-plotly-plot').data.some(t => t.name === 'Curve, measured')"
        )
        window.drawn(3)
        low, high = map(float, window.text("fit-free_delivery-under").split(",")[0].split(" to "))
        assert low < float(window.text("fit-free_delivery")) < high
        assert int(window.text("fit-points").split()[0]) >= 8
        now = session.snapshot()
        path = now.recording.path if now.recording is not None else now.last_recording
        assert path.stat().st_size > 10_000
        assert str(path) in window.text("recording-where")
        assert not window.complaints
        window.close()


@pytest.mark.exhaustive
def test_the_bar_fills_while_the_reading_steadies(look, bench):
    bench.hold = 20.0
    window = look().open()
    window.page.get_by_role("button", name="Guided sweep").click()
    filled = "Number(document.querySelector('#sweep [role=progressbar]').getAttribute('aria-valuenow'))"
    window.page.wait_for_function(f"{filled} > 0")
    before = window.page.evaluate(filled)
    window.page.wait_for_function(f"{filled} > {before}")


def axis_range(window, key, axis):
    window.charted(key)
    return window.page.evaluate(f"document.querySelector('#{key} .js-plotly-plot').layout.{axis}.range")


def drag(window, key):
    box = window.page.locator(f"#{key} .draglayer .nsewdrag").first.bounding_box()
    mouse = window.page.mouse
    mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.25 * box["height"])
    mouse.down()
    mouse.move(box["x"] + 0.7 * box["width"], box["y"] + 0.7 * box["height"], steps=5)
    mouse.up()


@pytest.mark.parametrize("axis", ["xaxis"])
@pytest.mark.parametrize(
    ("key", "openings", "updates"),
    [
        ("plane", (0.2, 0.8), 3),
        pytest.param("plane", (0.0, 0.2, 0.4, 0.6, 0.8), 10, marks=pytest.mark.exhaustive),
        pytest.param("traces", (0.0, 0.2, 0.4, 0.6, 0.8), 10, marks=pytest.mark.exhaustive),
    ],
)
def test_zoom_survives_updates_and_shows_all_again(look, bench, key, axis, openings, updates):
    """Dash 4.2 to 4.4 lose the reader's view when a figure is patched (plotly/dash 3810)."""
    window = look(height=1500).open()
    window.drawn(3)
    whole = axis_range(window, key, axis)
    drag(window, key)
    window.drawn(2)
    zoomed = axis_range(window, key, axis)
    assert abs(zoomed[1] - zoomed[0]) < 0.6 * abs(whole[1] - whole[0])
    for opening in openings:  # new points and a new fit redraw the whole picture
        bench._take(opening)
        window.drawn(updates)
    assert axis_range(window, key, axis) == pytest.approx(zoomed)
    window.page.locator(f"[data-show-all={key}]").click()
    window.drawn(4)
    assert abs(axis_range(window, key, axis)[1] - axis_range(window, key, axis)[0]) > abs(zoomed[1] - zoomed[0])


@pytest.mark.exhaustive
def test_two_viewers_are_both_served_and_counted(look):
    one, other = look().open(), look(width=390, height=844).open("spool")
    one.drawn(5)
    other.drawn(5)
    other.page.wait_for_function("document.querySelector('[data-table=health]').textContent.includes('Open viewers2')")


@pytest.mark.benchmark
def test_neither_of_two_viewers_slows_the_other(look):
    one, other = look().open(), look(width=390, height=844).open("spool")
    one.drawn(5)
    other.drawn(5)
    assert max(rates(one, enough=8.0)) >= 8.0
    assert max(rates(other, enough=8.0)) >= 8.0


@pytest.mark.exhaustive
def test_a_viewer_that_left_is_not_served_any_more(look):
    stays = look().open("spool")
    leaves = look().open("spool")
    stays.page.wait_for_function("document.querySelector('[data-table=health]').textContent.includes('Open viewers2')")
    leaves.close()
    stays.page.wait_for_function("document.querySelector('[data-table=health]').textContent.includes('Open viewers1')")


@pytest.mark.exhaustive
def test_a_frozen_viewer_holds_up_nobody_and_goes_on_when_it_wakes(look):
    frozen, lively = look().open(), look().open()
    frozen.drawn(3)
    debugger = frozen.context.new_cdp_session(frozen.page)
    debugger.send("Debugger.enable")
    debugger.send("Debugger.pause")  # its script stands still, as a phone's does when it is put away
    lively.drawn(40)  # it would not get as many if its messages waited for the frozen one's
    debugger.send("Debugger.resume")
    debugger.send("Debugger.disable")
    frozen.drawn(5)
    debugger.detach()


@pytest.mark.exhaustive
def test_the_page_works_with_the_world_shut_out_and_asks_nobody(chromium, address):
    window = Look(chromium, address)
    window.context.route(
        re.compile(r"^(?!https?://127\.0\.0\.1[:/]|ws://127\.0\.0\.1[:/]|data:|blob:)"), lambda route: route.abort()
    )
    try:
        for path in ("", "spool", "generator", "run", "batch", "notebook"):
            window.open(path)
            window.drawn(3)
        foreign = [url for url in window.asked if not re.match(r"(https?|ws)://127\.0\.0\.1[:/]|data:|blob:", url)]
        assert len(window.asked) > 10
        assert not foreign
        assert not window.complaints
    finally:
        window.close()


def test_every_part_of_the_line_leads_to_its_page_by_keyboard_alone(look):
    window = look().open()
    page = window.page
    page.keyboard.press("Tab")  # to the page
    for part in PAGES:
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.dataset.page") == part
        page.keyboard.press("Enter")
        page.wait_for_selector(f"#page-{part}", state="visible")
        assert page.evaluate("location.pathname") == ("/" if part == "source" else f"/{part}")
    page.go_back()
    page.wait_for_selector("#page-batch", state="visible")


def test_a_sweep_by_keyboard_alone(look, bench):
    bench.hold = 0.2
    window = look().open()
    page = window.page
    page.locator("#source-sweep").focus()
    page.keyboard.press("Enter")
    window.wait_text("sweep-points", "1 of about")
    page.keyboard.press("Space")
    window.wait_text("sweep-points", "2 of about")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")  # End sweep
    page.wait_for_selector("#sweep", state="hidden")
    assert bench.calls[-1] == "stop_sweep"


@pytest.mark.parametrize("way", ["Escape", pytest.param("back", marks=pytest.mark.exhaustive)])
@pytest.mark.exhaustive
def test_escape_and_back_close_the_guide_and_the_sweep_goes_on(look, bench, way):
    window = look().open("generator")
    page = window.page
    page.locator("[data-page=source]").first.click()
    page.locator("#source-sweep").click()
    page.wait_for_selector("#sweep", state="visible")
    page.wait_for_function("history.state && history.state.guide")
    if way == "back":
        page.go_back()
    else:
        page.keyboard.press(way)
    page.wait_for_selector("#sweep", state="hidden")
    page.wait_for_function("!(history.state && history.state.guide)")
    assert page.locator("#page-source").is_visible()
    assert page.evaluate("location.pathname") == "/"
    assert "stop_sweep" not in bench.calls
    page.get_by_role("button", name="Open full-screen guide").click()
    page.wait_for_selector("#sweep", state="visible")


@pytest.mark.exhaustive
def test_the_newest_point_of_a_sweep_is_measured_again_by_one_press(look, bench):
    window = look().open()
    window.page.locator("#source-sweep").click()
    window.page.wait_for_selector("#sweep", state="visible")
    redo = window.page.get_by_role("button", name="Redo this point")
    assert not redo.is_visible()  # there is none yet
    bench._sweep = dataclasses.replace(bench._sweep, phase="steady", points=1, can_redo=True, of="dry")
    redo.click()
    window.page.wait_for_function("document.getElementById('said').textContent.startsWith('Point discarded')")
    assert bench.calls[-1] == "redo_point"


# The title of the flow axis is above the throttle and inside the chart; the chart is drawn as high as it is shown.
AXIS_TITLE_IS_CLEAR = """() => {
    const [title, throttle, chart, drawn] = ["#plane .xtitle", "[data-block=throttle]", ".picture.plane", "#plane .main-svg"]
        .map((one) => document.querySelector(one).getBoundingClientRect());
    return title.height > 0 && title.bottom <= throttle.top && title.bottom <= chart.bottom && Math.abs(drawn.height - chart.height) <= 1;
}"""


@pytest.mark.exhaustive
def test_a_visitor_turns_the_throttle_of_the_simulated_rig(chromium, tmp_path):
    from frothline.bench.session import Session
    from frothline.web import serving

    with Session("modelled://sweep?seed=5", tmp_path, own_process=False) as session, serving(session) as address:
        session.start(wait=True)
        session.start_sweep(record=False)
        window = Look(chromium, address).open()
        slider = window.page.get_by_label("Throttle (simulated)")
        window.charted("plane")
        for size in ({"width": 1280, "height": 800}, {"width": 390, "height": 844}):
            window.page.set_viewport_size(size)
            window.page.wait_for_function(AXIS_TITLE_IS_CLEAR)
        slider.fill("40")
        window.page.get_by_role("button", name="Let the simulated hand do it").wait_for()
        until(lambda: abs(session.simulation.truth()["throttle"] - 0.4) < 0.02, "the throttle")
        window.page.get_by_role("button", name="Let the simulated hand do it").click()
        until(session.hand_follows, "the simulated hand at the throttle")
        window.page.locator("[data-block=throttle]", has_text="A simulated hand follows the guide").wait_for()
        assert not window.complaints
        window.close()


@pytest.mark.parametrize(
    "size", [pytest.param({"width": 1280, "height": 900}, marks=pytest.mark.exhaustive), {"width": 390, "height": 844}]
)
@pytest.mark.exhaustive
def test_a_generator_is_swept_in_large_type_from_its_own_page(look, bench, size):
    window = look(**size).open("generator")
    page = window.page
    page.get_by_role("link", name="Measure dry and wet").click()
    page.get_by_role("button", name="Measure wet").click()
    page.wait_for_selector("#sweep", state="visible")
    assert page.locator("#sweep-next").evaluate("e => e === document.activeElement")
    window.wait_text("sweep-instruction", "wait for foam")
    assert "a bucket under the outlet" in window.text("sweep-caution")
    inside = page.locator("#sweep").bounding_box()
    for part in ("[data-live=sweep-instruction]", "[data-live=sweep-caution]", "#sweep-next"):
        box = page.locator(part).bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= inside["width"]
        assert box["y"] + box["height"] <= size["height"], part  # nothing to scroll for with wet hands
    page.locator("#sweep-next").click()
    page.wait_for_function("frothline.drawn.ticks > 0")
    page.locator("#sweep-look").click()
    page.wait_for_selector("#sweep", state="hidden")
    page.get_by_role("button", name="Open full-screen guide").click()  # the same sweep, not another
    page.wait_for_selector("#sweep", state="visible")
    bench.end_through(())
    window.wait_text("sweep-button", "Show the line")
    page.locator("#sweep-next").click()
    page.wait_for_selector("#sweep", state="hidden")
    assert page.get_by_role("button", name="Measure wet").evaluate("e => !e.closest('[inert]')")
    assert [call for call in bench.calls if call.startswith("start_sweep")] == ["start_sweep wet"]


@pytest.mark.exhaustive
@pytest.mark.parametrize("kind", ["dry", "wet"])
def test_a_newcomer_sweeps_the_simulated_generator_from_the_demo(chromium, tabs, port, tmp_path, kind):
    """From the line of the demo, which has no generator yet: the hand of the simulation follows the guide."""
    from frothline.bench.session import Session
    from frothline.web import serving

    with Session("modelled://sweep?seed=5&speed=12", tmp_path) as session, serving(session, port=port) as address:
        session.start(wait=True)
        window = Look(chromium, address, tabs=tabs).open("generator")
        page = window.page
        page.get_by_role("link", name="Measure dry and wet").click()
        page.get_by_role("button", name=f"Measure {kind}").click()
        page.wait_for_selector("#sweep", state="visible")
        window.wait_text("sweep-instruction", "done", patience=WHOLE_SWEEP)
        page.locator("#sweep-next").click()
        page.wait_for_selector("#sweep", state="hidden")
        page.wait_for_function(
            f"document.querySelector('#meeting .js-plotly-plot').data.some(t => t.name === 'measured {kind}')"
        )
        assert page.locator(f"#desk-{kind}").input_value() == "live"
        assert not window.complaints
        window.close()
    assert list(tmp_path.glob(f"{kind}-sweep-*.froth"))


def test_recording_and_marks_by_click_are_answered_in_words(look, bench):
    window = look().open()
    page = window.page
    page.locator("#source-record").click()
    window.wait_text("recording", "recording 0:")
    page.wait_for_function("document.getElementById('said').textContent.startsWith('Recording to ')")
    page.locator("#source-mark").click()
    page.wait_for_function("document.getElementById('said').textContent === 'Note added to the recording'")
    page.locator("#source-record").click()
    window.wait_text("recording", "not recording")
    assert str(bench.folder) in window.text("recording-where")
    assert bench.calls == ["start_recording", "mark", "stop_recording"]


@pytest.mark.exhaustive
def test_a_recording_is_named_and_a_mark_gets_its_words_by_keyboard(look, bench):
    window = look().open()
    page = window.page
    page.get_by_label("recording name").fill("evening sweep")
    page.keyboard.press("Enter")
    page.wait_for_function("document.getElementById('said').textContent.endsWith('evening sweep.froth')")
    page.wait_for_selector("#record-name", state="detached")  # its file has its name by now
    page.get_by_role("textbox", name="Note").fill("hose kinked")
    window.drawn(5)  # what is typed stays while the page goes on
    page.keyboard.press("Enter")
    page.wait_for_function("document.getElementById('said').textContent === 'Note added to the recording'")
    assert page.get_by_role("textbox", name="Note").input_value() == ""
    assert bench.snapshot().marks[-1].text == "hose kinked"
    assert bench.calls == ["start_recording", "mark"]


def test_an_error_of_a_button_is_shown_with_its_remedy(look, bench):
    from frothline.errors import NoSpace

    def full(name=""):
        raise NoSpace("no space left", where="/media/stick", remedy="Free some space, or choose another folder")

    bench.start_recording = full
    window = look().open()
    window.page.locator("#source-record").click()
    window.page.wait_for_function("document.getElementById('said').textContent.includes('Free some space')")
    assert window.page.locator("#said").get_attribute("data-trouble") == "yes"


def test_unplugging_is_said_the_dot_stops_and_all_goes_on_by_itself(look, bench):
    def dot_is(state):
        window.page.wait_for_function(f"document.getElementById('dot').dataset.is === '{state}'")

    window = look().open()
    dot_is("moving")
    bench.unplug()
    window.wait_text("link", "USB cable unplugged")
    window.wait_text("now-line_pressure", "–")
    window.wait_text("now-line_pressure-under", "USB cable unplugged")
    dot_is("still")
    dot = window.page.locator("#dot")
    place = dot.get_attribute("cx")
    window.drawn(5)
    assert (dot.get_attribute("cx"), dot.get_attribute("data-is")) == (place, "still")
    bench.plug()
    window.wait_text("link", "Connected")
    window.page.wait_for_function(f"document.getElementById('dot').getAttribute('cx') !== '{place}'")


@pytest.mark.parametrize("path", ["", "spool", "generator", "run", "batch", "notebook"])
def test_a_phone_never_scrolls_sideways(look, path):
    window = look(width=390, height=844, is_mobile=True, has_touch=True).open(path)
    window.drawn(5)
    assert window.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert window.page.locator("svg.line").is_hidden()
    assert window.page.locator(".strip").is_visible()


@pytest.mark.exhaustive
def test_a_phone_shows_each_part_with_its_state_and_the_value_of_the_chosen_one_under_the_strip(look, bench):
    window = look(width=390, height=844).open()
    window.drawn(3)
    assert "kPa" in window.text("strip")
    source = window.page.locator(".strip a[data-page=source]")
    assert source.inner_text().split("\n") == ["source", "measure its curve"]
    mark = "getComputedStyle(document.querySelector('.strip a[data-page=source] i'), '::after').content"
    assert window.page.evaluate(mark) == "none"
    bench._fit = blower()
    window.page.wait_for_function(
        "document.querySelector('.strip a[data-page=source] small').textContent === 'curve measured'"
    )
    assert window.page.evaluate(mark) == '"✓"'  # not by colour alone
    targets = [one.bounding_box() for one in window.page.locator(".strip a").all()]
    assert all(box["width"] >= 44 and box["height"] >= 44 for box in targets)
    window.page.locator(".strip a[data-page=spool]").click()
    window.wait_text("strip", "m/s")


def test_reload_and_units_that_are_kept(look):
    window = look().open()
    window.page.locator("#units").click()
    window.wait_text("now-line_pressure-unit", "inH₂O")
    for _ in range(3):
        window.page.reload()
        window.drawn(2)
    assert window.text("now-line_pressure-unit") == "inH₂O"
    window.charted("plane")
    titles = window.page.evaluate("document.querySelector('#plane .js-plotly-plot').layout.yaxis.title.text")
    assert "inH₂O" in titles


@pytest.mark.exhaustive
def test_the_dark_version_follows_the_device_while_it_is_open(look):
    window = look(color_scheme="light").open()
    window.drawn(2)
    window.charted("plane")
    colour = "document.querySelector('#plane .js-plotly-plot').layout.font.color"
    assert window.page.evaluate(colour) == "#1f2b33"
    window.page.emulate_media(color_scheme="dark")
    window.page.wait_for_function(f"{colour} === '#e9e6de'")
    assert window.page.evaluate("getComputedStyle(document.body.parentElement).backgroundColor") == "rgb(20, 25, 28)"


@pytest.mark.exhaustive
def test_a_browser_without_shared_workers_gets_the_same_stream(chromium, address):
    window = Look(chromium, address)
    window.context.add_init_script("delete window.SharedWorker")
    try:
        window.page.goto(address)
        window.drawn(6)
        assert not [one for one in window.complaints if one.startswith("error")]
    finally:
        window.close()


@pytest.mark.exhaustive
def test_the_browser_keeps_no_message_that_it_has_drawn(look):
    """The framework's store never forgets a value that it has held; so no message may go through it."""
    window = look(fresh=True).open()
    window.page.evaluate("""() => {
        window.messages = [];
        const parse = JSON.parse;
        JSON.parse = (text) => {
            const made = parse(text);
            if (made && made.number) { window.messages.push(new WeakRef(made)); }
            return made;
        };
    }""")
    debugger = window.context.new_cdp_session(window.page)
    debugger.send("HeapProfiler.enable")
    window.drawn(20)
    for _ in range(3):
        debugger.send("HeapProfiler.collectGarbage")
    parsed, kept = window.page.evaluate("[messages.length, messages.filter((one) => one.deref()).length]")
    assert parsed >= 20
    assert kept <= 3  # the newest, which is being drawn


@pytest.mark.exhaustive
def test_a_stopped_program_is_said_and_a_started_one_is_found_again(chromium, tabs, port, tmp_path):
    from frothline.web import serving

    with serving(FakeSession(tmp_path), port=port) as address:
        window = Look(chromium, address, tabs=tabs).open()
    window.wait_text("link", "Lost connection")
    with serving(FakeSession(tmp_path), port=port):
        window.wait_text("link", "Connected")
    window.close()


def test_tones_can_be_muted_and_that_is_kept(look):
    window = look().open()
    window.page.locator("#sound").click()
    assert window.page.locator("#sound").text_content() == "Sound off"
    window.page.reload()
    window.drawn(1)
    assert window.page.locator("#sound").text_content() == "Sound off"
