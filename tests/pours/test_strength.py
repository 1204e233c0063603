"""Strengths referred to one density and age by the builder's own specimens."""

import math
from dataclasses import replace

import numpy as np
import pytest

from frothline.errors import TooFewPoints
from frothline.pours import strength as module
from frothline.pours.entries import DAY
from frothline.pours.outcome import judge_pour
from frothline.pours.record import PourRecord, Specimen
from frothline.pours.strength import fit_strength, strengths, typical_range


def cube(number, density, days, strength):
    return Specimen(number, "cube", (0.1,) * 3, age=days * DAY, mass=density * 1e-3, load=strength * 0.01)


def pour(name, *cubes):
    return PourRecord(name, specimens=tuple(cube(k, *one) for k, one in enumerate(cubes, 1)))


def test_the_published_classes_give_the_exponent_of_a_plain_fit():
    """Strength classes II to VI of lightweight fill in a state's highway specification, section 19-10: lb/ft³ and psi.

    A straight line through the logarithms has the slope 1.947; with class I it has 2.657 (both by numpy).
    """
    classes = ((24, 10), (30, 40), (36, 80), (42, 120), (50, 160), (80, 300))
    for rows, slope in ((classes[1:], 1.9471), (classes, 2.6566)):
        x, y = np.log(np.array(rows, dtype=float)).T
        assert np.polyfit(x, y, 1)[0] == pytest.approx(slope, abs=1e-3)
        assert abs(slope - module.DENSITY_EXPONENT[0]) < module.DENSITY_EXPONENT[1]


def test_without_the_published_exponents_the_fit_is_that_of_numpy(monkeypatch):
    monkeypatch.setattr(module, "DENSITY_EXPONENT", (0.0, 1e6))
    monkeypatch.setattr(module, "AGE_EXPONENT", (0.0, 1e6))
    rng = np.random.default_rng(3)
    pours, rows, logs = [], [], []
    for k in range(3):
        cubes = []
        for density, days in ((560, 7), (600, 28), (640, 28), (590, 56), (610, 7)):
            value = (
                1e6 * (density / 600) ** 2.2 * math.exp(0.1 * k + rng.normal(0, 0.1)) * (math.log(days) / 3.332) ** 1.1
            )
            cubes.append((density, days, value))
            constants = [float(j == k) for j in range(3)]
            rows.append([math.log(density / 600), math.log(math.log(days) / math.log(28)), *constants])
            logs.append(math.log(value))
        pours.append(pour(f"p{k}", *cubes))
    law = fit_strength(pours, density=600.0)
    plain, residual, *_ = np.linalg.lstsq(np.array(rows), np.array(logs), rcond=None)
    assert law.exponents == pytest.approx(plain[:2], rel=1e-6)
    assert law.scatter == pytest.approx(math.sqrt(residual[0] / 10), rel=1e-6)
    assert law.freedom == pytest.approx(10.0, abs=1e-6)


def test_before_six_specimens_there_is_no_comparison_and_literature_does_not_stand_in():
    five = pour("a", *[(600, 28, 0.8e6)] * 5)
    with pytest.raises(TooFewPoints, match="5 specimens with load, age and mass; strengths are compared from 6 on"):
        fit_strength([five])
    assert fit_strength([five, pour("b", (600, 28, 0.9e6))]).referred("b", 28.0) is not None


@pytest.mark.parametrize(
    ("exponent", "builders"),
    [(2.5, 60), *(pytest.param(n, 400, marks=pytest.mark.exhaustive) for n in (1.6, 2.5, 3.4))],
)
def test_the_interval_of_a_referred_strength_holds_the_truth(exponent, builders):
    """Three pours of two to four cubes, densities 10 % apart, cubes that scatter by 12 %."""
    rng = np.random.default_rng(7)
    held = count = 0
    for _ in range(builders):
        truths, pours = {}, []
        for name in "abc":
            truths[name] = 1e6 * math.exp(rng.normal(0, 0.3))
            cubes = []
            for _ in range(int(rng.integers(2, 5))):
                density, days = 600 * math.exp(rng.normal(0, 0.1)), float(rng.choice([7, 28]))
                mean = truths[name] * (density / 600) ** exponent * (math.log(days) / math.log(28)) ** 1.2
                cubes.append((density, days, mean * math.exp(rng.normal(0, 0.12))))
            pours.append(pour(name, *cubes))
        if sum(len(one.specimens) for one in pours) < 6:
            continue
        law = fit_strength(pours, density=600.0)
        for name, truth in truths.items():
            found = law.referred(name, 28.0)
            held += found.lower <= truth <= found.upper
            count += 1
    assert 0.93 <= held / count <= 0.995


