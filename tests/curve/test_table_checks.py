"""What a typed table of points contradicts: flows that do not go with their orifices, pressures that are absolute.

The flows of sharp orifices are by hand: q = 0.6 π/4 d² √(2 p/ρ), ρ = 1.2 kg/m³.
"""

import math

import pytest

from frothline import cli
from frothline.errors import InputError
from frothline.sweep.points_by_hand import points_of_text

HOLES = (8, 12, 16, 20, 25, 30)  # mm
SUCTIONS = (20.0, 18.0, 15.0, 11.0, 7.0, 4.0)  # kPa


def orifice(hole, pressure):
    return 0.6 * math.pi / 4 * (hole / 1e3) ** 2 * math.sqrt(2e3 * pressure / 1.2) * 1e3  # L/s


def table(factors=(1.0,) * 6):
    rows = zip(HOLES, SUCTIONS, factors, strict=True)
    return "hole (mm),suction (kPa),flow (L/s)\n" + "".join(
        f"{hole},{suction},{factor * orifice(hole, suction):.3f}\n" for hole, suction, factor in rows
    )


def notes(text):
    return " | ".join(points_of_text(text, "points.csv").notes)


def refused(text):
    with pytest.raises(InputError) as error:
        points_of_text(text, "points.csv")
    return str(error.value)


def test_flows_that_fall_where_hole_and_pressure_rise_are_refused_with_the_likely_cause():
    # flow and pressure swapped; the median ratio alone is 0.56, which one wrong orifice could give
    said = refused("hole (mm),flow (L/s),pressure (kPa)\n8,17,5\n15,15,12\n16,12,20\n20,9,25\n25,6,30\n")
    for part in ("do not go with the holes", "swapped", "line 2: 6", "line 6: 0.09"):
        assert part in said


@pytest.mark.parametrize("factor", [1.6, 0.6])
def test_one_line_whose_flow_is_apart_from_its_orifice_is_named(factor):
    said = notes(table((1.0, 1.0, factor, 1.0, 1.0, 1.0)))
    assert "line 4: " in said
    assert "line 3" not in said
    assert "line 4" not in notes(table((1.0, 1.0, 1.0 + 0.7 * (factor - 1.0), 1.0, 1.0, 1.0)))


def test_flows_with_the_spread_of_plates_are_taken():
    # a plate as thick as its hole passes 1.28 times a thin one's (Idelchik 4-15, from memory)
    assert "line" not in notes(table((1.28, 1.28, 1.0, 1.0, 1.0, 1.0)))


def test_three_of_six_lines_apart_are_refused_and_two_are_named():
    assert "line 2: 1" in notes(table((1.7, 1.7, 1.0, 1.0, 1.0, 1.0)))
    assert "do not go with the holes" in refused(table((1.9, 1.9, 0.5, 1.0, 1.0, 1.0)))


ABSOLUTE = "pressure (kPa),flow (L/s)\n101,40\n106,30\n111,20\n116,10\n121,0\n"


def test_pressures_above_vacuum_are_asked_back():
    said = refused(ABSOLUTE)
    assert "absolute" in said
    assert "subtract the pressure of the room" in said
    # at 1600 m the room has 84 kPa
    assert "absolute" in refused("pressure (kPa),flow (L/s)\n84,40\n92,20\n100,5\n")
    assert "absolute" in refused("pressure (kPa),flow (L/s)\n108,40\n118,20\n128,5\n")
    assert "absolute" in refused("pressure (kPa),flow (L/s),room pressure (kPa)\n76,40,77\n86,20,77\n96,5,77\n")
    assert "absolute" in refused("hole (mm),pressure (kPa)\nclosed,121\n10,118\n20,110\n30,103\n")


@pytest.mark.parametrize(
    "text",
    [
        ABSOLUTE.replace("pressure", "gauge pressure"),  # said to be above the room
        "pressure (bar),flow (L/min)\n1,39\n2,38\n3,37\n",  # a small pump measured from 1 bar on
        "pressure (kPa),flow (L/min)\n100,39\n130,38\n160,37\n",  # it hardly loses flow
        "pressure (kPa),flow (L/s)\n121,40\n101,10\n98,5\n",  # the flow is not largest at the lowest
        "pressure (kPa),flow (L/s)\n112,40\n118,20\n128,5\n",  # far from any room
        "pressure (kPa),flow (L/s)\n100,40\n200,20\n300,5\n",  # no blower spans two atmospheres
        "pressure (kPa),flow (L/s),room pressure (kPa)\n100,40,104\n110,20,104\n120,5,104\n",  # below the room's
        "pressure (kPa),flow (L/s)\n30,40\n40,30\n50,10\n",
        "pressure (kPa),flow (L/s),room pressure (kPa)\n101,40\n106,30,84\n121,0,84\n",  # the room has 84 kPa
    ],
)
def test_gauge_pressures_are_taken(text):
    assert points_of_text(text, "points.csv").points


def test_a_curve_above_one_bar_has_the_caution_of_a_compressor(tmp_path, capsys):
    file = tmp_path / "pump.csv"
    file.write_text("pressure (kPa),flow (L/min)\n0,40\n50,38.7\n100,37.4\n150,36.2\n200,35\n")
    assert cli.main(["curve", str(file)]) == 0
    assert "pipe rated for gas" in capsys.readouterr().out
    file.write_text("pressure (kPa),flow (L/s)\n0,40\n5,35\n10,28\n15,18\n18,9\n")
    assert cli.main(["curve", str(file)]) == 0
    assert "pipe rated for gas" not in capsys.readouterr().out
