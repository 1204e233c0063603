"""What bad input gets: recognised, named in a builder's words, and nothing of it thrown away."""

from dataclasses import replace

import numpy as np
import pytest
import sensor_boards as boards

from frothline.sensors.calibration import Calibration, ChannelCalibration
from frothline.sensors.calibration_plausibility import look_at_calibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.plausibility import look_at_samples
from frothline.sensors.spool import Spool
from frothline.sensors.sweep_plausibility import compare_flows, look_at_sweep
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.wire import decode_all


def series_of(url, seconds=70.0, fault="", at=5.0):
    """What a simulated rig sends, with a fault that begins in the middle."""
    rig = ModelledRig(read_url(url))
    rig.board.start()
    data = rig.run(at)
    if fault:
        rig.control("fault", fault)
    data += rig.run(seconds - at)
    tables = decode_all(data).tables
    return Converter(RigDescription.from_tables(tables)).convert(tables)


def first_of(series, seconds):
    n = int(np.searchsorted(series.time, seconds))
    return replace(series, time=series.time[:n], value=series.value[:n], u=series.u[:n], status=series.status[:n])


def converted(tables, **more):
    return Converter(RigDescription.from_tables(tables), **more).convert(tables)


def codes(findings):
    return {finding.code for finding in findings}


@pytest.fixture(scope="module")
def sound():
    return series_of("modelled://sweep?seed=3")


def test_a_sound_sweep_is_not_complained_of(sound):
    assert look_at_sweep(sound) == []


@pytest.mark.parametrize(
    "seeds", [pytest.param([20], marks=pytest.mark.slow), pytest.param([21, 22, 23], marks=pytest.mark.exhaustive)]
)
@pytest.mark.parametrize(
    "scenario",
    [
        "sweep",
        pytest.param("sweep-hump", marks=pytest.mark.exhaustive),
        "sweep-displacement",
        pytest.param("sweep-compressor", marks=pytest.mark.exhaustive),
    ],
)
def test_no_sound_rig_is_complained_of(scenario, seeds):
    """Four rigs for each kind of source: a finding that cries wolf is worse than none."""
    for seed in seeds:
        found = [
            f for f in look_at_sweep(series_of(f"modelled://{scenario}?seed={seed}", 80)) if f.severity == "warning"
        ]
        assert found == [], (scenario, seed)


@pytest.mark.parametrize("seconds", [10, 14, 18, 25, 40])
def test_a_sound_sweep_is_not_complained_of_while_it_goes_on(sound, seconds):
    """Near shut-off the curve is level: the flow moves and the pressure hardly does."""
    so_far = {name: first_of(series, seconds) for name, series in sound.items()}
    found = look_at_sweep(so_far, running=True)
    assert [one for one in found if one.code.startswith("tap")] == []


@pytest.mark.parametrize(
    "seeds", [pytest.param([40], marks=pytest.mark.slow), pytest.param([41, 42], marks=pytest.mark.exhaustive)]
)
@pytest.mark.parametrize(
    "scenario",
    [
        pytest.param("steady", marks=pytest.mark.exhaustive),
        "run",
        "generator-wet",
        pytest.param("idle", marks=pytest.mark.exhaustive),
    ],
)
def test_samples_of_sound_rigs_are_not_complained_of(scenario, seeds):
    for seed in seeds:
        assert look_at_samples(series_of(f"modelled://{scenario}?seed={seed}", 60)) == [], (scenario, seed)


@pytest.mark.parametrize(
    ("fault", "code", "words"),
    [
        ("tap_blocked", "tap-sluggish", "Blow it through"),
        ("board_supply_sag", "supply-sagging", "USB cable"),
        ("rotor_unplugged", "rotor-silent", "plug"),
        ("pressure_unplugged", "sensor-silent", "plug"),
        ("temperature_unplugged", "sensor-silent", "plug"),
    ],
)
def test_a_fault_of_the_simulated_rig_is_named(fault, code, words):
    series = series_of("modelled://sweep?seed=2", 60, fault)
    found = [finding for finding in look_at_sweep(series) if finding.code == code]
    assert found
    assert words in found[0].remedy
    # Nothing is thrown away: every message still has its row.
    assert len(series["line_pressure"]) >= 5990


