"""A linear sensor of any range, and converters of any number of bits: readings, uncertainty, words."""

import numpy as np
import pytest
import sensor_boards as boards

from frothline.bench.board_state import board_state
from frothline.bench.snapshot import ChannelState
from frothline.formatting import unit_of
from frothline.readings.series import read_series
from frothline.recording.host_frames import BoardFrames
from frothline.recording.reader import verify
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
from frothline.rig import open_rig
from frothline.sensors import analog
from frothline.sensors.calibration_check import nominal_lines, zero_limit
from frothline.sensors.converter import Converter
from frothline.sensors.datasheets import ADC, PRESSURE, SENSOR, converter_of, linear_pressure
from frothline.sensors.description import RigDescription
from frothline.sensors.linear_line import words_of
from frothline.sensors.plausibility import look_at_samples
from frothline.sensors.spool import Spool
from frothline.simulation.modelled import ModelledRig, stream
from frothline.simulation.options import read_url
from frothline.web.pages.spool import tables
from frothline.wire import AFTER_DESCRIPTION, WIRE, decode_all, encode

LINE = {"low_pascal": 0, "high_pascal": 30000, "low_millivolt": 500, "high_millivolt": 4500, "accuracy_per_myriad": 100}
# The line of the MPX5050 (NXP table, rev 5): 0.20 V at 0, 4.70 V at 50 kPa, 2.5 % of the span.
AS_MPX5050 = {**LINE, "high_pascal": 50000, "low_millivolt": 200, "high_millivolt": 4700, "accuracy_per_myriad": 250}


def rows_of(kind=1, **line):
    row = boards.table("linear_sensor", 1)
    row["kind"] = kind
    for name, value in (line or LINE).items():
        row[name] = value
    return row


def described(**more):
    fitted = {**boards.FITTED, "pressure": "linear_pressure"}
    return {**boards.description(fitted), **more}


def test_half_a_volt_is_the_low_end_and_four_and_a_half_the_high_end():
    """0.5 to 4.5 V over 0 to 30 kPa: 4 V / 30 kPa = 133.3 mV/kPa, so 15 kPa give 2.5 V."""
    sensor = linear_pressure(0.0, 30e3, 0.5, 4.5, 0.01)
    volts = np.array([0.5, 2.5, 4.5])
    pin = analog.ratio(volts / 5 * 1024 * 32, np.full(3, 32))
    assert analog.pressure(pin, sensor).value == pytest.approx([0.0, 15e3, 30e3], abs=1e-6)


@pytest.mark.parametrize(
    ("low", "high", "volts"), [(-2500.0, 2500.0, (0.25, 4.75)), (-100e3, 0.0, (0.5, 4.5)), (0.0, 200e3, (1.0, 5.0))]
)
def test_any_range_and_any_voltages(low, high, volts):
    sensor = linear_pressure(low, high, *volts, 0.02)
    ends = analog.pressure(analog.ratio(np.array(volts) / 5 * 4096 * 8, np.full(2, 8), converter_of(4096, 2)), sensor)
    assert ends.value[0] == pytest.approx(low, abs=1e-6)
    assert sensor.band == pytest.approx(0.02 * (high - low))
    # the stated accuracy is a limit: rectangular, u = band / sqrt 3 (JCGM 100:2008, 4.3.7)
    assert ends.u_systematic[0] >= sensor.band / np.sqrt(3)


@pytest.mark.parametrize("wrong", [(3e3, 3e3, 0.5, 4.5, 0.01), (0, 3e3, 4.5, 0.5, 0.01), (0, 3e3, 0.5, 5.5, 0.01),
                                   (0, 3e3, 0.5, 4.5, 0.0)])  # fmt: skip
def test_a_line_that_is_none_gives_no_sensor(wrong):
    assert linear_pressure(*wrong) is None


def test_an_unplugged_linear_sensor_is_missing_and_one_whose_range_begins_at_zero_volts_is_not():
    """A pull-down brings the pin to 0 V. A sensor of 0.5 V at its lowest is never there, one of 0 V may be."""
    pin = analog.ratio(np.array([0]), np.array([32]))
    assert np.isnan(analog.pressure(pin, linear_pressure(0, 30e3, 0.5, 4.5, 0.01)).value[0])
    assert analog.pressure(pin, linear_pressure(0, 30e3, 0.0, 4.5, 0.01)).value[0] == pytest.approx(0.0)


