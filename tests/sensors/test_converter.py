"""From tables to series: one clock, any cutting into batches, boards that start anew, sensors that come and go."""

import numpy as np
import pytest
import sensor_boards as boards
from hypothesis import given, settings
from hypothesis import strategies as st

from frothline.errors import SensorMissing, SensorOutOfRange
from frothline.physics import air
from frothline.sensors.budget_builder import BudgetConditions
from frothline.sensors.calibration import Calibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.series import UNITS, Status
from frothline.sensors.spool import Spool
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.wire import decode_all

CALIBRATED = Spool.for_board("simulated 1")  # else the K of a rotor that nobody measured covers every other doubt


def convert(tables, **more):
    return Converter(RigDescription.from_tables(tables), **{"spool": CALIBRATED, **more}).convert(tables)


def test_every_series_has_its_si_unit_and_the_fast_ones_share_their_time():
    out = convert(boards.stream())
    assert set(out) == set(UNITS) - {"scale_mass", "scale_counts"}
    for name, series in out.items():
        assert series.unit == UNITS[name]
        assert len(series.time) == len(series.value) == len(series.u) == len(series.status)
    assert np.array_equal(out["line_pressure"].time, out["standard_flow"].time)


def test_the_flow_of_a_known_rotor_at_a_known_state():
    """9600 pulses a cubic metre: 300 Hz and 0.4 m/s of start-up over 63 mm are 31.25 + 1.247 L/s at line state."""
    out = convert(boards.stream(pressure=12e3))
    area = np.pi / 4 * 0.063**2
    flow = 300 / 9600 + 0.4 * area
    last = {name: series.value[-1] for name, series in out.items()}
    assert last["line_flow"] == pytest.approx(flow, rel=1e-4)
    assert last["air_speed"] == pytest.approx(flow / area, rel=1e-4)
    density = air.line_density(
        last["line_temperature"],
        last["line_pressure"],
        last["ambient_temperature"],
        last["ambient_pressure"],
        last["ambient_humidity"],
    )
    assert last["mass_flow"] == pytest.approx(density * flow, rel=1e-4)
    assert last["standard_flow"] == pytest.approx(density * flow / 1.2, rel=1e-4)
    free = air.density(last["ambient_temperature"], last["ambient_pressure"], last["ambient_humidity"])
    assert last["free_air_flow"] == pytest.approx(density * flow / free, rel=1e-4)
    assert last["air_power"] == pytest.approx(last["line_pressure"] * last["standard_flow"], rel=1e-12)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 5 * boards.TICK), max_size=12), st.sampled_from([0, 2**32 - 3 * boards.TICK]))
def test_it_does_not_matter_how_a_stream_is_cut(ticks, start):
    """Live (a few messages at a time) and from a file (all at once) give the same, bit for bit, over a clock wrap too."""
    tables = boards.stream(frequency=lambda t: np.where(t < 2, 40 + 30 * t, 100.0), start_tick=start)
    whole = boards.joined([convert(tables)])
    converter = Converter(RigDescription.from_tables(tables), spool=CALIBRATED)
    pieces = boards.joined([converter.convert(piece) for piece in boards.cut(tables, ticks, start)])
    assert whole.keys() == pieces.keys()
    for name, columns in whole.items():
        for ours, theirs in zip(columns, pieces[name], strict=True):
            # Time alone may hang on what the first batch held.
            if ours is columns[0]:
                assert np.allclose(np.diff(ours), np.diff(theirs), rtol=0, atol=1e-9)
            else:
                assert np.array_equal(ours, theirs, equal_nan=True), name


def test_time_runs_on_over_the_wrap_of_the_board_clock():
    tables = boards.stream(start_tick=2**32 - 2 * boards.TICK)
    time = convert(tables)["line_pressure"].time
    assert np.all(np.diff(time) > 0)
    assert time[-1] - time[0] == pytest.approx(4.99, abs=1e-6)


def test_a_board_that_starts_anew_goes_on_after_the_old_time():
    first, second = boards.stream(seconds=3, start_tick=50 * boards.TICK), boards.stream(seconds=2)
    second |= boards.description(boot=2)
    for out in (
        boards.joined([convert(boards.as_sent(first, second))]),
        boards.joined([(c := Converter(RigDescription.from_tables(first))).convert(first), c.convert(second)]),
    ):
        time, pressure, _, _ = out["line_pressure"]
        assert np.all(np.diff(time) > 0)
        assert time[-1] == pytest.approx(5.0, abs=0.05)
        assert np.all(np.isfinite(pressure))
        _, frequency, _, _ = out["rotor_frequency"]
        # Counts that begin anew are not taken for four thousand million edges.
        assert np.nanmax(frequency) < 310


