"""Calibrations that must not be kept: readings that did not move, the wrong sign, points far from their line.

The true lines are worked by hand: an MPX5050 gives Vs (0.018 p/kPa + 0.04) (NXP data sheet MPX5050, transfer function),
a metre of water presses 9777 Pa (998.207 kg/m3 less 1.2 of air, 9.80665 m/s2).
"""

import numpy as np
import pytest
import sensor_boards as boards

from frothline.errors import FitError, InputError
from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_check import nominal_lines
from frothline.sensors.calibration_file import load as load_calibration
from frothline.sensors.calibration_file import save
from frothline.sensors.description import RigDescription
from frothline.sensors.procedures.base import Stage
from frothline.sensors.procedures.pressure_and_scale import (
    PROCEDURES,
    AutoZero,
    PressureByWater,
    ScaleByMasses,
    SupplyByMeter,
    ThermistorByIce,
    guided,
)
from frothline.sensors.series import Series, Signal
from frothline.sensors.spool import Spool

METRE = 9777.3  # Pa
NOISE = np.random.default_rng(5)


def ratio(pascal):
    return 0.04 + 0.018e-3 * pascal


def mpx5050(x):
    """What the data sheet says of a reading, Pa."""
    return (x - 0.04) / 0.018e-3


def signal(channel, value, seconds=6.0, noise=2e-5):
    t = np.arange(int(seconds * 50)) / 50
    return {channel: Signal(t, value + NOISE.normal(0, noise, t.size))}


def hold(procedure, value, noise=2e-5, seconds=6.0, **answers):
    """Answer and hold; gives the words of a refusal, empty where the point was taken."""
    if procedure.stage is Stage.CHOOSE:
        procedure.again()
    before = len(procedure.points)
    procedure.answer(**answers)
    procedure.feed(signal(procedure.channel, value, seconds, noise), {})
    assert procedure.stage is not Stage.HOLD
    return "" if len(procedure.points) > before else procedure.prompt().problem


@pytest.mark.parametrize("expected", [None, mpx5050])
def test_a_point_whose_reading_did_not_move_is_refused_with_both_figures(expected):
    """The hose has come off the tap: the levels are blown apart, and the sensor goes on reading the room."""
    procedure = PressureByWater(expected=expected)
    assert hold(procedure, ratio(0.0), height=0.0) == ""
    refused = hold(procedure, ratio(0.0), height=0.3)
    assert "did not change" in refused
    assert "2933 Pa" in refused  # 0.3 m of water
    assert procedure.stage is Stage.CHOOSE  # another point, or drop the first one
    assert len(procedure.points) == 1
    assert hold(procedure, ratio(0.3 * METRE), height=0.3) == ""


def test_a_reading_that_creeps_by_a_fiftieth_of_what_the_data_sheet_says_did_not_move():
    procedure = PressureByWater(expected=mpx5050)
    assert hold(procedure, ratio(0.0), height=0.0) == ""
    assert "did not change" in hold(procedure, ratio(0.02 * 0.3 * METRE), height=0.3)


def test_a_reading_that_falls_where_the_pressure_rises_is_refused():
    """A level typed for the wrong leg, or the hose on the other port."""
    procedure = PressureByWater(expected=mpx5050)
    assert hold(procedure, ratio(0.2 * METRE), height=0.2) == ""
    refused = hold(procedure, ratio(0.05 * METRE), height=0.5)
    assert "fell" in refused
    assert "drop" in refused


def test_a_load_cell_wired_the_other_way_round_is_no_fault():
    """Its counts fall as the mass rises: the line is as good, and the scale reads right with it."""
    procedure = ScaleByMasses()
    for mass in (0.0, 1.0, 5.0, 10.0):
        assert hold(procedure, 80000 - 83886 * mass, noise=20.0, mass=mass) == ""
    assert procedure.finish().coefficients[1] == pytest.approx(-1 / 83886, rel=1e-3)


def test_masses_on_a_scale_whose_plug_is_out_are_refused():
    procedure = ScaleByMasses(expected=lambda x: x / 83886)
    assert hold(procedure, 80000.0, noise=20.0, mass=0.0) == ""
    refused = hold(procedure, 80010.0, noise=20.0, mass=5.0)
    assert "did not change" in refused
    assert " counts)" in refused


