"""How often shut-off pressure, free delivery and band of smooth sources outside the polynomials hold the truth.

Run by hand with more draws: ``python tests/performance/test_shut_off_coverage.py 400``.
"""

import ast
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import point_truth as truth

from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import SteadyPoint

POWER, TABLED = 150, 20  # draws of the power family, and of each published table


def judge(family, seed, number, errors=None):
    """The sweep; whether shut-off, free delivery and the band at one measured flow held; half widths."""
    rng = np.random.default_rng([seed, number])
    sweep = truth.draw(rng, family, errors)
    errors = (sweep.u_p, sweep.u_q, 0.0)
    points = [SteadyPoint.from_parts(float(p), float(q), errors) for p, q in zip(sweep.p, sweep.q, strict=True)]
    fit = BlowerCurve().fit(points)
    flow = rng.uniform(sweep.q.min(), sweep.q.max())
    lower, upper = fit.band(flow, simultaneous=False)
    shut, free = fit.shut_off, fit.free_delivery
    held = (
        shut.lower <= sweep.pressure[0] <= shut.upper,
        free.lower <= sweep.flow[-1] <= free.upper,
        bool(lower <= np.interp(flow, sweep.flow, sweep.pressure) <= upper),
    )
    widths = (
        (shut.upper - shut.lower) / 2 / sweep.pressure[0],
        (free.upper - free.lower) / 2 / sweep.flow[-1],
        float(upper - lower) / 2 / sweep.pressure[0],
    )
    return sweep, held, widths


@pytest.fixture(scope="module")
def power():
    return [judge("power", 41, number) for number in range(POWER)]


def least(count, share=0.95):
    """Three standard deviations below the share that is stated."""
    return count * share - 3 * np.sqrt(count * share * (1 - share))


@pytest.mark.exhaustive
def test_the_shut_off_pressure_of_a_power_curve_is_held_as_often_as_stated(power):
    held = sum(held[0] for _, held, _ in power)
    assert least(POWER) <= held < POWER


@pytest.mark.parametrize("errors", truth.ERRORS)
@pytest.mark.exhaustive
def test_the_shut_off_pressure_of_a_power_curve_is_held_with_every_size_of_error(power, errors):
    held = [held[0] for sweep, held, _ in power if sweep.errors == errors]
    assert sum(held) >= least(len(held))


@pytest.mark.parametrize("lowest", truth.LOWEST)
@pytest.mark.exhaustive
def test_the_shut_off_pressure_of_a_power_curve_is_held_from_every_lowest_flow(power, lowest):
    held = [held[0] for sweep, held, _ in power if sweep.lowest == lowest]
    assert sum(held) >= least(len(held))


@pytest.mark.exhaustive
def test_free_delivery_and_the_band_of_a_power_curve_are_held(power):
    for which in (1, 2):
        assert sum(held[which] for _, held, _ in power) >= least(POWER)


@pytest.mark.exhaustive
def test_a_point_held_shut_pins_the_shut_off_pressure_down(power):
    # errors of at most 0.1 % of shut-off pressure: one reading there knows it to 0.2 %
    chosen = [widths[0] for sweep, _, widths in power if sweep.lowest == "held shut" and sweep.errors != "large"]
    assert np.median(chosen) < 0.002


@pytest.mark.exhaustive
def test_the_intervals_of_a_power_curve_are_not_bought_by_width(power):
    # errors of 0.1 % or less, nearest point at most at 15 % of free delivery
    chosen = [widths for sweep, _, widths in power if sweep.errors == "small"]
    shut, free, band = np.median(chosen, axis=0)
    assert shut < 0.006
    assert free < 0.005
    assert band < 0.004


@pytest.mark.exhaustive
def test_the_shut_off_pressure_of_published_fan_curves_is_held():
    held = [judge(name, 43, number, "large")[1] for name in truth.TABLES for number in range(TABLED)]
    assert sum(item[0] for item in held) >= least(len(held))


def test_the_generator_of_points_shares_no_code_with_the_fit():
    tree = ast.parse(Path(truth.__file__).read_text("utf-8"))
    imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    imported |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    assert imported <= {"__future__", "dataclasses", "numpy"}


if __name__ == "__main__":
    for family in ("power", "line and power", *truth.TABLES):
        done = [judge(family, 47, number) for number in range(int(sys.argv[1]))]
        held, widths = np.array([item[1] for item in done]), np.array([item[2] for item in done])
        for group in ("all", *truth.LOWEST, *truth.ERRORS):
            mine = np.array([group in ("all", sweep.lowest, sweep.errors) for sweep, *_ in done])
            columns = " ".join(
                f"| {name} {held[mine, k].mean():6.1%} half width {np.median(widths[mine, k]):6.2%}"
                for k, name in enumerate(("shut-off", "free", "band"))
            )
            print(f"{family:28} {group:10} {mine.sum():4d} {columns}")