def running_down(at, before):
    """Hz of a vane whose air stops at that time: it follows the air within a distance, so it coasts down."""
    return lambda t: np.where(t < at, before, (f := before * np.exp(-np.maximum(t - at, 0.0) / 0.5)) * (f > 2.0))


def test_a_stopped_rotor_is_reported_as_such_and_not_as_its_last_speed():
    out = convert(boards.stream(seconds=8, frequency=running_down(2.0, 200.0)))
    frequency, flow = out["rotor_frequency"], out["line_flow"]
    moving, standing = frequency.time < 1.9, frequency.time > 5.8
    assert frequency.value[moving][50:] == pytest.approx(200.0, rel=1e-3)
    assert np.all(frequency.value[standing] == 0)
    assert np.all(frequency.status[standing] & Status.STOPPED)
    assert not np.any(frequency.status & Status.SILENT)
    assert np.all(flow.value[standing] == 0)
    # What a standing vane tells: below 0.4 m/s, evenly.
    assert flow.u[-1] == pytest.approx(0.4 * np.pi / 4 * 0.063**2 / np.sqrt(3), rel=1e-6)


def test_edges_that_break_off_while_the_rotor_spins_are_no_still_air():
    """A plug that is pulled: no vane with its mass stands from one edge to the next."""
    tables = boards.stream(seconds=4, frequency=lambda t: np.where(t < 1, 100.0, 0.0))
    out = convert(tables)
    frequency, flow = out["rotor_frequency"], out["standard_flow"]
    before, after = (flow.time > 0.2) & (flow.time < 1.0), flow.time > 1.1
    for series in (frequency, flow):
        assert np.all(np.isnan(series.value[after]))
        assert np.all(series.status[after] & Status.SILENT)
        assert np.all(series.status[after] & Status.MISSING)
        assert not np.any(series.status[after] & Status.STOPPED)
    # and on the way there no flow is shown that never was
    known = np.isfinite(flow.value) & (flow.time > 0.2)
    assert flow.value[known] == pytest.approx(np.mean(flow.value[before]), rel=0.02)
    pieces = boards.cut(tables, [k * boards.TICK // 10 + 7 for k in range(1, 40)])
    converter = Converter(RigDescription.from_tables(pieces[0]))
    status = boards.joined([converter.convert(piece) for piece in pieces])["rotor_frequency"][3]
    assert np.array_equal(status, frequency.status)


def test_a_rotor_plugged_in_again_is_read_again():
    out = convert(boards.stream(seconds=6, frequency=lambda t: np.where((t < 1) | (t > 4), 100.0, 0.0)))
    again = out["rotor_frequency"].time > 4.1
    assert out["rotor_frequency"].value[again] == pytest.approx(100.0, rel=2e-3)
    assert not np.any(out["rotor_frequency"].status[again] & Status.SILENT)


def simulated(then, seconds=(8.0, 6.0), scenario="steady"):
    """Series of a simulated rig before and after ``then(world)``; its physical model knows nothing of converters."""
    rig = ModelledRig(read_url(f"modelled://{scenario}?seed=2&speed=0"))
    rig.board.start()
    first = rig.run(seconds[0])
    then(rig.world)
    tables = decode_all(first + rig.run(seconds[1])).tables
    return Converter(RigDescription.from_tables(tables)).convert(tables)


@pytest.mark.parametrize("what", ["shut", "off"])
def test_a_simulated_vane_runs_down_when_the_air_stops_and_is_not_taken_for_unplugged(what):
    stop = {
        "shut": lambda world: world.control("throttle", 0.0),
        "off": lambda world: world.control("motor", 0),
    }[what]
    out = simulated(stop, (8.0, 20.0))
    assert not np.any(out["rotor_frequency"].status & Status.SILENT)
    assert out["standard_flow"].value[-1] < 0.2 * out["standard_flow"].value[700]


def test_a_simulated_rotor_that_is_unplugged_leaves_the_flow_unknown():
    flow = simulated(lambda world: world.control("fault", "rotor_unplugged"))["standard_flow"]
    assert np.all(np.isnan(flow.value[flow.time > 8.6]))
    assert np.all(flow.status[flow.time > 8.6] & Status.SILENT)


@pytest.mark.parametrize(
    "name", ["temperature_unplugged", pytest.param("ambient_unplugged", marks=pytest.mark.exhaustive)]
)
def test_a_simulated_thermometer_that_is_unplugged_moves_no_figure_but_makes_it_less_sure(name):
    flow = simulated(lambda world: world.control("fault", name), (20.0, 90.0))["free_air_flow"]
    before = float(np.mean(flow.value[(flow.time > 14) & (flow.time < 20)]))
    tick = np.convolve(flow.value[flow.time > 14], np.ones(50) / 50, mode="valid")
    # The source goes on, so the truth has not moved either. The last reading goes over to the usual temperature, which
    # lies 13 K (4 %) from it here, with a time constant of minutes.
    assert tick == pytest.approx(before, rel=0.015)
    late = flow.time > 40
    assert np.all(flow.status[late] & Status.SILENT)
    assert np.all(flow.status[late] & Status.STALE)
    if name == "temperature_unplugged":
        assert flow.u[-1] > 1.3 * flow.u[1900]


def test_between_edges_a_slow_rotor_is_never_given_more_than_the_waiting_allows():
    out = convert(boards.stream(seconds=4, frequency=lambda t: np.where(t < 1, 12.0, 0.0)))["rotor_frequency"]
    late = (out.time > 1.1) & (out.time < 1.9)
    since = out.time[late] - 1.0
    assert np.all(out.value[late] <= 1 / since * 1.05)


def test_a_rotor_starting_again_does_not_reckon_over_the_standstill():
    out = convert(boards.stream(seconds=8, frequency=lambda t: np.where((t < 2) | (t > 5), 100.0, 0.0)))
    frequency = out["rotor_frequency"]
    again = (frequency.time > 5.1) & np.isfinite(frequency.value)
    assert frequency.value[again] == pytest.approx(100.0, rel=2e-3)


def test_a_slow_rotor_is_resolved_to_the_tick_of_the_capture():
    """5 Hz: a count over one second would be 20 % off; edge times are good to 0.5 us."""
    frequency = convert(boards.stream(seconds=10, frequency=5.0))["rotor_frequency"]
    assert frequency.value[-1] == pytest.approx(5.0, rel=1e-5)


def test_lost_messages_only_lengthen_the_interval():
    tables = boards.stream(frequency=300.0)
    keep = np.ones(len(tables["line"]), bool)
    keep[100:180] = keep[300:303] = False
    tables["line"] = tables["line"][keep]
    frequency = convert(tables)["rotor_frequency"].value
    assert frequency[10:] == pytest.approx(300.0, rel=2e-3)


def test_without_the_ambient_module_flow_is_given_with_more_doubt_and_marked():
    tables = boards.stream()
    with_module = convert(tables)["mass_flow"]
    without = {k: v for k, v in boards.FITTED.items() if k != "ambient"}
    lacking = {k: v for k, v in tables.items() if k != "ambient"} | boards.description(without)
    out = convert(lacking)["mass_flow"]
    assert out.value[-1] == pytest.approx(with_module.value[-1], rel=0.05)
    assert out.u[-1] > 1.3 * with_module.u[-1]
    assert out.status[-1] & Status.STALE


def test_an_ambient_module_unplugged_in_the_middle_stalls_nothing():
    tables = boards.stream(seconds=30)
    tables["ambient"]["flags"][10:] = 0
    out = convert(tables)
    assert np.all(np.isnan(out["ambient_pressure"].value[10:]))
    assert np.all(np.isfinite(out["mass_flow"].value[200:]))
    assert not out["mass_flow"].status[1500] & Status.STALE
    assert out["mass_flow"].status[-1] & Status.STALE


def unplugged_thermometer(seconds=80, at=8, between=0.7):
    """The NTC hangs to ground under a resistor: unplugged, the pin goes to the supply, by way of one mixed reading."""
    tables = boards.stream(seconds=seconds)
    sums = tables["slow"]["temperature_sum"]
    sums[at * 5 :] = 1023 * 32
    sums[at * 5] = round(between * 1024 * 32)
    return convert(tables)


def test_a_line_thermometer_that_is_unplugged_leaves_the_flow_where_it_was():
    """28 K of mixed reading, or of a usual figure in its place, would be 9 % of the flow by the gas law alone."""
    out = unplugged_thermometer()
    flow = out["mass_flow"]
    assert np.all(np.isnan(out["line_temperature"].value[41:]))
    assert out["line_temperature"].status[-1] & Status.SILENT
    assert flow.value[100:] == pytest.approx(flow.value[700], rel=0.01)
    for name in ("mass_flow", "standard_flow", "free_air_flow"):
        told = out[name].status & (Status.STALE | Status.SILENT)
        assert not np.any(told[:900])
        assert np.all(told[1100:] == Status.STALE | Status.SILENT)


def test_the_doubt_of_a_temperature_that_is_no_longer_read_grows_to_cover_the_usual_one():
    """By the gas law a doubt of u K in T K is u/T of the mass. At 10 kPa and 298.2 K the usual line is 27.4 K over the
    room, ± hypot(0.097 x 27.4, 5, 0.6) = 5.7 K; it lies 18 K from the last reading, which counts as a rectangle:
    hypot(5.7, 18/sqrt 3) = 11.9 K, of which 98 % have come after 230 s at 60 s."""
    out = unplugged_thermometer(seconds=240)
    flow = out["mass_flow"]
    u = flow.u_systematic
    T = 303.0
    assert T * np.sqrt(u[-1] ** 2 - u[700] ** 2) / flow.value[-1] == pytest.approx(11.6, abs=0.5)
    assert np.all(np.diff(u[1000::100]) > 0.0)
    assert np.max(np.abs(np.diff(u[1000:]))) < 1e-3 * flow.value[700]  # by degrees, not at once


def test_a_thermometer_that_never_spoke_is_not_waited_for():
    tables = boards.stream(seconds=8)
    tables["slow"]["temperature_sum"] = 1023 * 32
    flow = convert(tables)["mass_flow"]
    assert np.all(np.isnan(flow.value[:150]))
    assert np.all(np.isfinite(flow.value[250:]))
    assert np.all(flow.status[250:] & Status.STALE)
    assert not np.any(flow.status & Status.SILENT)


def test_one_reading_out_of_line_is_not_believed():
    tables = boards.stream(seconds=8)
    usual = convert(tables)["mass_flow"].value
    tables["slow"]["temperature_sum"][20] = round(0.7 * 1024 * 32)
    assert convert(tables)["mass_flow"].value[50:] == pytest.approx(usual[50:], rel=1e-9)


def test_unknown_is_nan_with_its_reason():
    tables = boards.stream()
    tables["line"]["pressure_n"] = 0
    out = convert(tables)
    for name in ("line_pressure", "mass_flow", "standard_flow", "air_power"):
        assert np.all(np.isnan(out[name].value))
        assert np.all(np.isnan(out[name].u))
        assert np.all(out[name].status & Status.MISSING)


def test_uncertainty_is_kept_in_two_parts():
    pressure = convert(boards.stream())["line_pressure"]
    assert pressure.u**2 == pytest.approx(pressure.u_systematic**2 + pressure.u_random**2, rel=1e-9)
    assert pressure.u_systematic[-1] > 50 * pressure.u_random[-1]


def test_the_stated_random_part_is_the_scatter_that_a_noisy_pin_makes():
    """Codes scattered by 0.75 of one, as NXP AN1646 has it, 32 in a mean: the series scatters as its u_random says."""
    generator = np.random.default_rng(4)
    tables = boards.stream(seconds=30, pressure=10e3)
    codes = 1024 * (10e3 * 0.018e-3 + 0.04) + generator.normal(0, 0.75, (3000, 32))
    tables["line"]["pressure_sum"] = np.floor(codes + 0.5).sum(axis=1)
    pressure = convert(tables)["line_pressure"]
    assert pressure.value.std() == pytest.approx(pressure.u_random[0], rel=0.1)


def test_a_budget_adds_up_to_the_uncertainty_of_the_series():
    tables = boards.stream(pressure=12e3)
    converter = Converter(RigDescription.from_tables(tables))
    out = converter.convert(tables)
    state = {
        name: float(out[name].value[-1])
        for name in ("line_pressure", "line_temperature", "ambient_pressure", "ambient_temperature", "ambient_humidity")
    }
    for name in ("line_pressure", "line_temperature", "standard_flow", "mass_flow", "free_air_flow", "air_power"):
        budget = converter.budget(name, float(out[name].value[-1]), **state)
        assert budget.value == pytest.approx(out[name].value[-1], rel=1e-9)
        assert budget.u_systematic == pytest.approx(out[name].u_systematic[-1], rel=2e-3)
        rows = budget.rows()
        assert sum(row["share"] for row in rows) == pytest.approx(1.0)
        assert [row["standard_uncertainty"] for row in rows] == sorted(
            (row["standard_uncertainty"] for row in rows), reverse=True
        )
        assert name in budget.table()


def test_pressure_and_flow_share_the_error_of_the_pressure_sensor():
    """Flow at 1.2 kg/m3 goes with density, density with pressure: d(flow)/d(p) = flow/(p_absolute)."""
    tables = boards.stream(pressure=12e3)
    converter = Converter(RigDescription.from_tables(tables))
    out = converter.convert(tables)
    ambient = float(out["ambient_pressure"].value[-1])
    pressure = converter.budget("line_pressure", 12e3)
    flow = converter.budget("standard_flow", 0.03, line_pressure=12e3, ambient_pressure=ambient)
    expected = 0.03 / (12e3 + ambient) * pressure.u_systematic**2
    assert pressure.covariance(flow) == pytest.approx(expected, rel=1e-3)
    assert flow.covariance(pressure) == pytest.approx(expected, rel=1e-3)


def test_a_budget_beyond_the_sensor_or_without_it_is_refused_in_words():
    converter = Converter(RigDescription.from_tables(boards.stream()))
    with pytest.raises(SensorOutOfRange, match="line_pressure"):
        converter.budget("line_pressure", 400e3)
    with pytest.raises(SensorMissing, match="differential"):
        converter.budget("differential_pressure", 100.0)
    assert BudgetConditions().line_pressure == 10e3


def test_a_calibration_of_another_board_is_not_used():
    other = Calibration(board="bench 2", zeros={"pressure": 0.1})
    here = convert(boards.stream(), calibration=other)["line_pressure"].value
    assert here == pytest.approx(convert(boards.stream())["line_pressure"].value)


def test_no_description_no_guess():
    with pytest.raises(SensorMissing, match="no description"):
        RigDescription.from_tables({})


def test_any_bytes_in_the_fields_convert_without_an_exception():
    """A sensor may send anything: NaN and a status come out, never an error."""
    generator = np.random.default_rng(5)
    tables = boards.stream()
    for name in ("line", "slow", "ambient"):
        rows = tables[name]
        noise = generator.integers(0, 256, rows.nbytes, dtype=np.uint8).view(rows.dtype)
        for field in rows.dtype.names:
            if field not in {"id", "sequence", "tick"}:
                rows[field] = noise[field]
    out = convert(tables)
    for series in out.values():
        assert np.all(np.isnan(series.value) == np.isnan(series.u))


@pytest.mark.parametrize(
    ("rigs", "most"),
    [
        # the mean of 8 deviations of at most one standard uncertainty each has 1/sqrt(8) of it; three of these are 1.06
        pytest.param(8, 1.06, marks=pytest.mark.slow),
        pytest.param(40, 0.6, marks=pytest.mark.exhaustive),
    ],
)
@pytest.mark.exhaustive
def test_the_simulated_rigs_truth_lies_within_what_the_converter_says(rigs, most):
    """Rigs whose errors are drawn inside the data-sheet bands: the means of a held opening deviate from the truth by less
    than two standard uncertainties in nearly all of them (the draws are narrower than the rectangles taken here).
    """
    from frothline.simulation.modelled import stream
    from frothline.wire import decode_all

    scores = {"line_pressure": [], "standard_flow": [], "line_temperature": [], "ambient_pressure": []}
    for seed in range(rigs):
        data, world = stream(f"modelled://steady?seed={seed + 1}", 25.0)
        out = convert(decode_all(data).tables)
        for name, found in scores.items():
            late = out[name].time > 23.0
            found.append((out[name].value[late].mean() - world.truth[name]) / out[name].u_systematic[-1])
    for name, found in scores.items():
        inside = np.mean(np.abs(found) < 2)
        assert inside >= 0.9, (name, np.round(found, 1))
        assert abs(np.mean(found)) < most, (name, np.mean(found))


def test_a_zero_can_be_put_in_while_the_stream_runs():
    tables = boards.stream(pressure=700.0, frequency=0.0)
    first, second = boards.cut(tables, [2 * boards.TICK])
    converter = Converter(RigDescription.from_tables(tables))
    before = converter.convert(first)["line_pressure"]
    converter.use(Calibration("bench 1").with_zero("pressure", float(converter.signals["pressure"].value.mean())))
    after = converter.convert(second)["line_pressure"]
    assert before.value[-1] == pytest.approx(700, abs=3)
    assert after.value[-1] == pytest.approx(0, abs=3)
    assert after.u[-1] < before.u[-1] / 8
