"""Plates whose table has no air of the room or of the hose: what is assumed, and what it costs."""

import math

import pytest

from frothline import cli
from frothline.generator.room_air import RoomAir
from frothline.sweep.points_by_hand import points_of_text
from frothline.sweep.recorded_source import load_sweeps
from frothline.sweep.source_file import SourceFile, parse_source, source_text

LINES = ((8, 1790), (14, 1661), (20, 1300), (28, 635), (36, 300))
BARE = "hole (mm);U-tube (mm)\n" + "".join(f"{hole};{height}\n" for hole, height in LINES)
AIR = "hole (mm);U-tube (mm);room temperature (°C);room pressure (kPa)\n" + "".join(
    f"{hole};{height};20;84\n" for hole, height in LINES
)


def test_the_assumed_air_of_the_room_is_said_with_the_columns_that_replace_it():
    (said,) = (one for one in points_of_text(BARE, "x").notes if "the room" in one)
    for part in ("99.0 kPa ± 2.0 kPa", "20 °C ± 6 K", "columns room pressure and room temperature", "height"):
        assert part in said
    assert not any("of the room" in one for one in points_of_text(AIR, "x").notes)
    half = BARE.replace("U-tube (mm)", "U-tube (mm);room temperature (°C)").replace("1790", "1790;20")
    assert any("99.0 kPa" in one for one in points_of_text(half, "x").notes)


def test_a_table_of_flows_needs_no_air_of_the_room():
    assert not any("taken as 99" in one for one in points_of_text("pressure (kPa);flow (L/s)\n10;5\n", "x").notes)


def test_the_generator_is_calculated_in_the_air_of_the_plates(tmp_path, capsys):
    (tmp_path / "bare.csv").write_text(BARE)
    (tmp_path / "air.csv").write_text(AIR)
    air = load_sweeps(tmp_path / "bare.csv").air
    assert air.ambient_pressure == 99e3
    assert not air.measured
    assert "99.0 kPa" in air.words
    assert "not measured" in air.words
    assert "84.0 kPa" in load_sweeps(tmp_path / "air.csv").air.words
    both = load_sweeps([tmp_path / "bare.csv", tmp_path / "air.csv"]).air  # what was measured counts alone
    assert both.ambient_pressure == pytest.approx(84e3)
    assert both.measured
    assert cli.main(["curve", str(tmp_path / "bare.csv")]) == 0
    assert "99.0 kPa ± 2.0 kPa" in capsys.readouterr().out


def test_an_assumed_pressure_stays_assumed_in_a_file_that_is_passed_on():
    made = points_of_text(BARE, "x")
    text = source_text(SourceFile("x", "vacuum", made.points, made.air))
    assert parse_source(text, "x").air == made.air
    measured = points_of_text(AIR, "x")
    assert parse_source(source_text(SourceFile("x", "", measured.points, measured.air)), "x").air.measured
    assert RoomAir().mean([RoomAir()]) == RoomAir()


def test_the_uncertain_temperature_of_the_exhaust_is_a_common_error_that_grows_with_pressure():
    low, high = points_of_text("hole (mm);pressure (kPa)\n20;4\n20;18\n", "x").points
    shares = []
    for point in (low, high):
        (part,) = (one for one in point.common if one.name == "temperature of the exhaust")
        assert part.on_pressure == 0.0
        shares.append(part.on_flow / point.flow)
    # by hand at 99 kPa: rise T ((1 + p/99 kPa)^(2/7) - 1)/0.3; standard uncertainty of it 0.029/0.3, and 5 K of the hose
    for share, pressure in zip(shares, (4.0, 18.0), strict=True):
        rise = 293.15 * ((1 + pressure / 99.0) ** (2 / 7) - 1) / 0.3
        u = math.hypot(rise * 0.029 / 0.3, 5.0)
        assert share == pytest.approx(u / (293.15 + rise) / 2, rel=0.01)
    assert shares[1] == pytest.approx(0.010, abs=5e-4)
    assert shares[0] < 0.9 * shares[1]


def test_a_measured_temperature_of_the_exhaust_and_a_closed_outlet_have_no_such_error():
    table = "hole (mm);pressure (kPa);line temperature (°C)\n20;18;60\nclosed;21;60\n"
    for point in points_of_text(table, "x").points:
        assert not [one for one in point.common if one.name == "temperature of the exhaust"]
    (closed,) = points_of_text("hole (mm);pressure (kPa)\nclosed;21\n", "x").points
    assert closed.u_flow == 0.0
