"""The plane and the traces as pictures: signs, units, what is solid and what is dashed, contrast."""

import re
from pathlib import Path

import numpy as np
import pytest
from fake_session import FREE_DELIVERY, SHUT_OFF, fit, truth

from frothline import web
from frothline.curve.steady_points import SteadyPoint
from frothline.web.charts import pressure_flow, traces
from frothline.web.charts.decimate import DecimatedLine
from frothline.web.charts.palette import PALETTES, tint
from frothline.web.charts.pressure_flow import CurveDrawing, SourceDrawing
from frothline.web.pages.spool import tables

CSS = (Path(web.__file__).parent / "assets" / "base.css").read_text("utf-8")


def swept(openings=(0.0, 0.2, 0.4, 0.6)):
    points = tuple(SteadyPoint(0, 1, *_pu(opening)) for opening in openings)
    fitted = fit(points)
    q = np.linspace(0, FREE_DELIVERY, 121)
    return SourceDrawing(points, CurveDrawing(q, fitted.pressure(q)[0], *fitted.band(q), *fitted.range))


def _pu(opening):
    pressure, flow = truth(opening)
    return pressure, 14.0, flow, 1.2e-4


def named(figure, name):
    return next(trace for trace in figure.data if trace.name == name)


def test_pressure_is_up_and_flow_to_the_right_in_the_readers_units():
    figure = pressure_flow.plane(swept(), "inch-pound", "light")
    assert "Pressure, inH₂O" in figure.layout.yaxis.title.text
    assert "Flow, cfm" in figure.layout.xaxis.title.text
    points = named(figure, "Points")
    assert points.y[0] == pytest.approx(SHUT_OFF / 249.0889, rel=1e-5)  # NIST SP 811: inch of water, conventional
    assert points.x[-1] == pytest.approx(0.6 * FREE_DELIVERY / 4.719474e-4, rel=1e-4)  # NIST SP 811: cubic foot/min


def test_error_bars_reach_1_96_standard_uncertainties():
    points = named(pressure_flow.plane(swept(), "metric", "light"), "Points")
    assert points.error_y.array[0] == pytest.approx(1.96 * 14.0 / 1000, rel=0.01)  # JCGM 100, table G.1


def test_what_was_measured_is_solid_and_what_lies_beyond_is_dashed():
    figure = pressure_flow.plane(swept(), "metric", "light")
    solid, dashed = named(figure, "Curve, measured"), named(figure, "Curve, predicted")
    assert (solid.line.dash, dashed.line.dash) == ("solid", "dash")
    known = [x for x, y in zip(solid.x, solid.y, strict=True) if y is not None]
    beyond = [x for x, y in zip(dashed.x, dashed.y, strict=True) if y is not None]
    assert max(known) <= 0.6 * FREE_DELIVERY * 1000 + 1e-6
    assert max(beyond) == pytest.approx(FREE_DELIVERY * 1000)
    assert min(beyond) == max(known)  # they touch


def test_measured_and_predicted_differ_in_word_dash_and_weight_not_in_colour_alone():
    figure = pressure_flow.plane(swept(), "metric", "light")
    solid, dashed = named(figure, "Curve, measured"), named(figure, "Curve, predicted")
    assert solid.line.dash != dashed.line.dash
    assert solid.line.width >= dashed.line.width + 1.0


def test_the_figures_of_every_line_are_shown_under_the_pointer_with_their_unit_and_interval():
    """At no flow the curve has SHUT_OFF, in inches of water of 249.0889 Pa (NIST SP 811)."""
    figure = pressure_flow.plane(swept(), "inch-pound", "light")
    assert figure.layout.hovermode == "x unified"
    assert "cfm" in figure.layout.xaxis.unifiedhovertitle.text
    solid = named(figure, "Curve, measured")
    assert "inH₂O" in solid.hovertemplate
    low, high = solid.customdata[0]
    assert low < SHUT_OFF / 249.0889 < high
    for chart in (figure, traces.traces("metric", "light", 30)):
        for trace in chart.data:
            assert trace.hoverinfo == "skip" or trace.hovertemplate, trace.name


def test_a_chart_without_data_says_why_and_one_with_data_does_not():
    for make in (
        lambda **more: pressure_flow.plane(SourceDrawing(), "metric", "light", **more),
        lambda **more: traces.traces("metric", "light", 30, **more),
    ):
        assert [one.text for one in make(empty="no rig found").layout.annotations if one.name == "empty"] == [
            "no rig found"
        ]
        assert not [one for one in make().layout.annotations if one.name == "empty"]