def test_the_line_of_a_named_sensor_gives_its_readings():
    tables = boards.stream(pressure=lambda t: 2000.0 * t)
    named = Converter(RigDescription.from_tables(tables)).convert(tables)["line_pressure"]
    tables = {**tables, **described(linear_sensor=rows_of(**AS_MPX5050))}
    linear = Converter(RigDescription.from_tables(tables)).convert(tables)["line_pressure"]
    assert linear.value == pytest.approx(named.value, abs=1e-6)
    assert linear.u == pytest.approx(named.u, rel=1e-6)


def test_a_linear_sensor_without_its_line_is_missing_and_says_why():
    tables = {**boards.stream(), **described()}
    assert np.isnan(Converter(RigDescription.from_tables(tables)).convert(tables)["line_pressure"].value).all()
    kilopascal, inches = unit_of("pressure", "metric"), unit_of("pressure", "inch-pound")
    assert words_of(board_state(tables, simulated=False).channels[0].line, kilopascal) == "its range is not set"
    tables["linear_sensor"] = rows_of()
    line = board_state(tables, simulated=False).channels[0].line
    assert words_of(line, kilopascal) == "0 to 30 kPa, 0.5 to 4.5 V, ±1 % of the span"
    # 1 inH2O is 249.089 Pa (NIST SP 811, conventional)
    assert words_of(line, inches) == "0 to 120.4 inH₂O, 0.5 to 4.5 V, ±1 % of the span"


def test_calibration_and_plausibility_use_the_line():
    description = RigDescription.from_tables(described(linear_sensor=rows_of()))
    line = nominal_lines(description, Spool.default())["pressure"]
    assert line(np.array([0.1, 0.5])) == pytest.approx([0.0, 15e3])
    assert zero_limit(description, "pressure") < 30e3
    budget = Converter(description).budget("line_pressure", 15e3)
    assert budget.u >= 300.0 / np.sqrt(3)


def test_a_named_sensor_plugged_in_for_the_linear_one_is_found_at_rest():
    """An MPX5050 rests at 0.20 V; a line from 0.5 V reads that as -2.25 kPa."""
    tables = {**boards.stream(seconds=30, pressure=0.0, frequency=0.0), **described(linear_sensor=rows_of())}
    description = RigDescription.from_tables(tables)
    series = Converter(description).convert(tables)
    assert np.median(series["line_pressure"].value) == pytest.approx(-2250.0, abs=30.0)
    sensor = description.pressure_sensor("pressure")
    assert "pressure-wrong-sensor" in {one.code for one in look_at_samples(series, sensor)}


def test_a_usual_linear_sensor_on_a_line_that_begins_lower_is_found_at_rest():
    """0.5 V at rest, read on a line of 0.2 to 4.7 V over 50 kPa: 0.06 of the supply, 3.33 kPa."""
    line = {**AS_MPX5050, "accuracy_per_myriad": 100}
    tables = {**boards.stream(seconds=30, pressure=3333.3, frequency=0.0), **described(linear_sensor=rows_of(**line))}
    description = RigDescription.from_tables(tables)
    series = Converter(description).convert(tables)
    found = look_at_samples(series, description.pressure_sensor("pressure"))
    assert "pressure-wrong-sensor" in {one.code for one in found}


@pytest.mark.parametrize("levels", [4096, 16384, 65536])
def test_a_board_with_a_finer_converter_gives_the_same_pressures(levels):
    """The same pin voltages as with 10 bits, from another full scale; without noise and errors the last digit differs."""
    pressures = {}
    for one in (1024, levels):
        data, _ = stream(f"modelled://sweep?seed=6&errors=0&adc_levels={one}", 6.0)
        tables = decode_all(data).tables
        description = RigDescription.from_tables(tables)
        assert description.adc.levels == one
        series = Converter(description).convert(tables)
        pressures[one] = series["line_pressure"]
        assert np.nanmean(series["supply_voltage"].value) == pytest.approx(5.0, rel=0.01)
    step = 50e3 / 0.9 / 1024  # Pa, one count of 10 bits
    apart = pressures[levels].value - pressures[1024].value
    assert np.nanmax(np.abs(apart)) < 2 * step
    assert abs(np.nanmean(apart)) < step / 2


