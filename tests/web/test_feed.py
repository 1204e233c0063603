"""One message for one viewer: what is in it, and that nothing a browser says is believed unchecked."""

import dataclasses
import json
import math
import re
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plotly.utils import PlotlyJSONEncoder

from frothline.bench import snapshot
from frothline.bench.sweep_control import SimulatedThrottle
from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError
from frothline.sweep.guide_state import CapturedPoint, GuideState
from frothline.web import trail
from frothline.web.elements import words_of
from frothline.web.feed import Feed
from frothline.web.header import say_link
from frothline.web.pages import PAGES
from frothline.web.pages.source.content import throttle_pieces
from frothline.web.pages.sweep import labels, sweep_chart
from frothline.web.viewer import WINDOWS, Viewer

anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
KEYS = ("page", "system", "scheme", "columns", "seconds", "touch", "have", "seen")


@given(st.dictionaries(st.sampled_from(KEYS), anything) | anything)
def test_whatever_a_browser_says_becomes_a_usual_viewer(said):
    viewer = Viewer.of(said, PAGES)
    assert viewer.page in PAGES
    assert viewer.system in {"metric", "inch-pound"}
    assert viewer.scheme in {"light", "dark"}
    assert viewer.seconds in WINDOWS
    assert 40 <= viewer.columns <= 400
    assert viewer.seen >= 0


def settled(bench):
    """A bench whose throttle has stood at 0.35 since before the first sample."""
    bench._began -= 20
    return Feed(bench)


def test_a_message_can_be_written_as_json_and_holds_no_nan(bench):
    feed = settled(bench)
    for page in PAGES:
        text = json.dumps(feed.update(Viewer(page=page), 1), cls=PlotlyJSONEncoder, allow_nan=False)
        assert len(text) < 120_000


def test_big_figures_come_with_unit_and_interval(bench):
    texts = settled(bench).update(Viewer(), 1)["texts"]
    # the stand-in holds 6500 Pa (1 - 0.35^2) = 5703.75 Pa
    assert float(texts["now-line_pressure"]) == pytest.approx(5.704, abs=0.02)
    assert texts["now-line_pressure-unit"] == "kPa"
    low, high = map(float, texts["now-line_pressure-under"].split(" to "))
    assert low < 5.704 < high


def test_the_reader_in_inches_and_cubic_feet_gets_the_same_air(bench):
    feed = settled(bench)
    metric = feed.update(Viewer(), 1)["texts"]
    inches = feed.update(Viewer(system="inch-pound"), 1)["texts"]
    assert inches["now-standard_flow-unit"] == "cfm"
    # 1 L/s = 2.118880 cubic feet per minute (NIST SP 811: 1 cubic foot per minute = 0.4719474 L/s)
    ratio = float(inches["now-standard_flow"]) / float(metric["now-standard_flow"])
    assert ratio == pytest.approx(1 / 0.4719474, rel=0.01)


def test_a_picture_is_sent_whole_once_and_then_only_its_moving_points(bench):
    feed = settled(bench)
    first = feed.update(Viewer(), 1)["figures"]
    assert "figure" in first["plane"]
    have = {key: picture["key"] for key, picture in first.items()}
    second = feed.update(Viewer(have=have), 2)["figures"]
    assert "figure" not in second["plane"]
    assert "figure" not in second["traces"]
    assert "figure" in feed.update(Viewer(have=have, scheme="dark"), 3)["figures"]["plane"]


def test_a_new_steady_point_brings_the_picture_anew(bench):
    feed = settled(bench)
    have = {key: picture["key"] for key, picture in feed.update(Viewer(), 1)["figures"].items()}
    bench._take(0.2)
    feed._taken = -1e9
    again = feed.update(Viewer(have=have), 2)["figures"]
    assert "figure" in again["plane"]
    assert "figure" not in again["traces"]


def test_several_fits_in_a_row_do_not_stumble_over_their_arrays(bench):
    feed = settled(bench)
    for opening in (0.0, 0.2, 0.4, 0.6, 0.8):
        bench._take(opening)
        feed._taken = -1e9
        message = feed.update(Viewer(), 1)
    names = [trace["name"] for trace in message["figures"]["plane"]["figure"]["data"]]
    assert "Curve, measured" in names
    assert message["texts"]["fit-shut_off"] == "6.500"


