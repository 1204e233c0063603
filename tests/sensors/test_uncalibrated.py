"""What a rotor and a load cell are worth before anybody calibrated them, and that every reader is told."""

from dataclasses import replace

import numpy as np
import pytest
import sensor_boards as boards

from frothline.curve.steady import OnlineSteady
from frothline.errors import InputError, SensorMissing
from frothline.estimate import NOT_CALIBRATED, Z95
from frothline.readings.steady_input import steady_columns
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_file import load, save
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.procedures.flow import FlowByBag, FlowByPlates, ThermalByPlates
from frothline.sensors.series import Status
from frothline.sensors.spool import Spool

FLOWS = ("air_speed", "mass_flow", "line_flow", "free_air_flow", "standard_flow", "air_power")
K = ChannelCalibration(
    "rotor", "Hz", "m3/s", np.array([0.0012, 1 / 9600]), np.diag([1e-10, 1e-14]), 0.0, 1e3, board="bench 1"
)
CELL = ChannelCalibration(
    "scale", "count", "kg", np.array([-1.0, 1e-5]), np.diag([1e-6, 1e-16]), 0.0, 8e6, board="bench 1"
)


def converted(tables, calibration=None, spool=None):
    return Converter(RigDescription.from_tables(tables), calibration, spool).convert(tables)


@pytest.mark.parametrize("frequency", [8.0, 50.0, 400.0])
def test_the_flow_of_a_rotor_that_nobody_calibrated_is_known_to_a_quarter(frequency):
    """+-25 % with 95 %: judgement, no source. It holds for the whole flow, near the start-up speed as well."""
    flow = converted(boards.stream(frequency=frequency))["line_flow"]
    assert 0.25 <= Z95 * flow.u_systematic[-1] / flow.value[-1] < 0.30


@pytest.mark.parametrize("name", FLOWS)
def test_every_flow_says_that_it_is_not_calibrated_until_it_is(name):
    tables = boards.stream()
    assert (converted(tables)[name].status & Status.UNCALIBRATED).all()
    for calibration, spool in (
        (Calibration("bench 1").with_channel(K), None),
        (None, replace(Spool.default(), rotor=replace(Spool.default().rotor, calibrated=True, u_relative=0.01))),
    ):
        made = converted(tables, calibration, spool)[name]
        assert not (made.status & Status.UNCALIBRATED).any()
        assert made.u[-1] < 0.1 * made.value[-1]


def test_another_boards_calibration_does_not_count():
    made = converted(boards.stream(), Calibration("other").with_channel(replace(K, board="other")))
    assert (made["standard_flow"].status & Status.UNCALIBRATED).all()


def test_drilled_plates_need_no_calibration_of_a_rotor():
    drawn = Spool.default()
    plate = replace(drawn, flow=replace(drawn.flow, element="plate"))
    flow = converted(boards.stream(pressure=12e3), spool=plate)["standard_flow"]
    assert not (flow.status & Status.UNCALIBRATED).any()


def test_a_simulated_rig_is_a_calibrated_one():
    for label in ("simulated 7", "sim 0123456789ab", "modelled rig"):
        assert Spool.for_board(label).rotor.calibrated
        assert Spool.for_board(label).scale.calibrated
    for label in ("bench 1", "", "simulated", "my simulated 7"):
        assert Spool.for_board(label) == Spool.default()


# --- the points of a sweep ----------------------------------------------------------------------------------------------


def test_a_steady_point_carries_the_word():
    finder = OnlineSteady()
    finder.feed(**steady_columns(converted(boards.stream(seconds=12.0))))
    finder.finish()
    (point,) = finder.points
    assert NOT_CALIBRATED in point.notes
    assert 1.96 * point.u_flow / point.flow == pytest.approx(0.25, abs=0.02)


# --- the scale ----------------------------------------------------------------------------------------------------------


def weighed(counts=500_000, present=True):
    tables = boards.stream()
    scale = boards.table("scale", 20)
    scale["tick"] = (np.arange(20) + 1) * boards.TICK // 10
    scale["counts"], scale["flags"] = counts, int(present)
    return tables | {"scale": scale}


