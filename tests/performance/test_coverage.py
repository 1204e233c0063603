"""Whether the 95 % intervals hold the truth, on fewer sweeps than the kept report has; and the report itself."""

import ast
import re
from pathlib import Path

import numpy as np
import pytest
import sweep_truth
from interval_coverage import run
from scores import RESULTS, Outcome, score

HERE = Path(__file__).parent
KEPT = HERE / "results" / "coverage.md"


@pytest.fixture(scope="module")
def few():
    found, refused = run(20, 77)
    assert len(refused) <= 1, refused
    return found


@pytest.fixture(scope="module")
def outcomes():
    found, refused = run(200, 77)
    assert len(refused) <= 4, refused
    return found


@pytest.mark.slow
@pytest.mark.parametrize("result", RESULTS)
@pytest.mark.exhaustive
def test_intervals_of_a_few_sweeps_hold_the_truth(few, result):
    # 95 % of 20 is 19 with standard deviation 1.0; three of them down leaves 16. The mean of 20 errors has a standard
    # deviation of 1/sqrt(20) of the error's, which is a quarter of the interval's width: 0.056 of the width, three are 0.17
    found = score([item for item in few if item.result == result])
    assert found.coverage >= 16 / 20
    assert abs(found.bias) < 0.17


@pytest.mark.exhaustive
@pytest.mark.parametrize("result", RESULTS)
def test_interval_holds_the_truth_as_often_as_it_says(outcomes, result):
    # 95 % of 200 is 190 with standard deviation 3.1; three of them either way leaves 181 to 199
    found = score([item for item in outcomes if item.result == result])
    assert 0.905 <= found.coverage <= 0.995
    assert abs(found.bias) < 0.1


@pytest.mark.slow
def test_intervals_are_not_bought_by_width(few):
    # with sensors that have no common errors, ten openings held for six seconds know shut-off to better than 1 %
    free = [item for item in few if item.result == "shut_off" and not item.common]
    assert score(free).half_width < 0.01


def test_a_narrowed_interval_would_be_noticed():
    # the count must be able to fail: intervals of half the width hold 67 % of a normal quantity
    rng = np.random.default_rng(1)
    narrow = [Outcome("r", "k", False, "f", 1.0, 1 + z, 1 + z - 0.98, 1 + z + 0.98) for z in rng.standard_normal(400)]
    assert score(narrow).coverage < 0.8


def test_clopper_pearson_interval_of_a_share():
    # 95 % interval of 95 in 100: 0.8872 to 0.9836 (C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404; value by
    # the beta quantiles of R's binom.test(95, 100))
    made = [Outcome("r", "k", False, "f", 1.0, 1.0, 0.9, 1.1 if k < 95 else 0.95) for k in range(100)]
    assert score(made).coverage_range == pytest.approx((0.8872, 0.9836), abs=1e-4)


def test_generator_of_truth_shares_no_code_with_the_estimation():
    for name in ("sweep_truth.py", "steady_truth.py"):
        tree = ast.parse((HERE / name).read_text("utf-8"))
        imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        imported |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
        assert imported <= {"__future__", "dataclasses", "numpy", "sweep_truth"}


def test_truths_of_the_generator_are_those_of_its_curve():
    # parabola p0 (1 - l x - (1 - l) x^2): largest power from the quadratic formula, apart from the generator's table
    truth = sweep_truth
    source = truth.draw_source(np.random.default_rng(3), "parabola")
    p0, qf = source.p[0], source.q[-1]
    x_half = np.interp(0.5 * qf, source.q, source.p) / p0  # = 1 - l/2 - (1 - l)/4
    linear = 4 * (0.75 - x_half)
    a, b = linear, 1 - linear
    x = (-2 * a + np.sqrt(4 * a**2 + 12 * b)) / (6 * b)
    assert np.max(source.q * source.p) == pytest.approx(p0 * qf * x * (1 - a * x - b * x**2), rel=1e-6)


def test_kept_report_says_how_it_was_made_and_meets_its_requirement():
    text = KEPT.read_text("utf-8")
    sweeps = int(re.search(r"--sweeps (\d+) --seed \d+", text).group(1))
    assert sweeps >= 2000
    table = text.split("## All sweeps")[1].split("##")[0]
    rows = re.findall(r"^\| ([^|]+) \| (\d+) \| ([\d.]+)% [^|]+\| ([+-][\d.]+) \|", table, re.MULTILINE)
    assert [name for name, *_ in rows] == list(RESULTS.values())
    for _, _, coverage, bias in rows:
        assert 93.0 <= float(coverage) <= 97.0
        assert abs(float(bias)) < 0.1