def test_unplugging_is_said_in_words_and_figures_become_dashes(bench):
    feed = settled(bench)
    bench.unplug()
    message = feed.update(Viewer(), 1)
    assert "USB cable unplugged on /dev/ttyUSB0" in message["texts"]["link"]
    assert message["states"]["link"] == "lost"
    assert message["texts"]["now-line_pressure"] == "–"
    assert message["texts"]["now-line_pressure-under"] == "USB cable unplugged"
    assert message["tones"]["alarm"] == 1
    assert message["texts"]["strip"] == "– USB cable unplugged"


def test_losses_are_counted_in_words(bench):
    feed = settled(bench)
    assert feed.update(Viewer(), 1)["texts"]["losses"] == "No data lost"
    bench.losses = snapshot.Losses(missing=3, damaged=1, health={"frames_dropped": 2})
    feed._taken = -1e9
    words = feed.update(Viewer(), 2)["texts"]["losses"]
    assert words == "3 frames missing, 1 frame damaged, 2 frames dropped by the board"


def test_recording_is_said_with_its_running_time_and_its_place(bench):
    feed = settled(bench)
    bench.start_recording()
    bench._recording = (bench._recording[0], bench.now - 83)
    texts = feed.update(Viewer(), 1)["texts"]
    assert texts["recording"] == "recording 1:23"
    assert str(bench.folder) in texts["recording-where"]
    assert texts["record-button"] == "Stop recording"


def test_another_board_on_the_port_is_said_in_place_of_the_cable(bench):
    feed = settled(bench)
    words = "another board is on COM5: 'shed' (00000022) answers, 'shed' (00000011) is expected"
    now = bench.snapshot()
    now = dataclasses.replace(now, link=dataclasses.replace(now.link, state="lost", other_board=words))
    bench.snapshot = lambda: now
    message = feed.update(Viewer(), 1)
    assert message["texts"]["link"] == "A" + words[1:]
    assert message["states"]["link"] == "lost"


def said_of(bench, **recording):
    feed = settled(bench)
    one = snapshot.RecordingState("r", bench.folder / "r.froth", 83.0, 100, **recording)
    now = dataclasses.replace(bench.snapshot(), recording=one)
    bench.snapshot = lambda: now
    message = feed.update(Viewer(), 1)
    return message["texts"]["recording"], message["texts"]["record-button"], message["states"]["recording"]


def test_a_recording_that_has_ended_by_itself_can_be_begun_again(bench):
    words, button, look = said_of(bench, trouble="only 10 MB are free", ended=True)
    assert words == "recording stopped: only 10 MB are free"
    assert button == "Start recording"
    assert look == "trouble"


def test_a_recording_that_waits_for_its_disk_is_not_called_stopped(bench):
    words, button, look = said_of(bench, trouble="no such device", kept=120_000)
    assert words == "recording interrupted, 120.0 kB in memory, retrying every second: no such device"
    assert button == "Stop recording"
    assert look == "trouble"


def test_a_write_error_that_is_over_is_no_trouble(bench):
    words, button, look = said_of(bench, write_faults=1)
    assert words == "recording 1:23, continued after 1 write error"
    assert button == "Stop recording"
    assert look == "on"


def test_the_trail_is_the_mean_of_quarter_seconds_and_keeps_its_points_while_time_goes_on():
    at = np.arange(0, 20, 0.01)
    pressure = snapshot.SeriesWindow("line_pressure", "Pa", 0, at, at * 100, at, np.zeros(at.size, np.uint8))
    flow = snapshot.SeriesWindow(
        "standard_flow", "m3/s", 0, at, np.full(at.size, 0.01), at, np.zeros(at.size, np.uint8)
    )
    _, one = trail.trail(pressure, flow, 15.0)
    _, other = trail.trail(pressure, flow, 15.1)
    assert np.array_equal(one, other)
    assert np.diff(one) == pytest.approx(25.0)  # 100 Pa/s for 0.25 s


