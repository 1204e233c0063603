"""Options of ``curve``, ``sources`` and ``whatif`` on air sources: motors, altitudes, times, and their messages."""

import pytest
from prompt_json import result_of

import frothline as fl
from frothline.cli import main
from frothline.curve.blower import BlowerCurve
from frothline.curve.duty_cycle import duty_run
from frothline.curve.fan_laws import Conditions
from frothline.curve.source_entries import known_motor
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import InputError, OutsideValidity
from frothline.generator.room_air import RoomAir
from frothline.sweep.points_by_hand import points_of_text
from frothline.sweep.recorded_source import load_sweeps
from frothline.sweep.source_file import SourceFile, parse_source, source_text


def refused(capsys, *arguments):
    """What the prompt says to arguments that it refuses."""
    try:
        code = main([*arguments])
    except SystemExit as error:
        code = error.code
    assert code == 2
    return capsys.readouterr().err


FLOWS = "pressure (kPa);flow (L/s)\n20;2\n18;10\n15;18\n10;28\n5;36\n2;40\n"
PLATES = "hole (mm);U-tube (mm)\n8;1790\n12;1650\n16;1405\n20;1105\n28;635\n"


@pytest.fixture
def table(tmp_path):
    file = tmp_path / "points.csv"
    file.write_text(FLOWS)
    return file


def test_an_unknown_motor_is_refused_in_python_and_at_the_prompt_in_the_same_words(table, capsys):
    with pytest.raises(InputError) as error:
        fl.fit_source(table, motor="universal")
    for part in ("“universal”", "series", "constant speed"):
        assert part in str(error.value)
    assert error.value.what in refused(capsys, "curve", str(table), "--motor", "universal")
    for make in (known_motor, lambda one: Conditions(motor=one), lambda one: BlowerCurve(motor=one)):
        with pytest.raises(InputError, match="universal"):
            make("universal")
    assert known_motor("constant speed") == "constant speed"
    assert main(["curve", str(table), "--motor", "constant speed", "--quiet"]) == 0


def test_an_altitude_beyond_the_limits_is_refused_with_the_limits(table, capsys):
    for height in ("5000", "-600", "3701"):
        said = refused(capsys, "curve", str(table), f"--altitude={height}")
        assert "-500 m to 3700 m" in said
        assert "at_altitude" not in said
    with pytest.raises(OutsideValidity) as error:
        Conditions.at_altitude(5000)
    assert error.value.remedy
    assert "at_altitude" not in str(error.value)
    for height in ("3700", "-500"):  # the laws hold at both ends
        assert main(["curve", str(table), f"--altitude={height}", "--quiet"]) == 0


def test_the_air_of_an_altitude_is_said(table, capsys):
    # lapse rate 6.5 K/km from 15 °C (US Standard Atmosphere 1976): 4.6 °C at 1600 m
    assert main(["curve", str(table), "--altitude", "1600"]) == 0
    said = capsys.readouterr().out
    assert "1600 m, 4.6 °C as in the standard atmosphere" in said
    assert "--temperature" in said
    assert main(["curve", str(table), "--altitude", "1600", "--temperature", "25"]) == 0
    said = capsys.readouterr().out
    assert "1600 m, 25 °C" in said
    assert "standard atmosphere" not in said
    assert main(["curve", str(table), "--temperature", "35"]) == 0
    assert "sea level, 35 °C" in capsys.readouterr().out


def test_plates_without_air_are_asked_for_the_columns(tmp_path, capsys):
    (tmp_path / "plates.csv").write_text(PLATES)
    assert main(["curve", str(tmp_path / "plates.csv"), "--altitude", "1600"]) != 0
    said = capsys.readouterr().err
    assert "columns room pressure and room temperature" in said
    assert "ambient module" not in said


@pytest.mark.parametrize(
    "times",
    [("25", "10", "20"), ("25 min", "10 min", "20 min"), ("1500 s", "600 s", "20"), ("25:00", "10:00", "1200 s")],
)
def test_times_of_a_duty_cycle_have_units_and_are_minutes_without(times, capsys):
    run, on, rest = times
    assert main(["sources", "inflator", "--run-time", run, "--on", on, "--rest", rest, "--json"]) == 0
    assert result_of(capsys.readouterr().out)["elapsed"] == 3900.0  # 10 + 20 + 10 + 20 + 5 min


def test_a_time_that_is_none_is_refused(capsys):
    for text in ("soon", "25 kg", "-5 min"):
        assert "--run-time" in refused(capsys, "sources", f"--run-time={text}", "--on", "10", "--rest", "20")


def test_a_pump_that_needs_no_rest_has_none():
    found = duty_run(1500.0, 600.0, 0.0)
    assert (found.rests, found.elapsed, found.share) == (0, 1500.0, 1.0)
    assert found.words == "25 min of running need no rest"


def test_holes_for_tables_are_refused_with_their_column(table):
    with pytest.raises(InputError) as error:
        load_sweeps(table, holes=[0.01])
    assert "1 hole for 0 recordings" in str(error.value)
    assert "column" in error.value.remedy


def test_a_decimal_comma_between_commas_is_explained_once():
    with pytest.raises(InputError) as error:
        points_of_text("pressure (kPa),flow (L/s)\n10,5,7\n9,1,8\n", "x")
    assert "separate the cells by semicolons; line 3" in str(error.value)


def point(pressure, u=10.0):
    return SteadyPoint.from_parts(pressure, 0.03, (u, 1e-4, 0.0))


@pytest.mark.parametrize(("pressure", "u"), [(-3e3, 10.0), (-120.0, 10.0), (-300.0, 60.0)])
def test_a_point_of_a_source_below_zero_by_more_than_its_uncertainty_is_refused(pressure, u):
    text = source_text(SourceFile("x", "", (point(5e3), point(pressure, u)), RoomAir()))
    with pytest.raises(InputError, match=r"point 2: pressure .* is below 0 Pa"):
        parse_source(text, "x.toml")


@pytest.mark.parametrize(("pressure", "u"), [(-80.0, 10.0), (-200.0, 60.0)])
def test_the_zero_of_a_sensor_below_zero_is_taken(pressure, u):
    text = source_text(SourceFile("x", "", (point(5e3), point(pressure, u)), RoomAir()))
    assert parse_source(text, "x.toml").points[1].pressure == pressure