@pytest.mark.parametrize("scenario", ["run", "steady"])
def test_a_rotor_that_spins_up_on_a_line_left_alone_does_not_accuse_the_tap(scenario):
    """Nobody moves a throttle: pressure stands rightly, and the flow's first seconds are the rotor's."""
    found = codes(look_at_sweep(series_of(f"modelled://{scenario}?seed=1", 40)))
    assert not {"tap-blocked", "tap-sluggish"} & found


def test_a_tap_that_is_quite_closed_is_named():
    tables = boards.stream(
        seconds=30, pressure=300.0, frequency=lambda t: 50 + 150 * (1 + np.sin(2 * np.pi * t / 10)), start_tick=5
    )
    assert "tap-blocked" in codes(look_at_sweep(converted(tables)))


def test_a_vane_fitted_backwards_is_told_by_a_known_curve(sound):
    """The same source swept with the vane turned round: at the same pressures it reads less, evenly."""
    turned = series_of("modelled://sweep?seed=3", fault="rotor_backwards", at=0.5)
    p, q = sound["line_pressure"].value, sound["standard_flow"].value
    good = np.isfinite(p) & np.isfinite(q) & (q > 0)
    curve = np.polynomial.Polynomial.fit(p[good], q[good], 4)
    known = np.isfinite(turned["standard_flow"].value)
    found = compare_flows(
        turned["standard_flow"].value[known],
        curve(turned["line_pressure"].value[known]),
        0.02,
        "the curve of the last sweep at the same pressure",
    )
    assert codes(found) == {"flow-backwards"}
    assert "arrow" in found[0].remedy
    # And a vane the right way round is not blamed.
    assert compare_flows(q[good], curve(p[good]), 0.02, "the curve") == []


def test_a_leak_is_not_taken_for_a_vane_the_wrong_way_round():
    reference = np.linspace(0.005, 0.05, 40)
    found = compare_flows(reference - 0.004, reference, 0.02, "the plates")
    assert codes(found) == {"flow-disagrees"}
    assert "leak" in found[0].what


def test_an_orifice_with_its_hoses_swapped_is_named():
    fitted = {k: v for k, v in boards.FITTED.items() if k != "rotor"} | {"differential": "mpxv7002"}
    tables = boards.stream(seconds=20, fitted=fitted, differential=lambda t: -60.0 * t)
    found = [f for f in look_at_samples(converted(tables)) if f.code == "flow-backwards"]
    assert found
    assert "Swap the hoses" in found[0].remedy


def test_plugs_of_two_pressure_sensors_swapped_are_named_at_rest():
    """An MPXV7002 (half the supply at zero) on the MPX5050's input reads 25.6 kPa with the air at rest."""
    tables = boards.stream(seconds=10, pressure=25_556.0, frequency=0.0)
    found = [f for f in look_at_samples(converted(tables)) if f.code == "pressure-wrong-sensor"]
    assert found
    assert "swapped" in found[0].remedy