def test_a_scale_that_nobody_calibrated_gives_counts_and_no_mass():
    out = converted(weighed())
    mass, counts = out["scale_mass"], out["scale_counts"]
    assert np.isnan(mass.value).all()
    assert (mass.status & Status.MISSING).all()
    assert (mass.status & Status.UNCALIBRATED).all()
    assert (counts.value == 500_000).all()
    assert not counts.status.any()


def test_a_zero_alone_makes_no_calibrated_scale():
    out = converted(weighed(), Calibration("bench 1").with_zero("scale", 80_000.0))
    assert np.isnan(out["scale_mass"].value).all()


def test_a_calibrated_scale_gives_its_mass():
    out = converted(weighed(), Calibration("bench 1").with_channel(CELL))
    assert out["scale_mass"].value == pytest.approx(4.0)
    assert not out["scale_mass"].status.any()


def test_a_scale_that_does_not_answer_gives_no_counts():
    out = converted(weighed(present=False))
    assert np.isnan(out["scale_counts"].value).all()


def test_the_counts_of_a_scale_have_no_budget_and_cost_the_others_none():
    """A page lists the budgets of all figures that are known; the counts of an uncalibrated scale are one of them."""
    converter = Converter(RigDescription.from_tables(weighed()))
    with pytest.raises(SensorMissing, match="Calibrate"):
        converter.budget("scale_counts", 500_000.0)


# --- the pulses of a turn -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("procedure", [FlowByBag(), FlowByPlates()])
def test_a_flow_calibration_asks_for_the_pulses_of_a_turn(procedure):
    (asked,) = [one for one in procedure.questions() if one.name == "pulses"]
    assert asked.default is None
    figures = {one.name: 0.5 * (one.low + min(one.high, 0.1)) for one in procedure.questions() if one.name != "pulses"}
    with pytest.raises(InputError, match="pulses"):
        procedure.answer(**figures)
    with pytest.raises(InputError, match="whole number"):
        procedure.answer(**figures, pulses=2.5)
    with pytest.raises(InputError, match="outside"):
        procedure.answer(**figures, pulses=0)
    procedure.answer(**figures, pulses=3)
    (asked,) = [one for one in procedure.questions() if one.name == "pulses"]
    assert asked.default == 3  # asked once


def test_a_thermal_probe_has_no_pulses():
    assert "pulses" not in [one.name for one in ThermalByPlates().questions()]


def test_the_pulses_of_a_turn_are_kept_with_the_calibration_and_used(tmp_path):
    counted = replace(K, pulses_per_revolution=3)
    save(tmp_path / "c.toml", Calibration("bench 1").with_channel(counted))
    back = load(tmp_path / "c.toml")
    assert back.get("rotor").pulses_per_revolution == 3

    drawn = Spool.default()
    uncounted = replace(drawn, rotor=replace(drawn.rotor, pulses_per_revolution=0))  # a rotor out of a fan

    def spacing(calibration):
        """Hz of random error by uneven magnets: none over whole turns."""
        return converted(boards.stream(frequency=300.0), calibration, uncounted)["rotor_frequency"].u_random[-1]

    # 300 Hz at 100 messages a second: three pulses a message, whole turns of three, and a part of a turn of two
    other = Calibration("bench 1").with_channel(replace(K, pulses_per_revolution=2))
    unknown = Calibration("bench 1").with_channel(K)
    assert spacing(back) < 0.02  # the tick of the capture is left
    assert spacing(other) > 20 * spacing(back)
    assert spacing(unknown) > 20 * spacing(back)


@pytest.mark.parametrize("pulses", ["-1", "2.5", '"four"', "true", "1000"])
def test_pulses_that_no_rotor_gives_are_refused_in_a_calibration_file(tmp_path, pulses):
    path = tmp_path / "c.toml"
    save(path, Calibration("bench 1").with_channel(replace(K, pulses_per_revolution=3)))
    path.write_text(path.read_text("utf-8").replace("pulses_per_revolution = 3", f"pulses_per_revolution = {pulses}"))
    with pytest.raises(InputError, match="pulses_per_revolution"):
        load(path)