def test_a_point_of_the_trail_is_the_mean_of_its_bin_as_a_general_library_counts_it():
    """Against ``numpy.histogram``; gaps, unknown samples and bins without any included."""
    chance = np.random.default_rng(5)
    at = np.sort(chance.uniform(9.0, 15.2, 300))
    at = at[(at < 12.0) | (at > 12.6)]
    columns = [np.where(chance.random(at.size) < 0.1, np.nan, chance.normal(k, 1.0, at.size)) for k in (3.0, 40.0)]
    windows = [snapshot.SeriesWindow("", "", 0, at, one, one, np.zeros(at.size, np.uint8)) for one in columns]
    edges = np.arange(40, 62) * 0.25  # the begun quarter of a second at 15.1 s, and 5 s before it
    means = []
    for one in columns:
        good = np.isfinite(one) & (at < edges[-1])
        count, _ = np.histogram(at[good], edges)
        total, _ = np.histogram(at[good], edges, weights=one[good])
        means.append(total[count > 0] / count[count > 0])
    pressure, flow = windows
    q, p = trail.trail(pressure, flow, 15.1)
    assert len(q) == len(p) == 19  # two bins are empty
    assert p == pytest.approx(means[0], rel=1e-12)
    assert q == pytest.approx(means[1], rel=1e-12)


def test_viewers_share_one_look_at_the_bench(bench):
    looked = []
    taken = bench.snapshot()
    bench.snapshot = lambda: looked.append(1) or taken
    time = [0.0]
    feed = Feed(bench, clock=lambda: time[0])
    for _ in range(5):
        feed.update(Viewer(page="spool"), 1)
    assert len(looked) == 1
    time[0] = 0.05
    feed.update(Viewer(page="spool"), 1)
    assert len(looked) == 2


def test_the_spool_page_lists_every_channel_with_its_sensor_and_interval(bench):
    rows = settled(bench).update(Viewer(page="spool"), 1)["tables"]["channels"]
    by_name = {row[0]: row for row in rows}
    assert by_name["Pressure at the tap"][4] == "MPX5010, A0"
    assert " to " in by_name["Temperature in the spool"][2]
    value, unit = by_name["Temperature in the spool"][1].split()
    assert unit == "°C"
    assert float(value) == pytest.approx(31.85, abs=0.06)  # the stand-in's 305.0 K, to a tenth


def spool_tables(bench):
    feed = settled(bench)
    feed.update(Viewer(page="spool"), 1)
    while feed._contents["spool"].budgets.working:
        time.sleep(0.01)
    return feed.update(Viewer(page="spool"), 2)["tables"]


def test_the_budget_lists_contributions_largest_first_without_those_that_change_nothing(bench):
    rows = spool_tables(bench)["budget"]
    # 12 Pa and 5 Pa make 13 Pa (a Pythagorean triple): shares of the variance 144/169 = 85 % and 25/169 = 15 %
    assert [row[:4] for row in rows] == [
        ["Pressure at the tap", "data-sheet band", "0.012 kPa", "85 %"],
        ["", "converter", "0.005 kPa", "15 %"],
    ]


def test_a_calibrated_channel_says_when_and_by_whom(bench):
    known = {row[0]: row[5] for row in spool_tables(bench)["channels"]}
    assert known["Temperature in the spool"] == "calibrated 2026-05-02 by the yard"
    assert known["Pressure at the tap"] == "data sheet"


def test_budgets_are_drawn_up_seldom_however_many_look_on(bench):
    feed = settled(bench)
    for number in range(40):
        feed.update(Viewer(page="spool"), number)
    while feed._contents["spool"].budgets.working:
        time.sleep(0.01)
    assert bench.calls.count("budgets") == 1


def test_the_target_of_the_next_point_is_in_the_readers_unit(bench):
    feed = settled(bench)
    bench.start_sweep()
    sweep = dataclasses.replace(
        bench._sweep, phase="go_back", instruction="close slightly", target=(2490.889, 4981.778)
    )
    now = dataclasses.replace(bench.snapshot(), sweep=sweep)
    bench.snapshot = lambda: now
    texts = feed.update(Viewer(system="inch-pound"), 1)["texts"]
    # 2490.889 Pa are 10 inches of water (NIST SP 811)
    assert texts["sweep-target"] == "until about 15 inH₂O"
    assert texts["sweep-button"] == "Ready"


