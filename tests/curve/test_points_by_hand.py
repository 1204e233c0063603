"""Points of an air source entered by hand, against plain arithmetic, the library `fluids`, and published conversions."""

import math
from pathlib import Path

import fluids
import fluids.flow_meter
import numpy as np
import pytest
from known_sources import TEN_ORIFICES, blower
from prompt_json import result_of

import frothline as fl
from frothline import cli
from frothline.curve.fan_laws import SERIES_SUCTION
from frothline.errors import InputError, NotIdentifiable, TooFewPoints
from frothline.physics.hole import small_plate_factor
from frothline.sweep.points_by_hand import points_of_text
from frothline.sweep.recorded_source import load_sweeps

ORIFICES = (6.35, 9.525, 12.7, 15.875, 19.05, 22.225, 25.4, 31.75, 38.1, 50.8)  # mm
# the orifices of TEN_ORIFICES with their suction and flow, as a maker prints them
MAKERS = "orifice (in),suction (inH2O),airflow (cfm)\n" + "".join(
    f"{d / 25.4:.3f},{p / 249.08891:.2f},{q / 4.719474432e-4:.2f}\n"
    for d, (q, p) in zip(ORIFICES, TEN_ORIFICES, strict=True)
)
PRESSURES = "pressure (kPa);flow (L/s)\n" + "".join(f"{p / 1e3:.3f};{q * 1e3:.3f}\n" for q, p in TEN_ORIFICES)


def points(text, **more):
    return points_of_text(text, "points.csv", **more).points


def refused(text):
    with pytest.raises(InputError) as error:
        points_of_text(text, "points.csv")
    return str(error.value)


@pytest.mark.parametrize("hole", [14.0, 22.0])
@pytest.mark.parametrize("height", [80.0, 600.0])
def test_the_flow_of_a_plate_read_on_a_u_tube_is_that_of_the_fluids_library(hole, height):
    text = f"hole (mm);U-tube (mm);pipe (mm);room temperature (°C);room pressure (kPa);line temperature (°C)\n{hole};{height};300;20;101.325;25\n"
    (point,) = points(text)
    p = 998.2 * 9.80665 * height * 1e-3  # water at 20 °C
    density = (101325 + p) / (287.055 * 298.15)
    expansibility = fluids.flow_meter.orifice_expansibility(D=0.3, Do=hole / 1e3, P1=101325 + p, P2=101325, k=1.4)
    mass = fluids.flow_meter.flow_meter_discharge(
        D=0.3, Do=hole / 1e3, P1=101325 + p, P2=101325, rho=density, C=0.60, expansibility=expansibility
    )
    assert point.pressure == pytest.approx(p, rel=1e-6)
    # humid air is 0.4 % lighter; the factor of a small plate is 1.5 % at most at these Reynolds numbers
    assert point.flow == pytest.approx(mass / 1.2, rel=0.016)
    assert point.ambient_density == pytest.approx(1.199, abs=1e-3)
    assert 0.02 < point.u_flow / point.flow < 0.04


def test_a_small_plate_passes_more_than_a_large_one_by_the_reynolds_term_of_iso_5167():
    # Reader-Harris/Gallagher at a bore ratio of 0.1 (fluids), which the standard covers from 12.5 mm on
    def library(reynolds):
        bore, pipe, viscosity = 0.02, 0.2, 1.8e-5
        return fluids.flow_meter.C_Reader_Harris_Gallagher(
            D=pipe, Do=bore, rho=1.2, mu=viscosity, m=reynolds * math.pi * bore * viscosity / 4, taps="corner"
        )

    for reynolds in (2e4, 5e4):
        factor, u = small_plate_factor(0.02, 0.0, reynolds)
        assert factor == pytest.approx(library(reynolds) / library(1e5), rel=2e-3)
        assert u == pytest.approx((factor - 1) / 2)
    assert small_plate_factor(0.02, 0.0, 3e5)[0] == 1.0


