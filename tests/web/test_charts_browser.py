"""Charts in Chromium: read by pointer and by touch, whole above the throttle, and on paper."""

import pytest
from test_generator_page import blower
from waiting import until

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 844, "has_touch": True}


def middle(window, key):
    """Scroll to a chart and give the middle of its plot."""
    window.charted(key)
    plot = window.page.locator(f"#{key} .nsewdrag").first
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def read(window, key, point):
    """The figures that are shown over a chart once it is pointed at; again where the page has moved in between."""
    shown = window.page.locator(f"#{key} .hoverlayer")

    def figures():
        point(*middle(window, key))
        window.drawn(1)
        return shown.locator(".legend").count() > 0

    until(figures, f"figures over {key}")
    window.drawn(3)
    assert shown.locator(".legend").count()  # they stay while the chart moves
    return shown.text_content()


@pytest.mark.parametrize(
    ("size", "chart"),
    [
        (PHONE, "plane"),
        *(pytest.param(PHONE, chart, marks=pytest.mark.exhaustive) for chart in ("traces", "meeting")),
        *(pytest.param({}, chart, marks=pytest.mark.exhaustive) for chart in ("plane", "traces", "meeting")),
    ],
)
@pytest.mark.exhaustive
def test_pressure_and_flow_are_read_under_a_pointer_and_by_a_tap(look, bench, size, chart):
    bench._fit = blower()
    window = look(**size).open()
    point = window.page.touchscreen.tap if size else window.page.mouse.move
    window.page.locator("details:has(#traces)").evaluate("e => { e.open = true; }")
    parts = {
        "plane": ("at ", "L/s", "Curve, measured", " to ", "kPa"),
        "traces": ("Pressure", "Flow", "Air power", "ago"),
        "meeting": ("at ", "Dry, predicted", "kPa"),
    }[chart]
    if chart == "meeting":
        link = window.page.locator("nav a[data-page=generator]:visible")
        link.tap() if size else link.click()  # a phone has no mouse that rests somewhere else
        window.page.wait_for_function(
            "document.querySelector('#meeting .js-plotly-plot')?.data.some(t => t.name === 'Wet, predicted')"
        )
    said = read(window, chart, point)
    assert all(part in said for part in parts), said


@pytest.mark.exhaustive
def test_paper_is_light_without_controls_with_every_part_open_and_no_chart_over_the_edge(look, bench):
    bench._fit = blower()
    window = look(color_scheme="dark").open("generator")
    page = window.page
    window.charted("meeting")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print", color_scheme="dark")
    page.set_viewport_size({"width": 680, "height": 900})  # A4 less its margins, at 96 px to the inch
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(251, 250, 246)"
    page.locator("[data-block=measured] .small").wait_for()
    assert not any(one.is_visible() for one in page.locator("#page-generator :is(button, input, select)").all())
    assert page.evaluate("document.documentElement.scrollWidth") <= 680
    edges = page.evaluate(
        "(([a, b]) => [a.right, b.right, a.width, a.height])(['#meeting .main-svg', '#page-generator'].map(e => document.querySelector(e).getBoundingClientRect()))"
    )
    assert edges[0] <= edges[1] + 1
    assert 300 < edges[3] < edges[2]  # to scale, not cut
    assert page.locator("#meeting .js-plotly-plot").evaluate("e => getComputedStyle(e).filter").startswith("invert")
    page.emulate_media(media="screen", color_scheme="dark")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert not page.locator("[data-block=measured] .small").is_visible()
