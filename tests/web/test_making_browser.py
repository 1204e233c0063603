"""The pages of generator and bucket in Chromium: a build is changed, a run goes wrong, a bucket is weighed, a batch worked."""

import dataclasses
import itertools
import re
import threading
import time

import pytest
from fake_session import FakeSession, state_of_run
from reader_window import Look
from test_generator_page import blower
from test_run_page import alarm
from waiting import until

from frothline.bench.generator_workspace import GeneratorWorkspace
from frothline.run.watch.alarm_kinds import KINDS

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 844, "has_touch": True}


def number(text):
    return float(re.search(r"[\d.]+", text)[0])


def fits(window):
    """Nothing has to be scrolled sideways."""
    return window.page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def change(window, part, entry, value):
    page = window.page
    group = page.locator(f"#part-{part}")
    if group.get_attribute("open") is None:
        group.locator("summary").click()
    field = page.locator(f"#sheet-{entry}")
    field.fill(value)
    field.press("Enter")


@pytest.mark.parametrize("size", [pytest.param({}, marks=pytest.mark.exhaustive), PHONE])
@pytest.mark.exhaustive
def test_a_changed_entry_moves_the_figures_and_marks_the_part(look, bench, size):
    bench._fit = blower()
    window = look(**size).open("generator")
    page = window.page
    page.wait_for_function("/[0-9]/.test(document.querySelector('[data-live=meet-pressure]').textContent)")
    before = number(window.text("meet-flow"))
    assert page.locator(".side-view .fl-changed").count() == 0
    change(window, "outlet", "outlet-bore", "14 mm")
    page.wait_for_selector(".side-view .fl-outlet.fl-changed")
    page.wait_for_selector(".sheet-head .moves >> text=→")
    page.wait_for_function("document.querySelector('[data-state=meet]').dataset.is === 'changed'")
    assert number(window.text("meet-flow")) < before
    assert "What if" in page.locator("[data-rows=meet] thead").text_content()
    assert "As built: 40x3" in page.locator("#sheet-outlet-bore-note").text_content()
    window.charted("meeting")
    names = page.evaluate("document.querySelector('#meeting .js-plotly-plot').data.map(t => t.name)")
    head = page.locator("#part-tube summary")
    head.scroll_into_view_if_needed()
    place = head.bounding_box()["y"]
    head.click()
    page.wait_for_selector("#sheet-outlet-bore", state="hidden")  # one group at a time
    assert page.locator("#sheet-tube-hole").is_visible()
    assert abs(head.bounding_box()["y"] - place) < 2  # although a group above it has closed
    assert {"As built", "Operating point then", "Wet if changed, predicted", "Dry, predicted"} <= set(names)
    assert fits(window)
    page.get_by_role("button", name="Discard changes").click()
    page.wait_for_function("document.querySelector('#sheet-outlet-bore').value === '40x3'")
    page.wait_for_selector(".side-view .fl-changed", state="detached")


def test_a_wrong_entry_is_told_at_the_entry_and_what_was_typed_stays(look, bench):
    bench._fit = blower()
    window = look().open("generator")
    change(window, "tube", "tube-hole", "40 mm")
    note = window.page.locator("#sheet-tube-hole-note")
    window.page.wait_for_function("document.querySelector('#sheet-tube-hole-note').textContent.length > 0")
    assert "outside" in note.text_content()
    assert window.page.locator("#sheet-tube-hole").input_value() == "40 mm"
    assert window.page.locator("#sheet-tube-hole").get_attribute("aria-invalid") == "true"


@pytest.mark.exhaustive
def test_a_saved_build_is_there_again_after_a_reload(look, bench):
    bench._fit = blower()
    window = look().open("generator")
    change(window, "packing", "packing-length", "300 mm")
    window.page.locator("#builds summary").click()
    window.page.locator("#keep-name").fill("longer wool")
    window.page.get_by_role("button", name="Save build").click()
    window.page.wait_for_selector(".sheet-head >> text=longer-wool.toml")
    assert (bench.folder / "builds" / "longer-wool.toml").exists()
    window.page.reload()
    window.page.wait_for_function("document.querySelector('#sheet-packing-length')?.value === '300 mm'")