def test_a_plate_as_thick_as_its_hole_passes_a_quarter_more_than_a_thin_one():
    # Idelchik diagram 4-15: zeta 2.85 for a thin edge and 1.74 at l/d = 1 (from memory): sqrt(2.85/1.74) = 1.28
    factor, u = small_plate_factor(0.003, 0.003, 1e5)
    assert factor == pytest.approx(1.28, abs=0.02)
    assert u >= 0.06


def test_a_hole_below_five_millimetres_without_a_thickness_is_less_certain():
    text = "hole (mm);pressure (kPa)\n4;5\n"
    known = "hole (mm);pressure (kPa);thickness (mm)\n4;5;0.5\n"
    assert points(text)[0].u_flow > 1.5 * points(known)[0].u_flow
    assert any("unknown thickness" in one for one in points_of_text(text, "x").notes)


def test_a_makers_table_gives_the_machine_as_a_blower_with_denser_intake_air():
    made = points(MAKERS)
    # at constant speed the pressure ratio stays: p = h/(1 - h/pa); by the vacuum-cleaner test's rule (from memory)
    # the series motor takes back a part of it
    for point, (_, suction) in zip(made, TEN_ORIFICES, strict=True):
        ratio = 1 / (1 - suction / 101325)
        series = 1 + SERIES_SUCTION * (1 - 1 / ratio)
        assert point.pressure == pytest.approx(suction * series, rel=5e-3)
        governed = suction * ratio
        law = next(part for part in point.common if part.name == "fan law")
        assert law.on_pressure == pytest.approx(abs(governed - point.pressure) / 2, rel=0.05, abs=0.5)
    # the flow at free delivery hardly changes, that near shut-off by up to a fifth
    assert made[-1].flow == pytest.approx(TEN_ORIFICES[-1][0], rel=0.02)


def test_the_flows_of_a_makers_table_are_compared_with_its_orifices():
    notes = points_of_text(MAKERS, "x").notes
    assert any("times those of the orifices" in one for one in notes)


def test_points_of_pressure_and_flow_give_the_curve_they_were_taken_from(tmp_path):
    file = tmp_path / "points.csv"
    file.write_text(PRESSURES)
    curve = fl.fit_source(file)
    for flow in (0.01, 0.03, 0.05):
        assert curve.fit.pressure_at(flow) == pytest.approx(blower(flow), rel=5e-3)
    assert curve.shut_off.lower < 20000.0 < curve.shut_off.upper
    assert any("entered by hand" in one for one in curve.fit.notes)
    assert curve.table()["recording"].unique().tolist() == ["points"]


SHUFFLED = [PRESSURES.splitlines()[0], *np.random.default_rng(3).permutation(PRESSURES.splitlines()[1:])]
COMMA = "pressure (kPa);flow (L/s)\n" + "".join(f"{p / 1e3:.4f};{q * 1e3:.4f}\n" for q, p in TEN_ORIFICES)


@pytest.mark.parametrize(
    "text",
    [
        "\n".join(SHUFFLED),
        PRESSURES.replace(";", "\t"),
        COMMA.replace(".", ","),  # decimal comma
        PRESSURES.replace(";", ","),
        "\ufeff# my blower\n\n" + PRESSURES.replace("\n", "\r\n"),
        PRESSURES.replace("pressure (kPa)", "Pressure kPa").replace("flow (L/s)", "Air flow [dm3/s]"),
    ],
)
def test_order_separator_and_decimal_sign_do_not_change_the_points(tmp_path, text):
    (tmp_path / "other.csv").write_text(text, "utf-8")
    found = sorted((one.flow, one.pressure) for one in load_sweeps(tmp_path / "other.csv").points)
    np.testing.assert_allclose(found, TEN_ORIFICES, rtol=3e-4)


def test_a_decimal_comma_with_three_digits_everywhere_is_asked_back():
    assert "two ways" in refused("pressure (kPa);flow (L/s)\n19,547;3,430\n")