def test_a_pressure_sensor_on_the_thermometers_input_is_named():
    tables = boards.stream(seconds=20)
    jumping = 0.04 + 0.3 * (np.arange(100) // 3 % 2)
    tables["slow"]["temperature_sum"] = np.rint(jumping * 1024 * 32)
    assert "channels-swapped" in codes(look_at_samples(converted(tables)))


def test_a_throttle_before_the_spool_is_named():
    """Along a fixed outlet pressure rises with the square of the flow: no blower's curve does."""
    tables = boards.stream(
        seconds=40, pressure=lambda t: 8000 * (t / 40) ** 2, frequency=lambda t: 20 + 380 * np.asarray(t) / 40
    )
    found = [f for f in look_at_sweep(converted(tables)) if f.code == "pressure-rises-with-flow"]
    assert found
    assert "after the spool" in found[0].remedy


@pytest.mark.parametrize(
    ("pressure", "frequency", "end"),
    [(19e3, 0.0, "shut-off"), (500.0, 500.0, "free delivery"), (9e3, 300.0, "one opening")],
)
def test_a_sweep_that_never_left_one_end_says_which(pressure, frequency, end):
    found = [f for f in look_at_sweep(converted(boards.stream(10, pressure, frequency))) if f.code == "sweep-one-end"]
    assert len(found) == 1
    assert end in found[0].what


def test_half_a_sweep_says_what_is_missing():
    tables = boards.stream(30, lambda t: 20e3 - 200 * t, lambda t: 3 + 5 * np.asarray(t))
    found = [f for f in look_at_sweep(converted(tables)) if f.code == "sweep-short"]
    assert any("high flow" in f.what for f in found)


# --- calibrations -------------------------------------------------------------------------------------------------------

DESCRIPTION = RigDescription.from_tables(boards.stream())


def line(channel, low, high, *coefficients, unit="Pa", board="bench 1"):
    size = len(coefficients)
    return ChannelCalibration(channel, "", unit, np.array(coefficients), np.eye(size), low, high, board=board)


# The data sheet's own line: P = (x - 0.04)/0.018e-3.
GOOD = line("pressure", 0.04, 0.5, -0.04 / 0.018e-3, 1 / 0.018e-3)


def look(*channels, board="bench 1"):
    calibration = Calibration(board, {channel.channel: channel for channel in channels})
    return look_at_calibration(calibration, DESCRIPTION, Spool.default())


def test_a_calibration_near_the_data_sheet_is_not_complained_of():
    better = replace(GOOD, coefficients=GOOD.coefficients * 1.03)
    assert look(better) == []


@pytest.mark.parametrize(
    ("size", "name"),
    [(1e-3, "kPa"), (1e-2, "mbar"), (1 / 9.80665, "mmH2O"), (1 / 249.08891, "inH2O"), (1 / 6894.757, "psi")],
)
def test_a_calibration_in_the_wrong_unit_is_named_with_the_unit_it_looks_like(size, name):
    """Factors of NIST SP 811, appendix B."""
    found = look(replace(GOOD, coefficients=GOOD.coefficients * size))
    assert codes(found) == {"calibration-unit"}
    assert name in found[0].what


@pytest.mark.parametrize(("size", "name"), [(1000, "L/s"), (3600, "m3/h"), (2118.88, "cfm")])
def test_a_flow_calibration_in_the_wrong_unit_is_named(size, name):
    found = look(line("rotor", 50.0, 500.0, 0.0012 * size, size / 9600, unit="m3/s"))
    assert codes(found) == {"calibration-unit"}
    assert name in found[0].what


def test_a_scale_calibrated_in_grams_is_named():
    found = look(line("scale", 80e3, 500e3, -0.95e3, 1e3 / 83886, unit="kg"))
    assert "look like g instead of kg" in found[0].what


def test_a_calibration_of_another_board_is_named_and_not_used():
    found = look(replace(GOOD, board="bench 2"), board="bench 2")
    assert codes(found) == {"calibration-other-board"}
    assert "bench 2" in found[0].what
    assert "bench 1" in found[0].what
    tables = boards.stream()
    other = Calibration("bench 2", {"pressure": replace(GOOD, board="bench 2", coefficients=GOOD.coefficients * 2)})
    converter = Converter(RigDescription.from_tables(tables), other)
    assert converter.refused == ("pressure",)
    assert converter.convert(tables)["line_pressure"].value[-1] == pytest.approx(10e3, abs=5)


def test_a_calibration_upside_down_is_named():
    assert codes(look(replace(GOOD, coefficients=-GOOD.coefficients))) == {"calibration-sign"}


def test_a_calibration_of_another_part_is_named():
    """An MPX5010's line on the MPX5050: five times too small, and no unit is."""
    assert codes(look(line("pressure", 0.04, 0.5, -0.04 / 0.09e-3, 1 / 0.09e-3))) == {"calibration-far"}