@pytest.mark.parametrize("size", [pytest.param({}, marks=pytest.mark.exhaustive), PHONE])
@pytest.mark.exhaustive
def test_a_button_stays_under_the_pointer_while_it_is_pressed(look, bench, size, monkeypatch):
    """A note of one line appears above the button between press and release: the browser makes no click of a button
    that has moved away, and the build is not saved."""
    edited = threading.Event()
    edit = GeneratorWorkspace.edit
    monkeypatch.setattr(GeneratorWorkspace, "edit", lambda self, typed: (edit(self, typed), edited.set()))
    bench._fit = blower()
    window = look(**size).open("generator")
    page = window.page
    page.locator("#builds summary").click()
    page.locator("#keep-name").fill("longer wool")
    button = page.get_by_role("button", name="Save build")
    button.scroll_into_view_if_needed()
    window.drawn(2)
    before = button.bounding_box()
    page.mouse.move(before["x"] + before["width"] / 2, before["y"] + before["height"] / 2)
    page.evaluate("frothlineForms.press.limit = 120_000")  # a busy machine may be slow to release it
    page.mouse.down()
    page.evaluate("""() => {
        const field = document.querySelector("#sheet-packing-length");
        field.value = "300 mm";
        field.dispatchEvent(new Event("change", { bubbles: true }));
    }""")
    assert edited.wait(120)
    page.wait_for_timeout(700)  # the message with the note arrives
    assert button.bounding_box() == before
    page.mouse.up()
    page.wait_for_selector(".sheet-head >> text=longer-wool.toml")
    assert 'length = "300 mm"' in (bench.folder / "builds" / "longer-wool.toml").read_text()


@pytest.mark.exhaustive
def test_drawing_goes_on_after_a_long_press(look, bench):
    window = look().open("generator")
    window.page.locator("#sound").hover()
    window.page.mouse.down()
    window.drawn(3)  # although nobody releases it
    window.page.mouse.up()


@pytest.mark.exhaustive
def test_a_size_is_sought_and_tried(look, bench):
    bench._fit = blower()
    window = look().open("generator")
    page = window.page
    page.wait_for_function("/[0-9]/.test(document.querySelector('[data-live=meet-pressure]').textContent)")
    page.get_by_text("Find a size").click()
    page.locator("#size-change").select_option("outlet.bore")
    page.locator("#size-value").fill("6.35")
    page.get_by_role("button", name="Find", exact=True).click()
    page.get_by_role("button", name="Try", exact=True).first.click()
    page.wait_for_selector(".side-view .fl-outlet.fl-changed")