def test_units_of_water_columns_are_read_as_the_trade_writes_them():
    for head, value in (("mm of water", 1000.0), ("mmWC", 1000.0), ("cmH2O", 100.0), ("inches of water", 39.3700787)):
        (point,) = points(f"pressure ({head});flow (L/s)\n{value};5\n")
        assert point.pressure == pytest.approx(9806.65, rel=1e-6)
    assert points("pressure (kPa);flow (L/s)\n10 mbar;5\n")[0].pressure == pytest.approx(1000.0)


def test_all_bad_lines_are_asked_back_together_with_their_numbers():
    text = "# first\npressure (kPa);flow (L/s)\n10;5\nten;4\n8;\n6;-3\n5;7;9\n"
    words = refused(text)
    for part in (
        "line 4: pressure: “ten”",
        "line 5: flow is empty",
        "line 6: flow: “-3” is below zero",
        "line 7: 3 cells",
    ):
        assert part in words
    assert "line 3" not in words


def test_a_header_in_another_language_is_asked_back_with_the_known_columns():
    words = refused("Blende (mm);Unterdruck (mbar)\n10;50\n")
    assert "no column is known" in words
    for name in ("hole", "suction", "flow", "U-tube"):
        assert name in words


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("10;5\n8;7\n", "not a header"),
        ("", "no point"),
        ("pressure (kPa);flow (L/s)\n", "no point below the header"),
        ("pressure;flow (L/s)\n10;5\n", "has no unit"),
        ("pressure (L/s);flow (L/s)\n10;5\n", "not a unit for pressure"),
        ("pressure (kPa);pressure (Pa);flow (L/s)\n10;5;1\n", "there twice"),
        ("pressure (kPa);suction (kPa);flow (L/s)\n10;5;1\n", "2 columns of pressure"),
        ("pressure (kPa)\n10\n", "flow, or of the hole"),
        ("flow (L/s)\n10\n", "column of the pressure is missing"),
        ("pressure (kPa);flow (L/s)\n-10;5\n-8;7\n", "Name the column “suction”"),
        ("suction (kPa);flow (L/s)\n-10;5\n8;7\n", "sign differs in line 2"),
        ("hole (mm);pressure (kPa)\n10;60\n", "too much for the formula"),
        ("hole (mm);pressure (kPa)\n60;1\n", "is covered"),
        ("hole (mm);pressure (kPa)\n20;0\n", "leave an open outlet out"),
        ("suction (kPa);flow (L/s)\n120;5\n", "more than a vacuum"),
        ("suction (kPa),flow (L/s)\n12,5,7\n", "with a decimal comma separate"),
        ("hole (mm);suction (inH2O)\nPK\x00\x03;5\n", ""),
    ],
)
def test_a_table_that_cannot_be_used_says_how_to_correct_it(text, said):
    assert said in refused(text)


def test_swapped_columns_show_where_the_table_has_the_orifices():
    swapped = MAKERS.replace("suction (inH2O),airflow (cfm)", "airflow (cfm),suction (inH2O)")
    assert "times what the orifices pass" in refused(swapped)
    wrong_unit = MAKERS.replace("(cfm)", "(L/s)")
    assert "swapped columns, and the unit" in refused(wrong_unit)


def test_a_suction_below_zero_is_read_by_its_size():
    text = "suction (kPa);flow (L/s)\n-10;5\n-8;7\n"
    assert points(text)[0].pressure == points(text.replace("-", ""))[0].pressure


def test_a_closed_outlet_is_a_point_without_flow():
    assert points("hole (mm);pressure (kPa)\nclosed;21\n10;20\n")[0].flow == 0.0


@pytest.mark.parametrize(
    ("lines", "error"),
    [
        ("10;20\n30;10\n", TooFewPoints),  # two points
        ("closed;21\n", TooFewPoints),  # the shut-off point alone
        ("closed;21\n" * 6, TooFewPoints),  # one point written six times
    ],
)
def test_too_few_points_are_asked_back(tmp_path, lines, error):
    (tmp_path / "few.csv").write_text("hole (mm);pressure (kPa)\n" + lines)
    with pytest.raises((error, NotIdentifiable)):
        load_sweeps(tmp_path / "few.csv").fit()