def test_a_finer_converter_saturates_at_its_own_top():
    fine = converter_of(4096, 6.5)
    pin = analog.ratio(np.array([4095 * 8, 1023 * 8]), np.array([8, 8]), fine)
    assert np.isnan(analog.pressure(pin, PRESSURE[SENSOR["mpx5050"]]).value[0])
    assert pin.value[1] == pytest.approx(1023 / 4096)
    assert pin.limit == pytest.approx(6.5 / 4096)


def test_streams_made_before_mean_1024_levels():
    description = RigDescription.from_tables(boards.description())
    assert description.adc is ADC
    assert ADC.levels == 1024


@pytest.mark.parametrize("levels", [0, 1])
def test_a_full_scale_that_no_converter_has_is_ignored(levels):
    row = boards.table("adc", 1)
    row["levels"] = levels
    assert RigDescription.from_tables({**boards.description(), "adc": row}).adc is ADC


def test_the_full_scale_stays_when_a_description_comes_in_a_batch_of_its_own():
    """A batch may end between the description and what follows it."""
    rig = ModelledRig(read_url("modelled://idle?adc_levels=4096"))
    tables = decode_all(rig.run(0.5)).tables
    converter = Converter(RigDescription.from_tables(tables))
    alone = {name: rows for name, rows in tables.items() if name not in AFTER_DESCRIPTION}
    converter.convert(alone)
    assert converter.description.adc.levels == 4096


def test_a_later_segment_of_a_recording_repeats_what_follows_the_description():
    frames = BoardFrames()
    rig = ModelledRig(read_url("modelled://idle?adc_levels=4096"))
    rig.board.receive(encode("write_linear_sensor", 1, kind=1, **LINE))
    rig.board.storage["pressure_sensor"] = SENSOR["linear_pressure"]
    rig.board.receive(encode("describe", 2))
    frames.see(rig.run(0.5))
    tables = decode_all(frames.description()).tables
    description = RigDescription.from_tables(tables)
    assert description.adc.levels == 4096
    assert description.pressure_sensor("pressure").high == 30e3
    assert WIRE.protocol == 1


def test_the_spool_page_shows_the_line_in_the_units_of_the_page():
    described_as = board_state({**described(linear_sensor=rows_of())}, simulated=False)
    (pressure,) = [one for one in described_as.channels if one.kind == "pressure"]
    assert isinstance(pressure, ChannelState)
    assert "linear sensor (0 to 30 kPa" in tables._sensor(pressure, "metric")
    assert "inH₂O" in tables._sensor(pressure, "inch-pound")


def test_a_board_with_a_finer_converter_reads_right_from_its_first_sample(tmp_path):
    """Asked at the port, and played back from a recording: the full scale is known before the first line message."""
    seen = {}
    for levels in (1024, 4096):
        data, _ = stream(f"modelled://steady?seed=4&errors=0&adc_levels={levels}", 4.0)
        path = tmp_path / f"{levels}.froth"
        path.write_bytes(data)
        with open_rig(f"replay://{path}?speed=0") as rig:
            assert int(rig.tables["adc"][-1]["levels"]) == levels
            assert RigDescription.from_tables(rig.tables).adc.levels == levels
        seen[levels] = read_series(path, None)["line_pressure"].value
    step = 50e3 / 0.9 / 1024
    assert abs(seen[4096][:5] - seen[1024][:5]).max() < 2 * step
    assert seen[4096].size == seen[1024].size


def test_a_recording_in_segments_loses_nothing_and_each_segment_has_the_full_scale(tmp_path):
    """The head of a segment repeats earlier frames, whose numbers must not count as a gap."""
    rig = ModelledRig(read_url("modelled://idle?adc_levels=4096"))
    rig.board.receive(encode("write_linear_sensor", 1, kind=1, **LINE))
    rig.board.storage["pressure_sensor"] = SENSOR["linear_pressure"]
    rig.board.receive(encode("describe", 2))
    rig.board.start()
    with RecordingWriter.create(tmp_path, "parts", policy=Policy(free_floor=0, segment_bytes=20_000)) as writer:
        for _ in range(20):
            writer.write(rig.run(0.5))
    report = verify(tmp_path / "parts")
    assert len(report.files) > 1
    assert (report.lost, report.unknown) == (0, 0)
    for part in sorted(tmp_path.glob("parts*.froth")):
        description = RigDescription.from_tables(decode_all(part.read_bytes()).tables)
        assert description.adc.levels == 4096
        assert description.pressure_sensor("pressure").high == 30e3