# a source of 20 kPa and 40 L/s, measured to 20 L/s
PARABOLA = [(20e3 * (1 - (q / 0.04) ** 2), q) for q in (0.0, 0.005, 0.010, 0.015, 0.020)]


def test_the_chart_of_the_guide_has_the_target_as_a_band_and_a_mark_for_each_point():
    points = (CapturedPoint(18e3, 0.0), CapturedPoint(15e3, 0.02))
    sweep = GuideState(
        "open", "open slightly", "", 0.0, 2, 10, target=(10e3, 12e3), pressure=15e3, flow=0.02, captured=points
    )
    svg = sweep_chart.picture(sweep, None, "metric", "light")[0][1]["svg"]
    height = {float(y) for y in re.findall(r'cy="([0-9.]+)" r="7"', svg)}
    assert len(height) == 2
    band = re.search(r'<rect [^>]*y="([0-9.]+)"[^>]*height="([0-9.]+)"', svg)
    top, tall = float(band[1]), float(band[2])
    # the axis goes from 0 to 20 kPa: 10 to 12 kPa are a tenth of its height, below the point at 15 kPa
    assert tall == pytest.approx(0.1 * (400 - 14 - 46), rel=0.01)
    assert top > max(height)
    assert "kPa" in svg
    assert "2 points, target 10.0" in sweep_chart.about(sweep, "metric")
    assert "15 kPa, 20 L/s" in svg  # the reading, next to its dot
    assert labels.NO_POINT not in svg
    assert labels.NO_POINT in str(sweep_chart.picture(dataclasses.replace(sweep, captured=()), None, "metric", "light"))
    curve = BlowerCurve().fit([SteadyPoint.from_parts(p, q, (40.0, 1e-4, 0.0)) for p, q in PARABOLA])
    drawn = re.findall('<path d="M([^"]*)" [^>]*stroke-width="([0-9.]+)"( stroke-dasharray)?',
        sweep_chart.picture(sweep, curve, "metric", "light")[0][1]["svg"])  # fmt: skip
    assert [(float(width) > 3, bool(dash)) for _, width, dash in drawn] == [(True, False), (False, True)]
    assert drawn[0][0].split("L")[-1] == drawn[1][0].split("L")[0]  # the prediction begins where the measurement ends
    unknown = dataclasses.replace(sweep, target=None, pressure=math.nan, flow=math.nan, captured=())
    assert "nan" not in str(sweep_chart.picture(unknown, None, "inch-pound", "dark"))


@pytest.mark.parametrize("hand", [False, True])
def test_the_throttle_of_a_simulated_rig_says_who_turns_it(bench, hand):
    bench.start_sweep()
    words = words_of(throttle_pieces(SimulatedThrottle(0.37, bleed=False, hand=hand), bench.snapshot())[0])
    assert "37 %" in words
    assert ("A simulated hand follows the guide" in words) == hand
    assert ("Let the simulated hand do it" in words) == (not hand)
    assert throttle_pieces(None, bench.snapshot()) == []


@pytest.mark.parametrize("typed", ["", "half", "nan"])
def test_a_throttle_that_is_not_given_a_number_stays(bench, typed):
    with pytest.raises(InputError, match="throttle"):
        Feed(bench).sweeps.turn(typed)  # no NaN either
    assert not [call for call in bench.calls if call.startswith("turn")]


def test_a_replay_is_called_one_in_the_header_also_while_it_is_paused(bench):
    now = bench.snapshot()
    for state, words in ((snapshot.LIVE, "Replay"), (snapshot.QUIET, "Replay: no data")):
        link = dataclasses.replace(now.link, state=state, port="replay:///somewhere/evening.froth")
        texts, states = {}, {}
        say_link(dataclasses.replace(now, link=link), texts, states)
        assert texts["link"] == words
