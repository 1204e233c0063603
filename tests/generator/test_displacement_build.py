"""What a build does on a pump whose flow is nearly constant: limits of pressure and flow come from q(p)."""

import numpy as np
import pytest
from scipy import optimize

from frothline.curve.blower import BlowerCurve
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import OutsideValidity
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import PressureModel
from frothline.generator.sheet import edit_sheet, parse_sheet, starting_sheet

FREE, TOP = 4e-4, 9e4  # a tyre inflator of 24 L/min, to 90 kPa (common practice, no source)


def inflator(seed, leak):
    rng = np.random.default_rng([27, seed])
    p = np.linspace(1e3, TOP, 10)
    q = FREE * (1 - leak * p / TOP) + 4e-6 * rng.standard_normal(10)
    points = [SteadyPoint.from_parts(float(y), float(x), (100.0, 4e-6, 0.0)) for x, y in zip(q, p, strict=True)]
    return BlowerCurve().fit(points)


def generator(bore):
    return PressureModel(
        parse_sheet(edit_sheet(starting_sheet(), {"outlet.bore": bore}), "sheet").build, OperatingConditions.usual()
    )


@pytest.mark.parametrize("leak", [0.0, 0.02, 0.1])
@pytest.mark.parametrize("bore", ["50 mm", "20 mm", "6 mm"])
def test_pressure_and_flow_on_an_inflator_lie_inside_their_intervals(leak, bore):
    model = generator(bore)
    for seed in range(4):
        found = predict(model, inflator(seed, leak))
        flow, pressure = found.point.flow, found.point.pressure
        assert 0 < pressure.lower < pressure.value < pressure.upper
        # ten points of 1 % each know the flow to well below 5 %; leakage of 10 % may add as much
        assert flow.lower < flow.value < flow.upper < 1.05 * flow.value
        assert flow.lower > 0.9 * flow.value or (bore, leak) == ("6 mm", 0.1)
        assert found.air_rate.lower < found.air_rate.value < found.air_rate.upper


def test_the_limits_through_a_narrow_hose_are_those_of_plain_draws():
    """Through 6 mm the friction of the foam, known to a factor of seven, makes most of the pressure: it takes the pump
    to where leakage takes a sixth of its flow. Each draw moves the model itself and is solved by itself (JCGM 101).
    """
    model, pump = generator("6 mm"), inflator(0, 0.1)
    rng = np.random.default_rng(7)
    values, vectors = np.linalg.eigh(pump.flow_curve.covariance)
    flows = []
    for _ in range(400):
        c = pump.flow_curve.coefficients + vectors @ (np.sqrt(np.maximum(values, 0.0)) * rng.standard_normal(5))
        drawn = model.moved({key: u * rng.standard_normal() for key, u in model.uncertainties.items()})

        def lack(q, c=c, drawn=drawn):
            try:
                return float(np.polyval([min(c[1], 0.0), c[0]], drawn.pressure(q))) - q
            except OutsideValidity:
                return -1.0

        flows.append(optimize.brentq(lack, 1e-6, 1.2 * FREE, rtol=1e-6))
    told = predict(model, pump).point.flow
    # at the limits of 400 draws the share beyond is known to 0.8 %, and an interval is a little wider than 95 %
    for beyond in (np.mean(np.array(flows) < told.lower), np.mean(np.array(flows) > told.upper)):
        assert 0.002 <= beyond <= 0.05


def test_the_pressure_on_an_inflator_is_that_of_the_build_at_the_pump_s_flow():
    model = generator("20 mm")
    found = predict(model, inflator(1, 0.02))
    assert found.point.pressure.value == pytest.approx(model.pressure(found.point.flow.value), rel=0.02)