def test_notes_are_marked_on_the_trend_at_their_time_while_they_are_in_it():
    line = DecimatedLine(np.array([100.0]), np.array([1000.0]))
    notes = ((40.0, "too early"), (90.0, "hose kinked"), (130.0, "not yet"))
    live = traces.traces_live([line, line, line], 120.0, 60, "metric", notes)
    assert (live["x"][-1], live["text"][-1]) == ([30.0], ["hose kinked"])
    long = traces.traces_live([line, line, line], 120.0, 600, "metric", notes)
    assert (long["x"][-1], long["text"][-1]) == ([round(80 / 60, 3), 0.5], ["too early", "hose kinked"])
    assert len(live["x"]) == len(live["y"]) == len(live["text"]) == len(traces.traces("metric", "light", 60).data)


def test_a_source_that_was_not_swept_has_no_curve_and_no_band():
    assert [trace.name for trace in pressure_flow.plane(SourceDrawing(), "metric", "light").data] == [
        "Points",
        "Recent path",
        "Current",
    ]


def test_the_live_dot_is_left_out_while_it_is_not_known():
    live = pressure_flow.plane_live(np.array([0.01]), np.array([500.0]), np.nan, 500.0, "metric")
    assert (live["x"][1], live["y"][1]) == ([], [])
    assert (live["x"][0], live["y"][0]) == ([10.0], [0.5])


def test_axes_begin_at_nothing_and_reach_beyond_everything_seen():
    source = swept()
    x, y = pressure_flow.plane_limits(source, 0.0, 0.0, "metric")
    assert x[0] == y[0] == 0
    assert x[1] >= FREE_DELIVERY * 1000
    assert y[1] >= SHUT_OFF / 1000
    assert pressure_flow.plane_limits(source, 0.2, 0.0, "metric")[0][1] >= 200


def test_traces_run_to_the_left_into_the_past_and_gaps_stay_gaps():
    line = DecimatedLine(np.array([10.0, 11.0, 12.0]), np.array([1000.0, np.nan, 2000.0]))
    live = traces.traces_live([line, line, line], 12.5, 30, "metric")
    assert live["x"][0] == [2.5, 1.5, 0.5]
    assert live["y"][0] == [1.0, None, 2.0]
    assert traces.traces("metric", "dark", 30).layout.xaxis.range == (30, 0)
    assert traces.traces("metric", "dark", 600).layout.xaxis.title.text == "Minutes ago"


def test_pictures_are_drawn_without_webgl_and_keep_the_readers_view():
    for figure in (pressure_flow.plane(swept(), "metric", "light"), traces.traces("metric", "light", 30)):
        assert {trace.type for trace in figure.data} == {"scatter"}
        assert figure.layout.uirevision == "kept"
        assert figure.layout.paper_bgcolor == "rgba(0,0,0,0)"


def luminance(colour):
    """Relative luminance, WCAG 2.1."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_formula_gives_21_for_black_on_white():
    """WCAG 2.1, definition of contrast ratio: from 1 to 21."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("ink", ["ink", "faint", "measured", "predicted", "alarm"])
def test_every_ink_reads_on_its_paper(scheme, ink):
    """WCAG 2.1, 1.4.3 level AA: at least 4.5 : 1."""
    palette = PALETTES[scheme]
    assert contrast(getattr(palette, ink), palette.paper) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_on_a_filled_button_read_too(scheme):
    palette = PALETTES[scheme]
    for fill in (palette.measured, palette.alarm, palette.ink):
        assert contrast(palette.paper, fill) >= 4.5


def test_style_sheet_and_pictures_use_the_same_colours():
    light, dark = CSS.split("@media screen and (prefers-color-scheme: dark)")[:2]
    for scheme, text in (("light", light), ("dark", dark.split("* {")[0])):
        said = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", text))
        for name in ("paper", "ink", "faint", "rule", "measured", "predicted", "alarm"):
            assert said[name] == getattr(PALETTES[scheme], name), (scheme, name)


def test_a_tint_is_the_colour_made_thin():
    assert tint("#0b6b62", 0.2) == "rgba(11,107,98,0.2)"


@pytest.mark.parametrize(("drift", "said"), [(2e-4, "200 ppm slow, 180 to 220"), (-2e-4, "200 ppm fast, 180 to 220")])
def test_a_clock_that_gains_is_fast_and_not_slow_by_less_than_nothing(drift, said):
    assert tables._drift(drift, 1e-5) == said