def test_cubes_alone_narrow_the_exponent():
    wide = [
        pour(
            "a",
            *[
                (density, 28, 1e6 * (density / 600) ** 2.0 * (1 + 0.02 * (-1) ** k))
                for k, density in enumerate((450, 500, 550, 650, 700, 800))
            ],
        )
    ]
    alike = [pour("a", *[(600, 28, 1e6 * (1 + 0.02 * (-1) ** k)) for k in range(6)])]
    known, unknown = (fit_strength(one).density_exponent for one in (wide, alike))
    assert known.value == pytest.approx(2.0, abs=0.15)
    assert known.standard_uncertainty < 0.2
    assert unknown.value == pytest.approx(module.DENSITY_EXPONENT[0], abs=1e-6)
    assert unknown.standard_uncertainty == pytest.approx(module.DENSITY_EXPONENT[1], rel=1e-6)


def test_an_age_far_from_the_cubes_own_is_marked():
    law = fit_strength([pour("a", *[(600, 7, 0.5e6)] * 6)])
    assert law.referred("a", 28.0).extrapolated
    assert not law.referred("a", 7.0).extrapolated
    assert law.referred("b", 7.0) is None


def test_cylinders_and_cubes_are_not_mixed():
    cylinders = PourRecord(
        "c",
        specimens=tuple(
            Specimen(k, "cylinder", (0.075, 0.15), age=28 * DAY, mass=0.4, load=3000.0) for k in range(1, 4)
        ),
    )
    law = fit_strength([pour("a", *[(600, 28, 0.8e6)] * 6), cylinders])
    assert law.shape == "cube"
    assert any("3 specimens of another shape" in words for words in law.words)


def test_a_range_from_the_literature_is_given_where_it_was_published():
    assert typical_range(600.0) == (1.0e6, 1.5e6)
    assert typical_range(700.0) == pytest.approx((1.25e6, 1.75e6))
    assert typical_range(300.0) is None


def test_measured_strengths_are_means_by_age():
    found = strengths(pour("a", (600, 7, 0.5e6), (600, 7, 0.6e6), (600, 28, 0.9e6)))
    assert list(found) == [7.0, 28.0]
    assert found[7.0].value == pytest.approx(0.55e6)
    assert found[28.0].assumptions == ("one specimen: a scatter of 12 % is assumed",)


def half(*strengths_of_cubes):
    one = strengths(pour("a", *((600, 28, value) for value in strengths_of_cubes)))[28.0]
    return (one.upper - one.value) / one.value


def test_few_cubes_that_agree_by_chance_are_not_sure_and_few_that_differ_are_less():
    """By hand 1.96 · 12 %/√n and 3 % of the measuring; Student's interval of 5, 2 and 14 kN is 4.30 · s/√3 = 221 %."""
    assert half(0.74e6) == pytest.approx(1.96 * math.hypot(0.12, 0.03), rel=1e-3)
    assert 1.96 * math.hypot(0.12 / math.sqrt(2), 0.03) < half(0.41e6, 0.42e6) < 0.3
    assert half(0.5e6, 0.2e6, 1.4e6) > 1.3
    assert strengths(pour("a", (600, 28, 0.5e6), (600, 28, 0.2e6), (600, 28, 1.4e6)))[28.0].lower == 0.0


@pytest.mark.parametrize("scatter", [0.05, 0.12, 0.25])
@pytest.mark.parametrize("n", [2, 3, 6])
def test_the_interval_of_a_measured_strength_holds_the_mean(scatter, n):
    """Cubes of 1 MPa that scatter by less and by more than usual; the common error of 3 % is drawn too."""
    rng = np.random.default_rng(9)
    held = 0
    for _ in range(300):
        common = 1 + 0.03 * rng.normal()
        cubes = [(600, 28, 1e6 * common * max(1 + scatter * rng.normal(), 0.2)) for _ in range(n)]
        one = strengths(pour("a", *cubes))[28.0]
        held += one.lower <= 1e6 <= one.upper
    assert held / 300 >= 0.9


def test_a_cube_that_contradicts_its_cup_is_asked_back_and_bends_no_law():
    """Cup 640 kg/m³; 2.4 kg in 1 L is a kilogram for a gram of another, or another mix."""
    good = [(600, 28, 0.8e6), (590, 28, 0.75e6), (620, 28, 0.85e6), (600, 7, 0.5e6), (610, 7, 0.5e6), (580, 7, 0.45e6)]
    alone = fit_strength([replace(pour("a", *good), cup_density=640.0)])
    record = replace(pour("a", *good, (2400, 28, 0.7e6)), cup_density=640.0)
    law = fit_strength([record])
    assert law.exponents == pytest.approx(alone.exponents)
    assert any("1 specimen not used: the density is not that of the cup" in words for words in law.words)
    assert any("specimen 7 has 2400 kg/m³, and the cup 640 kg/m³" in words for words in judge_pour(record).questions)
