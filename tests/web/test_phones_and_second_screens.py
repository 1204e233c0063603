"""What phones and a second screen need: targets for a finger, no head without a table, no lasting alarm, shared edits."""

import dataclasses

import pytest
from fake_session import state_of_run
from test_generator_page import blower
from test_run_page import alarm

from frothline.bench import snapshot
from frothline.web import elements
from frothline.web.feed import Feed
from frothline.web.pages import PAGES
from frothline.web.shared_edits import SharedEdits
from frothline.web.viewer import Viewer

SHORT = ("source", "generator")  # pages with most of their parts closed at first
TOUCH = 44  # CSS px, WCAG 2.2 success criterion 2.5.5 (W3C); links inside a sentence are excepted there


@pytest.mark.browser
@pytest.mark.parametrize(
    "page",
    [page if page in {"run", "generator"} else pytest.param(page, marks=pytest.mark.exhaustive) for page in PAGES],
)
def test_whatever_is_pressed_on_a_phone_is_44_pixels_high(look, bench, page):
    bench._fit = blower()
    window = look(width=390, height=844, is_mobile=True, has_touch=True).open("" if page == "source" else page)
    window.drawn(2)
    small = window.page.evaluate(
        """(least) => [...document.querySelectorAll("button, input:not([type=checkbox], [type=radio]), select, summary, nav a")]
            .filter((e) => e.offsetWidth && e.getBoundingClientRect().height < least)
            .map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect().height])""",
        TOUCH - 0.5,  # a browser places edges at fractions of a pixel
    )
    assert not small
    if page in SHORT:
        chart, figure = {"source": ("plane", "fit-shut_off"), "generator": ("meeting", "meet-flow")}[page]
        window.charted(chart)
        window.page.wait_for_function(f"/[0-9]/.test(document.querySelector('[data-live={figure}]').textContent)")
        length = "document.documentElement.scrollHeight"
        assert window.page.evaluate(length) <= 3 * 844  # three screens
        active = (alarm("joint_off_after"),)
        bench.run = state_of_run(bench.now, alarms=active, log=active)
        window.page.wait_for_function("document.body.dataset.alarm === 'yes'")
        window.page.locator("h1:visible").click()  # the first touch, before which a browser lets nothing sound
        window.page.wait_for_function("document.body.dataset.sounding === 'yes'")
        window.drawn(2)
        assert window.page.evaluate(length) <= 3 * 844
        room = (
            "parseFloat(getComputedStyle(document.body).paddingBottom) - document.querySelector('#over').offsetHeight"
        )
        assert 8 <= window.page.evaluate(room) <= 24  # the bar hides nothing at the page's end, and no room is lost


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_table_without_rows_shows_no_heads_and_says_so(look, bench):
    window = look().open("spool")
    window.drawn(1)
    table = window.page.locator("table:has(> [data-table=marks])")
    assert table.locator("thead").is_hidden()
    after = "getComputedStyle(document.querySelector('table:has(> [data-table=marks]) caption'), '::after').content"
    assert window.page.evaluate(after) == '": none yet"'
    bench.mark("hose kinked")
    window.page.wait_for_selector("[data-table=marks] tr")
    assert table.locator("thead").is_visible()
    assert window.page.evaluate(after) == "none"


def test_a_column_without_a_name_has_no_head_that_is_announced_without_words():
    made = elements.table("points", ("", "reference"), [("1", "5 kPa")])
    row = made[2][3][2]
    assert [cell[0] for cell in row[2:]] == ["td", "th"]


@pytest.mark.browser
@pytest.mark.exhaustive
def test_the_dot_on_the_line_does_not_flicker_while_a_slow_rig_sends(look, bench):
    """Two frames a second: several messages come between two of them."""
    look_at = bench.snapshot

    def slow():
        now = look_at()
        return dataclasses.replace(now, link=dataclasses.replace(now.link, frames=int(2 * now.time)))

    bench.snapshot = slow
    window = look().open()
    window.page.wait_for_function("document.getElementById('dot').dataset.is === 'moving'")
    window.page.evaluate("""() => {
        window.stops = 0;
        new MutationObserver(() => { if (document.getElementById("dot").dataset.is === "still") { stops += 1; } })
            .observe(document.getElementById("dot"), { attributes: true });
        frothlineDrawing.pace.still = 60_000; // a busy machine may be late with a message
    }""")
    window.drawn(20)
    assert window.page.evaluate("stops") == 0


def losses_after(bench, feed, time, at):
    time[0] = at
    return feed.update(Viewer(), 1)["states"]["losses"]


def test_a_cable_that_is_plugged_in_again_is_no_lasting_alarm(bench):
    time = [0.0]
    feed = Feed(bench, clock=lambda: time[0])
    assert losses_after(bench, feed, time, 1.0) == "none"
    bench.unplug()
    assert losses_after(bench, feed, time, 2.0) == "none"  # the link itself says that the cable is out
    bench.losses = snapshot.Losses(times_lost=1)
    assert losses_after(bench, feed, time, 100.0) == "new"
    bench.plug()
    assert losses_after(bench, feed, time, 150.0) == "new"
    assert losses_after(bench, feed, time, 161.0) == "old"
    assert feed.update(Viewer(), 1)["texts"]["losses"] == "1 USB disconnect"
    bench.losses = snapshot.Losses(times_lost=1, missing=2)
    assert losses_after(bench, feed, time, 200.0) == "new"


def test_frames_that_are_not_lost_are_no_new_loss(bench):
    time = [0.0]
    feed = Feed(bench, clock=lambda: time[0])
    bench.losses = snapshot.Losses(missing=2, frames=10)
    assert losses_after(bench, feed, time, 1.0) == "new"
    bench.losses = snapshot.Losses(missing=2, frames=5000)
    assert losses_after(bench, feed, time, 62.0) == "old"


def test_an_edit_is_announced_on_other_screens_for_a_while_and_never_on_its_own():
    time = [0.0]
    edits = SharedEdits(lambda: time[0])
    assert edits.words("a") == edits.words("") == ""
    edits.note("a")
    assert edits.words("a") == ""
    assert "another screen" in edits.words("b")
    time[0] = 14.9
    assert "another screen" in edits.words("b")
    time[0] = 15.1
    assert edits.words("b") == ""


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_what_if_on_one_screen_is_announced_on_the_other(look):
    one, other = look().open("generator"), look(width=390, height=844).open("generator")
    other.drawn(2)
    one.page.locator("#part-connection summary").click()
    field = one.page.locator("#page-generator [data-block=sheet-form] input").first
    field.fill("31 mm")
    field.press("Tab")
    other.wait_text("sheet-shared", "changed on another screen")
    one.drawn(2)
    assert one.text("sheet-shared") == ""