def test_heights_that_are_all_alike_make_no_line():
    procedure = PressureByWater(expected=mpx5050)
    for _ in range(3):
        assert hold(procedure, ratio(0.0) + NOISE.normal(0, 1e-5), height=0.0) == ""
    with pytest.raises(FitError, match="nearly equal"):
        procedure.finish()
    assert procedure.stage is Stage.CHOOSE


def test_a_line_that_misses_its_points_by_a_third_of_the_range_is_refused_and_names_the_worst():
    """0.1 m and 0.4 m typed the wrong way round; each point by itself goes the right way from the first."""
    procedure = PressureByWater(expected=mpx5050)
    for height, typed in ((0.0, 0.0), (0.1, 0.4), (0.5, 0.55), (0.52, 0.12)):
        procedure.stage = Stage.ASK
        procedure.answer(height=typed)
        procedure.points.append(_point(ratio(height * METRE), typed * METRE))
        procedure.stage = Stage.CHOOSE
    with pytest.raises(FitError, match="point 4"):
        procedure.finish()
    assert procedure.stage is Stage.CHOOSE
    assert len(procedure.points) == 4


def _point(x, y):
    from frothline.sensors.procedures.base import Point

    return Point(x, 2e-5, y, 8.0)


def test_a_slope_twenty_times_that_of_the_data_sheet_is_refused():
    """Heights in centimetres typed as metres, small enough to pass as heights."""
    procedure = PressureByWater(expected=mpx5050)
    for height in (0.0, 0.01, 0.02, 0.05):
        hold(procedure, ratio(height * METRE), height=min(100 * height, 6.0))
    with pytest.raises(FitError):
        procedure.finish()


def test_an_honest_line_with_a_poor_hand_is_still_taken():
    """3 mm of reading error at each level, a sensor 5 % off its data sheet: wide, and right."""
    procedure = PressureByWater(expected=mpx5050)
    for height, off in ((0.0, 0.0), (0.1, 3e-3), (0.2, -3e-3), (0.35, 3e-3), (0.5, -3e-3)):
        assert hold(procedure, ratio(1.05 * height * METRE), height=height + off) == ""
    line = procedure.finish()
    found = line.evaluate(np.array([ratio(1.05 * 3000.0)]))
    assert abs(found.value[0] - 3000.0) < 3 * found.u[0] + 30.0


def test_ice_and_ice_again_is_no_warm_point():
    procedure = ThermistorByIce(expected=lambda x: x)
    assert hold(procedure, 1 / 273.4, noise=1e-8, seconds=11.0) == ""
    assert "did not change" in hold(procedure, 1 / 273.5, noise=1e-8, seconds=11.0, temperature=323.15)


def test_a_meter_reading_that_no_chip_can_have_is_refused():
    """The bandgap of an ATmega328P is 1.0 to 1.2 V (data sheet, table of analog comparator; from memory)."""
    procedure = SupplyByMeter()
    assert "1.0 to 1.2 V" in hold(procedure, 5.0 / 1.1, noise=1e-4, volts=4.0)
    assert hold(procedure, 5.0 / 1.1, noise=1e-4, volts=5.0) == ""


def test_a_zero_far_from_what_the_data_sheet_calls_zero_is_refused():
    """6.7 kPa in the line: no MPX5050, good to +-2.5 % of 50 kPa, reads that with the air at rest."""
    procedure = guided("zero", RigDescription.from_tables(boards.description()), Spool.default(), channel="pressure")
    refused = hold(procedure, ratio(6700.0))
    assert "6.7 kPa" in refused
    assert procedure.stage is Stage.ASK
    assert hold(procedure, ratio(300.0)) == ""


def test_a_zero_is_not_taken_while_air_moves_through_the_spool():
    procedure = AutoZero(which="pressure")
    procedure.answer()
    zero = np.zeros(10)
    moving = {"air_speed": Series("air_speed", "m/s", zero, np.full(10, 4.0), zero, zero.astype(np.uint8))}
    procedure.feed(signal("pressure", ratio(100.0)), moving)
    assert procedure.stage is Stage.HOLD
    assert "still moving" in procedure.prompt().problem
    procedure.feed(signal("pressure", ratio(0.0)), {})
    assert procedure.stage is Stage.CHOOSE


