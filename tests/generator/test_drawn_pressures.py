"""The pressure model in many draws of its factors at once, against the same factors in one model after another."""

import numpy as np
import pytest
from builds import FIRST

from frothline.errors import OutsideValidity
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.pressure_model import BEYOND, PressureModel

HOLES = FIRST.tube.holes
BUILDS = {
    "hose, all holes covered": FIRST.with_entry("outlet.hose", 1.5),
    "half of the holes covered": FIRST.with_entry("tube.under_liquid", HOLES // 2),
    "few of the holes covered": FIRST.with_entry("tube.under_liquid", 3),
    "nearly all holes covered": FIRST.with_entry("tube.under_liquid", HOLES - 1),
    "no hole covered": FIRST.with_entry("tube.under_liquid", 0),
    "cone": FIRST.with_entry("outlet.shape", "cone").with_entry("outlet.length", 0.1),
    "small holes": FIRST.with_entry("tube.hole", 0.001),
}


@pytest.mark.parametrize("wet", [True, False], ids=["wet", "dry"])
@pytest.mark.parametrize("build", BUILDS.values(), ids=BUILDS)
def test_each_draw_has_the_pressure_of_a_model_with_its_factors(build, wet):
    model = PressureModel(build, OperatingConditions.usual(wet=wet)).moved({"holes": 0.1, "packing": -0.2})
    rng = np.random.default_rng(1)
    shifts = {key: 1.5 * u * rng.standard_normal(40) for key, u in model.uncertainties.items()}
    flows = np.array([5e-4, 4e-3, 0.012, 0.03])
    found = model.drawn(shifts, flows)
    compared = 0
    for k, row in enumerate(found):
        one = model.moved({key: float(shift[k]) for key, shift in shifts.items()})
        for q, p in zip(flows, row, strict=True):
            try:
                true = one.pressure(float(q))
            except OutsideValidity:
                assert p > 200e3
            else:
                assert p == pytest.approx(true, rel=1e-8)
                compared += 1
    assert compared > 100


def test_a_draw_beyond_the_range_of_the_model_has_a_pressure_that_no_source_gives():
    model = PressureModel(FIRST, OperatingConditions.usual())
    found = model.drawn({"wetting": np.array([0.0, 30.0, 700.0])}, np.array([0.01]))[:, 0]
    assert found[0] == pytest.approx(model.pressure(0.01), rel=1e-12)
    assert 1e5 < found[1] <= BEYOND
    assert 1e5 < found[2] <= BEYOND


def test_without_an_error_there_is_one_draw():
    model = PressureModel(FIRST, OperatingConditions.usual())
    flows = np.array([0.004, 0.01])
    assert model.drawn({}, flows) == pytest.approx(np.array([[model.pressure(q) for q in flows]]), rel=1e-12)
