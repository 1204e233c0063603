"""Where a pump's line and its relief valve's line meet, a valve opens: at a measured pressure or nowhere."""

import numpy as np

from frothline.curve.positive_displacement import fit_relieved
from frothline.curve.steady_points import SteadyPoint, arrays_of


def points(pump, valve):
    """A line q = q0 - k p of a pump up to 4.5 kPa, and a valve's line p = p0 - s q above it; 1 % of scatter is stated."""
    low = [(p, pump[0] - pump[1] * p) for p in np.linspace(1e3, 4.5e3, 5)]
    high = [(valve[0] - valve[1] * q, q) for q in valve[2]]
    return arrays_of([SteadyPoint.from_parts(p, q, (0.01 * p, 0.01 * q, 0.0)) for p, q in (*low, *high)])


def test_a_valve_that_opens_at_a_measured_pressure_is_found():
    """The lines of the first case meet at 5 kPa by construction: q = 0.058 - 1e-6 x 5000 = 0.053."""
    found = fit_relieved(points((0.058, 1e-6), (5e3 + 2e4 * 0.053, 2e4, np.linspace(0.01, 0.05, 6))), 0.95)
    assert found is not None
    assert "above 5 kPa a relief valve is open" in found.why


def test_lines_that_would_meet_below_no_pressure_are_no_valve():
    """16381 - 334120 q and q = 0.0584 - 1.44e-6 p meet at -6 kPa by hand."""
    assert fit_relieved(points((0.0584, 1.44e-6), (16381.0, 334120.0, np.linspace(0.005, 0.033, 6))), 0.95) is None
