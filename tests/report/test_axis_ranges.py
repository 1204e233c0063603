"""Charts of a report with figures that forged frames or a hand-written file may give."""

import math
import xml.etree.ElementTree as ET

import pytest

from frothline.report.svg_chart import Chart

ENDS = [
    (0.0, 0.0),
    (5.0, 5.0),
    (-3.0, -3.0),
    (2.0, 1.0),
    (0.0, math.inf),
    (math.nan, 1.0),
    (-1e308, 1e308),
    (0.0, 5e-324),
]


@pytest.mark.parametrize("ends", ENDS)
def test_an_axis_without_a_range_is_still_drawn(ends):
    for x, y in ((ends, (0.0, 1.0)), ((0.0, 1.0), ends), (ends, ends)):
        chart = Chart(x, y, x_label="a", y_label="b", title="c")
        chart.line([0.0, 1.0, 5.0], [0.0, 5.0, math.nan])
        chart.points([1.0], [2.0], [0.1], [0.1])
        chart.span(0.0, 1.0, "s")
        drawn = chart.svg()
        ET.fromstring(drawn)
        assert "nan" not in drawn
        assert "inf" not in drawn


def test_a_range_is_drawn_as_given():
    chart = Chart((2.0, 4.0), (0.0, 1.0), x_label="a", y_label="b", title="c")
    assert (chart.x, chart.y) == ((2.0, 4.0), (0.0, 1.0))