@pytest.mark.exhaustive
def test_a_blow_out_stands_on_the_line_at_the_outlet_and_in_large_type(look, bench):
    bench.run = state_of_run(bench.now)
    for size in ({}, PHONE):
        window = look(**size).open("run")
        window.wait_is("run-foam_rate", "360")
        bench.run = state_of_run(bench.now, alarms=(alarm("packing_blown"),))
        window.page.wait_for_selector(".alarm h2")
        title = window.page.locator(".alarm h2")
        assert title.text_content() == "Packing blown out"
        assert float(title.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")) >= 32
        assert "Put the packing back" in window.page.locator(".alarm").text_content()
        if size:
            window.wait_text("strip", "packing blown out at the outlet")
        else:
            window.page.wait_for_selector("[data-state=fault-outlet][data-is=alarm]")
            window.wait_is("fault-outlet", "packing blown out")
        assert fits(window)
        bench.run = state_of_run(bench.now)


@pytest.mark.exhaustive
def test_a_bucket_is_timed_weighed_and_read_with_one_large_button(look, bench):
    bench.run = state_of_run(bench.now)
    window = look(**PHONE).open("run")
    page = window.page
    page.get_by_role("button", name="Take a sample").click()
    page.wait_for_selector("#sample .instruction >> text=place the bucket")
    large = page.locator("#sample button.large")
    box = large.bounding_box()
    assert box["width"] > 350
    assert box["height"] >= 88
    page.locator("#timer-container").fill("20 L")
    page.locator("#timer-empty").fill("640")
    began = time.monotonic()
    large.click()
    page.wait_for_selector("#sample .instruction >> text=filling")
    assert large.evaluate("e => e === document.activeElement")
    time.sleep(1.0)
    large.click()
    page.wait_for_selector("#timer-full")
    ended = time.monotonic()
    page.locator("#timer-full").fill("590")  # lighter than empty
    large.click()
    page.wait_for_selector("#sample .entry[data-is=wrong]")
    assert "not heavier than empty (640 g)" in page.locator("#timer-full-note").text_content()
    assert page.locator("#timer-full").input_value() == "590 g"
    assert page.locator("#said").is_hidden()  # nothing lies over instruction and button
    page.locator("#timer-full").fill("1790")
    page.locator("#timer-full").press("Enter")
    page.wait_for_selector("#sample .instruction >> text=next reading at 1 min")
    assert 0.95 < bench.run.samples[0].weighing.fill_time < ended - began
    assert fits(window)
    page.locator("#timer0-drained").fill("14")
    large.click()
    page.wait_for_selector("text=1 of 5 read")
    page.get_by_role("button", name="Done").click()
    page.wait_for_selector("#sample", state="hidden")
    said = page.locator("[data-rows=samples]").text_content()
    assert "57.5 kg/m³" in said  # 1150 g in 20 L
    assert "judgement, no source" in page.locator("[data-rows=verdicts]").text_content()
    page.get_by_role("button", name="Correct sample 1").click()
    full = page.locator(".correction [name=full]")
    full.fill("590")
    page.wait_for_selector(".correction .entry[data-is=wrong]")
    page.get_by_role("button", name="Save correction").click()
    page.wait_for_selector("#said[data-trouble=yes] >> text=not heavier than empty")
    page.reload()
    page.wait_for_selector(".correction .entry[data-is=wrong] >> text=not heavier than empty (640 g)")
    assert full.input_value() == "590 g"  # nothing that was typed is lost, with the form still open
    full.fill("1890")
    page.wait_for_selector(".correction .entry[data-is=changed] >> text=not saved yet; was 1790 g")
    assert fits(window)
    page.get_by_role("button", name="Save correction").click()
    page.wait_for_selector("text=Sample 1, corrected once")
    assert "62.5 kg/m³" in page.locator("[data-rows=samples]").text_content()  # 1250 g in 20 L
    page.get_by_role("button", name="Withdraw this sample").click()
    page.wait_for_selector("text=sample 1, withdrawn")


def test_a_batch_is_worked_out_as_it_is_typed(look, bench):
    window = look(**PHONE).open("batch")
    page = window.page
    page.locator("#batch-foam").fill("60")
    page.wait_for_selector("[data-rows=batch]")
    first = number(page.locator("[data-rows=batch] tbody tr").first.locator("td").first.text_content())
    page.locator("#batch-volume").fill("400")
    page.wait_for_function(
        f"parseFloat(document.querySelector('[data-rows=batch] tbody td').textContent) > 1.9 * {first}"
    )
    assert number(page.locator("[data-rows=batch] tbody tr").first.locator("td").first.text_content()) == pytest.approx(
        2 * first, rel=0.01
    )  # twice the volume takes twice the cement
    page.locator("#batch-volume").fill("1/4 yd3")
    page.locator("#batch-bucket").fill("3")
    page.locator("#batch-density").focus()
    # the number has got the unit of its field, so that other units do not make something else of it
    page.wait_for_function("document.querySelector('#batch-bucket').value === '3 L'")
    page.wait_for_function(
        "document.querySelector('#batch-volume-note').textContent === '= 191.1 L'"
    )  # 0.7645549 / 4 m³
    for _ in range(10):
        page.locator("#units").click()
    window.drawn(3)
    assert page.locator("#batch-volume").input_value() == "1/4 yd3"
    assert page.locator("#batch-bucket").input_value() == "3 L"
    page.locator("#units").click()
    page.wait_for_function("document.querySelector('#batch-bucket-note').textContent === '= 0.7925 gal'")
    page.locator("#batch-bucket").fill("3")
    page.locator("#batch-density").focus()
    page.wait_for_function("document.querySelector('#batch-bucket').value === '3 gal'")
    page.locator("#units").click()
    page.locator("#batch-density").fill("a lot")
    page.wait_for_function("document.querySelector('#batch-density-note').textContent.includes('density')")
    assert page.locator("#batch-density").input_value() == "a lot"
    assert fits(window)


def whole(window, selector):
    """Whether an element can be seen whole without scrolling, and nothing lies over its middle."""
    return window.page.locator(selector).evaluate(
        """e => { const b = e.getBoundingClientRect(); const top = document.elementFromPoint(b.x + b.width / 2, b.y + b.height / 2);
        return b.width > 0 && b.x >= 0 && b.y >= 0 && b.right <= innerWidth && b.bottom <= innerHeight && (e === top || e.contains(top)); }"""
    )


@pytest.mark.parametrize("size", [pytest.param({"width": 1280, "height": 900}, marks=pytest.mark.exhaustive), PHONE])
@pytest.mark.exhaustive
def test_an_alarm_stands_over_the_timer_in_large_type_and_the_large_button_stays_whole(look, bench, size):
    bench.run = state_of_run(bench.now)
    window = look(**size).open("run")
    page = window.page
    page.get_by_role("button", name="Take a sample").click()
    page.wait_for_selector("#sample .instruction >> text=place the bucket")
    assert whole(window, "#sample button.large")
    assert not page.locator("#over").is_visible()
    bench.run = state_of_run(bench.now, alarms=(alarm("packing_blown"),))
    page.wait_for_selector("#over b >> text=packing blown out")
    page.locator("#timer-container").fill("20")
    page.locator("#timer-empty").fill("0.8")
    for step in ("timer-ready-0", "timer-filling-0", "timer-weigh-0"):
        page.wait_for_selector(f"#{step}")
        window.drawn(2)
        assert whole(window, "#over b")
        assert float(page.locator("#over b").evaluate("e => parseFloat(getComputedStyle(e).fontSize)")) >= 30
        assert "Put the packing back" in page.locator("#over").text_content()
        assert whole(window, "#sample button.large"), step
        if step != "timer-weigh-0":
            page.wait_for_timeout(1000)  # a second press at once is taken for the first
            page.locator("#sample button.large").click()
    page.locator("#timer-full").fill("0.5")
    page.locator("#sample button.large").click()
    page.wait_for_selector("#sample .entry[data-is=wrong]")
    for name, typed in (("full", "0.5 g"), ("empty", "0.8 g"), ("container", "20 L"), ("depth", "")):
        assert page.locator(f"#timer-{name}").input_value() == typed
        assert whole(window, f"#timer-{name}"), name
    assert whole(window, "#timer-full-note")
    assert whole(window, "#sample button.large")
    assert fits(window)
    page.locator("#heard").click()  # it can be pressed although the page below is covered
    page.wait_for_selector("#heard", state="hidden")
    assert whole(window, "#over b")  # silent, and still there
    bench.run = state_of_run(bench.now)
    page.wait_for_selector("#over", state="hidden")


@pytest.mark.exhaustive
def test_an_alarm_stands_over_the_guided_sweep_too(look, bench):
    window = look(**PHONE).open()
    window.page.get_by_role("button", name="Guided sweep").click()
    window.page.wait_for_selector("#sweep", state="visible")
    bench.run = state_of_run(bench.now, alarms=(alarm("too_hot"),))
    window.page.wait_for_selector("#over b >> text=air too hot")
    window.drawn(2)
    assert whole(window, "#over b")
    assert whole(window, "#sweep-next")


COUNT_TONES = """window.tones = 0;
const make = AudioContext.prototype.createOscillator;
AudioContext.prototype.createOscillator = function () { window.tones += 1; return make.call(this); };"""


@pytest.mark.exhaustive
def test_an_alarm_sounds_again_and_again_until_it_is_heard_also_where_the_page_is_opened_during_it(look, bench):
    bench.run = state_of_run(bench.now, alarms=(alarm("packing_blown"),))
    window = look(fresh=True)
    page = window.page
    page.add_init_script(COUNT_TONES)
    window.open("run")
    assert page.evaluate("frothlineSound.pace.again") == 3000
    page.evaluate("frothlineSound.pace.again = 300")  # a tenth of it, so that silence is soon told from a pause
    page.locator("h1:visible").first.click()  # the first touch, before which a browser lets nothing sound
    counts = []
    for _ in range(2):
        page.wait_for_function(f"tones > {counts[-1] if counts else 0}")
        counts.append(page.evaluate("tones"))
    page.locator(".alarm-actions [data-silence]").first.click()
    page.wait_for_timeout(1000)
    silent = page.evaluate("tones")
    page.wait_for_timeout(1200)
    assert page.evaluate("tones") == silent
    both = (alarm("packing_blown"), dataclasses.replace(alarm("liquid_back"), number=2))
    bench.run = dataclasses.replace(bench.run, alarms=both)
    page.wait_for_function(f"tones > {silent}")  # another one has not been heard yet
    page.locator("#sound").click()
    page.wait_for_timeout(500)
    silent = page.evaluate("tones")
    page.wait_for_timeout(1200)
    assert page.evaluate("tones") == silent
    assert page.locator("#over").is_hidden()


@pytest.mark.parametrize("size", [pytest.param({}, marks=pytest.mark.exhaustive), PHONE])
def test_no_figure_stays_as_if_it_were_live_when_the_program_has_gone(chromium, tabs, port, tmp_path, size):
    from frothline.web import serving

    session = FakeSession(tmp_path)
    session.run = state_of_run(0.0)
    session.start_recording()
    with serving(session, port=port) as address:
        window = Look(chromium, address, tabs=tabs, **size).open("run")
        page = window.page
        window.wait_text("recording", "recording 0:")
        window.wait_is("run-foam_rate", "360")
    window.wait_text("link", "Lost connection")
    for key in ("run-foam_rate", "run-foam_total", "run-time_left", "run-clock"):
        assert window.text(key) == "–", key
    assert window.text("run-foam_rate-under") == "no connection to the program"
    assert window.text("run-phase") == "Not known: no connection to the program"
    assert "recording 0:" not in window.text("recording")
    said = page.evaluate(
        "[...document.querySelectorAll('.line .value, .strip-value')].map(e => e.textContent).join(' ')"
    )
    assert not re.search(r"\d", said)
    assert page.get_by_role("button", name="Stop the run").is_disabled()
    assert float(page.locator(".status .link").evaluate("e => parseFloat(getComputedStyle(e).fontSize)")) >= 21
    assert fits(window)
    session.run = state_of_run(session.now)
    with serving(session, port=port):
        window.wait_text("link", "Connected")
        window.wait_text("run-foam_rate", "360")
        page.wait_for_function("[...document.querySelectorAll('[data-do=\"run:stop\"]')].some(e => !e.disabled)")
    window.close()


SILENT = ("pressure", "temperature")


@pytest.mark.parametrize("width", [pytest.param(1280, marks=pytest.mark.exhaustive), 800])
@pytest.mark.exhaustive
def test_words_of_what_is_wrong_stay_inside_the_line_and_off_each_other(look, bench, width):
    window = look(width=width).open("run")
    page = window.page
    overlaps = """() => {
      const svg = document.querySelector('svg.line').getBoundingClientRect();
      const shown = [...document.querySelectorAll('.line text')].filter(e => e.textContent && e.getBoundingClientRect().width);
      const boxes = shown.map(e => { const b = e.getBoundingClientRect(); return [e.textContent, b.left, b.top + 2, b.right, b.bottom - 2]; });
      const bad = boxes.filter(b => b[1] < svg.left - 1 || b[3] > svg.right + 1 || b[2] < svg.top - 1).map(b => b[0] + ' is cut off');
      boxes.forEach((a, i) => boxes.slice(i + 1).forEach(b => {
        if (a[1] < b[3] && b[1] < a[3] && a[2] < b[4] && b[2] < a[4]) { bad.push(`${a[0]} on ${b[0]}`); } }));
      return bad; }"""
    pairs = [(code,) for code in KINDS] + list(itertools.combinations(KINDS, 2))[::7]
    for number, codes in enumerate(pairs):
        unplugged = SILENT[: number % 3]
        bench.channels = tuple(
            dataclasses.replace(one, present=one.kind not in unplugged) for one in type(bench)(bench.folder).channels
        )
        bench.run = state_of_run(bench.now, alarms=tuple(alarm(code) for code in codes))
        word = KINDS[codes[-1]].line_word or KINDS[codes[-1]].title
        page.wait_for_function(
            "word => [...document.querySelectorAll('.line .fault')].some(e => e.dataset.is && e.textContent.includes(word))",
            arg=word,
        )
        window.drawn(2)
        assert page.evaluate(overlaps) == [], (codes, unplugged)


@pytest.mark.parametrize("code", ["joint_off_before", "leak_before"])
def test_a_joint_before_the_anemometer_is_marked_between_source_and_spool(look, bench, code):
    bench.run = state_of_run(bench.now, alarms=(alarm(code),))
    window = look().open("run")
    mark = window.page.locator(".line .fault[data-is=alarm] path")
    mark.wait_for()
    box, source, spool = (
        window.page.locator(one).bounding_box()
        for one in (
            ".line .fault[data-is=alarm] path",
            ".line a[data-page=source] .area",
            ".line a[data-page=spool] .area",
        )
    )
    assert source["x"] + source["width"] < box["x"] + box["width"] / 2 < spool["x"]
    window.page.set_viewport_size({"width": 390, "height": 844})
    assert "between source and spool" in window.text("strip")


@pytest.mark.slow
def test_a_newcomer_sweeps_makes_foam_weighs_it_and_blows_the_packing_out(chromium, tabs, port, tmp_path):
    """The whole demonstration: the curve, the simulated generator, a run, a sample that narrows it, an alarm in place."""
    from frothline.bench.session import Session
    from frothline.web import serving

    with Session("modelled://sweep?seed=5&speed=10", tmp_path) as session, serving(session, port=port) as address:
        session.start(wait=True)
        session.start_sweep()
        until(lambda: (now := session.snapshot().sweep) and now.done, "the end of the sweep", patience=600.0)
        window = Look(chromium, address, tabs=tabs).open("run")
        page = window.page
        page.get_by_role("button", name="Make foam (simulated)").click()
        page.get_by_role("button", name="Stop the run").wait_for()
        session.simulation.control("solution", 200.0)  # ten times as fast as real, the reservoir would soon be dry
        page.wait_for_function(
            "document.querySelector('[data-live=run-phase]').textContent.toLowerCase().includes('foaming')"
        )

        def width():
            low, high = map(float, re.findall(r"[\d.]+", window.text("run-foam_rate-under"))[:2])
            return (high - low) / (high + low)

        wide = width()
        run = session.snapshot().run
        truth = session.simulation.truth()
        filled = 0.020 / truth["foam_rate"]  # s that a bucket of 20 L takes
        net = 0.020 * (truth["foam_density"] - 1.204)  # kg, on a scale in air
        from frothline.foam.sample import Weighing

        session.add_sample(Weighing(0.020, 0.640, 0.640 + net, filled), run.time)
        while not width() < 0.7 * wide:  # the page shows what the sample says
            page.wait_for_timeout(100)
        while session.snapshot().run.elapsed < 30.0:  # the watch first learns how this line foams
            time.sleep(0.2)
        page.get_by_text("Try a fault (simulation)").click()
        page.get_by_role("button", name="the packing has left").click()
        page.wait_for_function("document.querySelector('[data-state=fault-outlet]').dataset.is === 'alarm'")
        assert "Packing blown out" in page.locator(".alarm h2").first.text_content()
        assert window.text("run-foam_rate") == "–"
        page.get_by_role("button", name="the packing has left").click()  # put right
        page.get_by_role("button", name="Stop the run").click()
        page.get_by_role("button", name="Start another run").wait_for()
        assert not window.complaints
        window.close()
    (notes,) = tmp_path.glob("run-*.toml")
    assert "[[sample]]" in notes.read_text()


@pytest.mark.parametrize(
    ("scheme", "size"),
    [
        ("light", {}),
        ("dark", PHONE),
        pytest.param("light", PHONE, marks=pytest.mark.exhaustive),
        pytest.param("dark", {}, marks=pytest.mark.exhaustive),
    ],
)
def test_an_alarm_is_marked_on_the_side_view_and_goes_with_it(look, bench, size, scheme):
    bench.run = state_of_run(bench.now)
    window = look(color_scheme=scheme, **size).open("run")
    page = window.page
    mark = page.locator("#page-run [data-state=part-packing]")
    page.wait_for_selector("#page-run .side-view svg")
    page.evaluate("document.querySelector('#page-run .side-view svg').known = 'the same'")
    assert not mark.is_visible()
    bench.run = state_of_run(bench.now, alarms=(alarm("packing_blown"),))
    page.wait_for_selector("#page-run [data-state=part-packing][data-is=alarm]")
    word, cross = mark.locator("text"), mark.locator(".cross")
    assert word.text_content() == "blown out"
    inside = page.locator("#page-run .side-view").bounding_box()
    for part in (word, cross):
        box = part.bounding_box()
        assert inside["x"] <= box["x"]
        assert box["x"] + box["width"] <= inside["x"] + inside["width"]
    assert word.bounding_box()["height"] > 13  # to be read at arm's length
    # the cross is twice as thick as any line of the drawing: it is seen without its colour
    thick = "e => parseFloat(getComputedStyle(e).strokeWidth)"
    lines = page.locator("#page-run .fl-packing path").evaluate_all(f"all => Math.max(...all.map({thick}))")
    assert cross.evaluate(thick) > 2 * lines
    assert fits(window)
    bench.run = state_of_run(bench.now)
    page.wait_for_function("document.querySelector('#page-run [data-state=part-packing]').dataset.is === ''")
    assert not mark.is_visible()
    assert page.evaluate("document.querySelector('#page-run .side-view svg').known") == "the same"
    bench.run = None
    page.wait_for_selector("#page-run .side-view svg", state="detached")


@pytest.mark.parametrize("size", [pytest.param({}, marks=pytest.mark.exhaustive), PHONE])
def test_words_of_four_alarms_at_once_do_not_stand_on_each_other(look, bench, size):
    codes = ("leak_after", "liquid_back", "clogging", "thinning")
    bench.run = state_of_run(bench.now, alarms=tuple(alarm(code) for code in codes))
    page = look(**size).open("run").page
    page.wait_for_selector("#page-run [data-state=part-reservoir][data-is=alarm]")
    words = [one for one in page.locator("#page-run .fl-fault text").all() if one.text_content()]
    assert len(words) == 4  # two of them share theirs, one has two marks
    boxes = [one.bounding_box() for one in words]
    for number, one in enumerate(boxes):
        for other in boxes[:number]:
            # a box holds ascent, descent and the paper-coloured rim: letters of two rows are clear at 0.7 of it
            apart = abs(one["y"] - other["y"]) > 0.7 * one["height"]
            beside = one["x"] + one["width"] <= other["x"] or other["x"] + other["width"] <= one["x"]
            assert apart or beside, [word.text_content() for word in words]


def test_on_a_phone_the_figures_of_a_run_stay_on_the_first_screen(look, bench):
    bench.run = state_of_run(bench.now)
    window = look(**PHONE).open("run")
    window.page.wait_for_selector("#page-run .side-view svg")
    for alarms in ((), (alarm("packing_blown"),), (alarm("leak_after"), alarm("thinning"))):
        bench.run = state_of_run(bench.now, alarms=alarms)
        window.page.wait_for_function(f"document.querySelectorAll('.alarm').length === {len(alarms)}")
        window.drawn(2)
        for key in ("run-foam_rate", "run-foam_total", "run-time_left"):
            box = window.page.locator(f"[data-live={key}]").bounding_box()
            assert box["y"] + box["height"] < PHONE["height"]
        assert fits(window)


@pytest.mark.parametrize("size", [pytest.param({}, marks=pytest.mark.exhaustive), PHONE])
def test_the_small_side_view_has_no_lines_of_dimensions_without_their_words_and_little_room_about_it(look, bench, size):
    bench.run = state_of_run(bench.now)
    page = look(**size).open("run").page
    page.wait_for_selector("#page-run .side-view svg")
    assert page.locator("#page-run .side-view .fl-d").count() > 0
    assert not any(one.is_visible() for one in page.locator("#page-run .side-view :is(.fl-d, .fl-n)").all())
    outer = page.locator("#page-run .side-view").bounding_box()
    inner = page.locator("#page-run .side-view .fl-body").bounding_box()
    assert inner["y"] >= outer["y"]
    assert inner["y"] + inner["height"] <= outer["y"] + outer["height"]
    # the room of an alarm's words is kept, so that an alarm moves nothing below
    assert outer["height"] < 4.2 * inner["height"]