def test_each_channel_that_is_calibrated_has_the_line_of_its_data_sheet():
    description = RigDescription.from_tables(boards.description())
    lines = nominal_lines(description, Spool.default())
    assert {"pressure", "scale", "supply", "temperature"} <= set(lines)
    assert lines["temperature"](np.array([1 / 300])) == pytest.approx(1 / 300)
    assert set(PROCEDURES) >= {"pressure", "zero"}


# --- the previous one ---------------------------------------------------------------------------------------------------


def line(slope, **more):
    return ChannelCalibration(
        "pressure", "ratio", "Pa", np.array([0.0, slope]), np.diag([1.0, 1.0]), 0.0, 1.0, board="bench 1", **more
    )


def test_the_previous_line_is_kept_in_the_file_and_can_be_taken_back_and_forth(tmp_path):
    path = tmp_path / "calibration.toml"
    first = Calibration("bench 1").with_channel(line(1.0, date="2026-05-01"))
    save(path, first)
    save(path, load_calibration(path).with_channel(line(2.0, date="2026-05-02")))
    kept = load_calibration(path)
    assert kept.previous["pressure"].line.date == "2026-05-01"
    save(path, kept.taken_back("pressure"))
    back = load_calibration(path)
    assert back.channels["pressure"].coefficients[1] == 1.0
    assert back.previous["pressure"].line.coefficients[1] == 2.0
    assert back.taken_back("pressure").channels["pressure"].coefficients[1] == 2.0


def test_before_the_first_calibration_there_were_the_figures_of_the_data_sheet(tmp_path):
    path = tmp_path / "calibration.toml"
    save(path, Calibration("bench 1").with_channel(line(1.0)))
    assert load_calibration(path).previous["pressure"].line is None
    save(path, load_calibration(path).taken_back("pressure"))
    back = load_calibration(path)
    assert back.channels == {}
    assert back.previous["pressure"].line.coefficients[1] == 1.0
    save(path, back.taken_back("pressure"))
    assert load_calibration(path).channels["pressure"].coefficients[1] == 1.0


def test_a_zero_is_taken_back_as_it_was(tmp_path):
    path = tmp_path / "calibration.toml"
    first = Calibration("bench 1").with_zero("pressure", 0.0402)
    save(path, first)
    save(path, load_calibration(path).with_zero("pressure", 0.2))
    save(path, load_calibration(path).taken_back("pressure"))
    assert load_calibration(path).zeros == {"pressure": 0.0402}
    twice = load_calibration(path).taken_back("pressure")
    assert twice.zeros == {"pressure": 0.2}


def test_a_zero_that_went_with_a_line_comes_back_with_the_line_before(tmp_path):
    path = tmp_path / "calibration.toml"
    save(path, Calibration("bench 1").with_channel(line(1.0)).with_zero("pressure", 0.05).with_channel(line(2.0)))
    save(path, load_calibration(path).taken_back("pressure"))
    back = load_calibration(path)
    assert back.zeros == {"pressure": 0.05}
    assert back.channels["pressure"].coefficients[1] == 1.0


def test_what_has_no_previous_one_says_so():
    with pytest.raises(InputError, match="no previous calibration of rotor"):
        Calibration("bench 1").taken_back("rotor")


def test_the_previous_one_changes_no_figure_and_so_no_stamp():
    plain = Calibration("bench 1", {"pressure": line(2.0)})
    assert Calibration("bench 1").with_channel(line(2.0)).stamp == plain.stamp


def test_a_previous_table_that_is_not_right_is_named(tmp_path):
    path = tmp_path / "calibration.toml"
    path.write_text('format = 1\n[previous.pressure]\nzero = "x"\n', "utf-8")
    with pytest.raises(InputError, match=r"previous\.pressure"):
        load_calibration(path)
    path.write_text("format = 1\n[previous]\npressure = 3\n", "utf-8")
    with pytest.raises(InputError, match=r"previous\.pressure"):
        load_calibration(path)
