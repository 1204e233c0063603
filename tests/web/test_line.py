"""The line across the top: the way to the pages, values where they are measured, faults where they are."""

import dataclasses
import itertools
import math
from xml.etree import ElementTree as ET

import pytest

from frothline.bench import snapshot
from frothline.run.watch.alarm_kinds import KINDS
from frothline.web import line_diagram, live_figures
from frothline.web.pages import PAGES, links


def test_the_drawing_is_one_well_formed_svg_with_a_link_for_every_page():
    root = ET.fromstring(line_diagram.drawing(links()))
    found = {a.get("data-page"): a for a in root.iter("a")}
    assert list(found) == list(PAGES)
    for key, link in found.items():
        assert link.get("aria-label").startswith(key)
        assert any((text.text or "") == key for text in link.iter("text"))


def test_parts_follow_each_other_as_the_air_goes_and_do_not_overlap():
    edges = [(part.left, part.right) for part in links()]
    assert edges == sorted(edges)
    assert all(a[1] <= b[0] for a, b in itertools.pairwise(edges))


def test_measured_values_stand_over_the_part_where_they_are_measured(bench):
    spool = next(part for part in links() if part.key == "spool")
    for key, x, _, _ in line_diagram.VALUES:
        if key in {"pressure", "speed", "temperature"}:
            assert spool.left < x < spool.right
    bench._began -= 5
    texts, _ = line_diagram.words(bench.snapshot(), (), "source", "metric")
    assert texts["line-pressure"].endswith(" kPa")
    assert texts["line-speed"].endswith(" m/s")


BOLD = 9.6  # px, a wide letter of the drawing's bold text


def span(x, anchor, words):
    """From where to where a text reaches, px."""
    width = BOLD * len(words)
    left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
    return left, left + width


def test_no_value_or_word_of_a_fault_crosses_the_frame_of_a_part():
    edges = [edge for part in links() for edge in (part.left, part.right)]
    longest = {"pressure": "100.0 kPa", "speed": "1234 ft/min", "temperature": "−10.0 °C", "foam": "480 L/min"}
    words = [span(x, anchor, longest[key]) for key, x, _, anchor in line_diagram.VALUES if key in longest]
    outlet = line_diagram.SPOTS["outlet"].text[0]
    titles = (kind.line_word or kind.title for kind in KINDS.values() if kind.place == "outlet")
    words += [span(outlet, "middle", title) for title in titles]
    for left, right in words:
        assert not [edge for edge in edges if left < edge < right], (left, right)


def test_a_silent_pressure_sensor_is_marked_at_the_tap_with_the_word(bench):
    bench.channels = tuple(dataclasses.replace(one, present=one.kind != "pressure") for one in bench.channels)
    now = bench.snapshot()
    texts, states = line_diagram.words(now, live_figures.faults(now), "source", "metric")
    assert texts["fault-tap"] == "no sensor"
    assert states["fault-tap"] == "warn"
    assert texts["line-pressure"] == ""  # the word stands in the place of the value
    assert states["fault-generator"] == ""
    assert "no sensor at the pressure tap" in texts["strip"]


def test_a_saturated_sensor_is_an_alarm(bench):
    bench.status["line_pressure"] = 2
    now = bench.snapshot()
    _, states = line_diagram.words(now, live_figures.faults(now), "source", "metric")
    assert states["fault-tap"] == "alarm"


def test_no_value_is_shown_once_the_cable_is_out(bench):
    bench.unplug()
    texts, _ = line_diagram.words(bench.snapshot(), (), "source", "metric")
    assert texts["line-pressure"] == "–"
    assert texts["line-flow"] == "–"


@pytest.mark.parametrize(
    ("status", "words"),
    [(8, "the rotor does not turn"), (2, "beyond the sensor's range"), (4, "no new data from this sensor")],
)
def test_an_unknown_figure_has_its_reason_in_words(bench, status, words):
    bench.status["standard_flow"] = status
    known = live_figures.figure(bench.snapshot(), "standard_flow")
    assert math.isnan(known.value)
    assert known.reason == words


@pytest.mark.parametrize("link", [s for s in snapshot.LINK_STATES if s != snapshot.LIVE])
def test_every_state_of_the_link_but_live_gives_a_reason_and_no_figure(bench, link):
    bench.link_state, bench.link_words = link, "words of the bench"
    known = live_figures.figure(bench.snapshot(), "line_pressure")
    assert math.isnan(known.value)
    assert known.reason


def test_an_alarm_comes_before_the_figures_in_the_one_line_of_a_phone_and_a_remark_after_them(bench):
    bench.status["line_pressure"] = 2
    now = bench.snapshot()
    texts, _ = line_diagram.words(now, live_figures.faults(now), "source", "metric")
    assert texts["strip"].startswith("beyond its range at the pressure tap; ")
    bench.status["line_pressure"] = 0
    bench.channels = tuple(dataclasses.replace(one, present=one.kind != "pressure") for one in bench.channels)
    now = bench.snapshot()
    texts, _ = line_diagram.words(now, live_figures.faults(now), "source", "metric")
    assert texts["strip"].endswith("; no sensor at the pressure tap")
