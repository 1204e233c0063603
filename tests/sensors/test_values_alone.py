"""Values without uncertainties: the same conversion gives the same values, and calculates no uncertainty of a flow."""

from dataclasses import replace

import numpy as np
import pytest
import sensor_boards as boards

from frothline.numerics.uncertainty import share
from frothline.sensors import flow
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.last_known import LastKnown, carried_or_assumed
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status
from frothline.sensors.spool import Spool

FITTED = boards.FITTED | {"thermal": "thermal_module", "differential": "mpxv7007"}
LINE = {"covariance": np.diag([1e-6, 1e-6]), "low": 0.0, "high": 0.5, "systematic": 1.0}
CALIBRATED = Calibration(
    channels={
        "pressure": ChannelCalibration(
            "pressure", "ratio", coefficients=np.array([-2000.0, 50_000.0]), unit="Pa", **LINE
        )
    }
)


def unsteady():
    """A board whose thermometer and room module are unplugged for a time, and whose rotor stops."""
    tables = boards.stream(seconds=60, fitted=FITTED, differential=400.0)
    tables["slow"]["temperature_sum"][50:] = 1023 * 32
    tables["line"]["pressure_n"][30:33] = 0
    tables["line"]["pulses"][400:] = tables["line"]["pulses"][400]
    tables["line"]["edge_tick"][400:] = tables["line"]["edge_tick"][400]
    return tables


def converted(element, calibration, *, uncertainties):
    spool = Spool.default()
    spool = replace(spool, flow=replace(spool.flow, element=element))
    tables = unsteady()
    described = RigDescription.from_tables(tables)
    return Converter(described, calibration, spool, uncertainties=uncertainties).convert(tables)


@pytest.mark.parametrize("calibration", [None, CALIBRATED], ids=["data sheets", "calibrated"])
@pytest.mark.parametrize("element", ["rotor", "thermal", "orifice", "venturi", "plate"])
def test_values_alone_are_those_of_the_whole_conversion_to_the_last_bit(element, calibration):
    whole = converted(element, calibration, uncertainties=True)
    alone = converted(element, calibration, uncertainties=False)
    assert list(alone) == list(whole)
    for name, series in whole.items():
        for part in ("time", "value", "status"):
            assert getattr(alone[name], part).tobytes() == getattr(series, part).tobytes(), (name, part)
        assert np.isnan(alone[name].u).all()
        assert np.isnan(alone[name].u_systematic).all()
    assert np.isfinite(whole["line_pressure"].u[np.isfinite(whole["line_pressure"].value)]).all()
    assert np.isfinite(whole["mass_flow"].value).any()


def test_values_alone_cost_no_uncertainty_of_a_flow(monkeypatch):
    def asked(*groups):
        raise AssertionError

    monkeypatch.setattr(flow, "added", asked)
    assert len(converted("rotor", None, uncertainties=False)["air_power"]) > 0
    with pytest.raises(AssertionError):
        converted("rotor", None, uncertainties=True)


def read_at_tick_0():
    held = LastKnown()
    held.feed(np.array([0]), Reading(np.array([300.0]), np.zeros(1, np.uint8), (share("x", "systematic", [0.5]),)))
    return held


def test_what_would_be_assumed_is_not_calculated_for_the_value_of_a_fresh_reading():
    def assumed():
        raise AssertionError

    reading, taken = carried_or_assumed(read_at_tick_0(), np.array([1, 9]), 10.0, 100.0, True, assumed, "x")
    assert reading.value.tolist() == [300.0, 300.0]
    assert not taken.any()
    with pytest.raises(AssertionError):
        _ = reading.u


@pytest.mark.parametrize(("assumed", "u"), [((280.0, 2.0), 0.5), ((np.nan, 2.0), np.nan), ((280.0, np.inf), np.nan)])
@pytest.mark.parametrize("tick", [[1, 9], [1, 9, 500]], ids=["fresh", "fresh and old"])
def test_a_fresh_reading_has_one_uncertainty_whether_old_ones_follow_it_or_not(assumed, u, tick):
    """Without a value to assume, how far a reading may be from it is unknown."""
    given = tuple(np.asarray(one) for one in assumed)
    reading, _ = carried_or_assumed(read_at_tick_0(), np.array(tick), 10.0, 100.0, True, lambda: given, "x")
    assert reading.value[:2].tolist() == [300.0, 300.0]
    assert reading.u[:2] == pytest.approx([u, u], nan_ok=True)


def test_no_reading_is_used_before_it_came():
    held = LastKnown()
    held.feed(np.array([100]), Reading(np.array([300.0]), np.zeros(1, np.uint8), (share("x", "systematic", [0.5]),)))
    given = np.asarray(280.0), np.asarray(2.0)
    reading, taken = carried_or_assumed(held, np.array([1, 150]), 60.0, 100.0, True, lambda: given, "x")
    assert np.isnan([reading.value[0], reading.u_systematic[0]]).all()
    assert reading.status.tolist() == [Status.MISSING, 0]
    assert (reading.value[1], reading.u[1], taken.any()) == (300.0, 0.5, False)