def test_a_small_pump_with_a_tenth_of_the_flow_of_a_spool_is_a_steep_line(tmp_path):
    # 40 L/min free falling to 30 L/min under load: published consumer guidance on 12 V inflators
    (tmp_path / "pump.csv").write_text(
        "pressure (kPa);flow (L/min)\n0;40\n50;38,7\n100;37,4\n150;36,2\n200;35\n250;33,7\n".replace(",", ".")
    )
    fit = load_sweeps(tmp_path / "pump.csv").fit()
    assert fit.flow_curve is not None
    assert fit.flow_at(150e3).value == pytest.approx(36.2 / 60e3, rel=5e-3)


def test_page_prompt_and_notebook_take_the_same_file(tmp_path, capsys):
    file = tmp_path / "vacuum.csv"
    file.write_text(PRESSURES)
    assert cli.main(["curve", "--points", str(file), "--json"]) == 0
    by_prompt = result_of(capsys.readouterr().out)
    assert by_prompt["shut_off"]["value"] == fl.fit_source(file).shut_off.value
    assert by_prompt["entered_by_hand"] == [str(file)]
    assert cli.main(["compare", str(file), "--resistance", "2e5", "6e6", "--json"]) == 0
    carried = result_of(capsys.readouterr().out)["carried"]
    # exact solution of the same curve and line, scipy.optimize.brentq
    assert carried[0]["flow"]["value"] == pytest.approx(0.03203447059, rel=5e-3)
    assert cli.main(["report", str(file), "--json"]) == 0
    assert "entered by hand" in Path(tmp_path / "vacuum.html").read_text("utf-8")


def test_a_wrong_file_gives_no_traceback(tmp_path, capsys):
    (tmp_path / "picture.csv").write_bytes(b"\x89PNG\x00\x00")
    (tmp_path / "large.csv").write_bytes(b"1;2\n" * 60_000)
    for name in ("picture.csv", "large.csv", "absent.csv"):
        assert cli.main(["curve", str(tmp_path / name)]) == 2
        assert name in capsys.readouterr().err


def test_each_point_has_the_stated_usual_uncertainty():
    (plate,) = points("hole (mm);U-tube (mm);thickness (mm)\n20;500;1\n")
    shares = {part.name: part for part in plate.common}
    p = 998.2 * 9.80665 * 0.5
    assert plate.random[0] == pytest.approx(998.2 * 9.80665 * 0.001 * math.sqrt(2 / 3))  # 1 mm at each leg, rectangles
    assert shares["U-tube"].on_pressure == pytest.approx(0.002 * p)
    assert shares["U-tube"].on_flow == pytest.approx(0.001 * plate.flow)  # the flow goes with the root
    assert shares["discharge of the plates"].on_flow == pytest.approx(0.02 * plate.flow, rel=0.02)
    hole = 2 * 0.1e-3 / math.sqrt(3) / 0.02  # 0.1 mm as a rectangle
    assert plate.random[1] / plate.flow == pytest.approx(math.hypot(hole, plate.random[0] / p / 2), rel=1e-6)
    (printed,) = points("pressure (kPa);flow (L/s)\n10;20\n")
    shares = {part.name: part for part in printed.common}
    assert printed.random[:2] == pytest.approx((0.005 * 10e3, 0.01 * 0.02))
    assert shares["scale of the pressure"].on_pressure == pytest.approx(0.01 * 10e3)
    assert shares["scale of the flow"].on_flow == pytest.approx(0.03 * 0.02)


def test_an_uncertainty_in_a_column_replaces_the_usual_one():
    (own,) = points("pressure (kPa);flow (L/s);u pressure (Pa);u flow (L/s)\n10;20;30;0.1\n")
    assert (own.u_pressure, own.u_flow, own.common) == (pytest.approx(30.0), pytest.approx(1e-4), ())
