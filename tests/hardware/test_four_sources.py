"""Each air source of the README has a way that works, with plates and a U-tube and no board, and the page says how."""

import math
import re
from pathlib import Path

import numpy as np
import printed
import pytest

from frothline.errors import InputError
from frothline.sensors.spool import Spool

four = printed.script("four_sources")
by_hand = printed.script("by_hand")
ROOT = Path(__file__).parents[2]
WAYS = {way.source.name: way for way in four.WAYS}
PAGE = printed.SPOOL / "four-sources.md"
FOUND = {name: four.points(way, board=False) for name, way in WAYS.items()}


def test_the_readme_names_four_sources_and_each_has_a_way():
    paragraph = (ROOT / "README.md").read_text("utf-8").split("\n\n")[1]
    for word, name in (
        ("workshop\nvacuum", "workshop vacuum"),
        ("leaf blower", "leaf blower"),
        ("tyre inflator", "tyre inflator"),
        ("compressor", "compressor behind a regulator"),
    ):
        assert word.replace("\n", " ") in paragraph.replace("\n", " ")
        assert name in WAYS
    assert "hardware/spool/four-sources.md" in paragraph
    assert "metal pipe" in paragraph


@pytest.mark.parametrize("name", WAYS)
def test_the_way_of_a_source_works(name):
    assert four.shortcomings(WAYS[name], FOUND[name]) == []


@pytest.mark.parametrize("name", WAYS)
def test_every_plate_fits_its_pipe_and_is_covered_by_its_flow_equation(name):
    """Bore ratio 0.8 at most, pressure ratio 0.75 or more: physics/hole.py, after ISO 5167-2."""
    for p in FOUND[name]:
        assert p.plate.hole <= 0.8 * WAYS[name].spool.pipe.bore + 1e-9
        assert p.ratio >= 0.75
        assert p.mach < 0.65  # no jet is near choking: Mach 1 from 89 kPa


def test_a_source_that_only_one_plate_fits_is_refused():
    way, found = WAYS["leaf blower"], FOUND["leaf blower"]
    few, little = four.shortcomings(way, found[:3])
    assert few == "too few plates"
    assert little.startswith("the largest plate leaves 8")
    assert four.shortcomings(way, found[-5:])[0].startswith("the smallest plate leaves")


def test_the_mach_number_of_a_jet_is_that_of_the_tables():
    """Isentropic flow table, k = 1.4: p/p0 0.8430 at Mach 0.50, 0.5283 at Mach 1 (NACA report 1135)."""
    assert four.jet_mach(101_325 * (1 / 0.8430 - 1)) == pytest.approx(0.50, abs=1e-3)
    assert four.jet_mach(101_325 * (1 / 0.5283 - 1)) == pytest.approx(1.0, abs=1e-3)
    assert four.jet_mach(500e3) == pytest.approx(1.0)  # the hole is choked, no more


def test_a_tube_of_two_metres_in_water_relieves_below_what_the_sensor_and_the_pipe_stand():
    """2 m of water at 20 C: 998.2 x 9.807 x 2 = 19.58 kPa; sensor 50 kPa; 25 kPa is the soft limit of the package."""
    assert four.INFLATOR.shut_off == pytest.approx(19_580, rel=1e-3)
    assert four.INFLATOR.shut_off < 25e3


@pytest.mark.parametrize("name", ["tyre inflator", "compressor behind a regulator"])
def test_compressed_air_has_no_printed_part_and_a_metal_pipe(name):
    way = WAYS[name]
    assert not way.printed
    assert "copper" in way.spool.pipe.description
    assert "tube" in way.first


def without_the_sensor(text):
    """The page without the last column of its tables, which takes half a second a plate."""
    return re.sub(r"^(\|.*Mach.*\|)[^|]*\|$", r"\1", text, flags=re.MULTILINE)


@pytest.mark.exhaustive
def test_the_page_is_the_one_computed_with_its_sensor():
    assert PAGE.read_text("utf-8") == four.page()


def test_the_interval_of_the_sensor_on_the_page_is_that_of_the_package():
    way = WAYS["leaf blower"]
    one = four.point(way, FOUND["leaf blower"][0].plate)
    assert f"| ±{100 * one.by_tube:.1f} % | ±{100 * one.by_sensor:.1f} % |" in PAGE.read_text("utf-8")
    assert one.by_sensor > one.by_tube  # 625 Pa of 3.9 kPa against 2 mm of 400 mm, before a calibration


def test_the_page_is_the_one_computed_and_begins_with_the_caution():
    text = PAGE.read_text("utf-8")
    assert without_the_sensor(text) == without_the_sensor(four.page(board=False))
    assert text.index("bursts plastic pipe") < text.index("| source |")
    assert "relief that cannot be shut" in text.replace("\n> ", " ")


def test_a_flow_by_u_tube_agrees_with_a_hand_calculation():
    """20 mm, 1.41 m of water: 13.80 kPa. Line 20 C + 36 K of exhaust (isentropic 3.76 % of 293 K over 0.30): 1.218 kg/m3;
    0.60 x 0.974 x 314.2 mm2 x sqrt(2 x 13 800 x 1.218) = 33.66 g/s, 28.05 L/s at 1.2 kg/m3; the pipe's approach takes 1 %."""
    found = by_hand.one_plate(Spool.default(), 0.020, 1.41, 293.15, 101_325.0)
    assert found.pressure == pytest.approx(998.2 * 9.80665 * 1.41, rel=1e-4)
    assert found.flow == pytest.approx(28.05e-3, rel=0.015)
    # plate 2 %, hole 2 x 0.05/20 = 0.5 %, level 1.15 mm of 1410 is nothing, temperature half of 2 %
    assert found.u_flow / found.flow == pytest.approx(math.hypot(0.02, 0.005, 0.009), rel=0.06)


def test_the_curve_by_hand_finds_the_source(capsys):
    """Levels made of the leaf blower's curve; shut-off and free delivery come back within their intervals."""
    way = WAYS["leaf blower"]
    points = [by_hand.one_plate(way.spool, p.plate.hole, p.level, 293.15, 101_325.0) for p in FOUND["leaf blower"]]
    curve = by_hand.fit(points)
    assert curve.shut_off.value == pytest.approx(4e3, rel=0.03)
    assert curve.free_delivery.value == pytest.approx(0.150, rel=0.05)
    pairs = [f"{p.plate.hole * 1e3:g}={p.level:.4f}" for p in FOUND["leaf blower"]]
    assert by_hand.main(["--spool", str(printed.SPOOL / "files/leaf-blower.toml"), *pairs]) == 0
    assert re.search(r"shut-off: (3\.9|4)", capsys.readouterr().out)


def test_the_commands_of_the_page_run(capsys):
    text = (printed.SPOOL / "four-sources.md").read_text("utf-8")
    calls = re.findall(r"by_hand\.py (.*)", text)
    assert len(calls) == 2
    for call in calls:
        words = [str(ROOT / w) if w.endswith(".toml") else w for w in call.split()]
        assert by_hand.main(words) == 0
    assert "air power" in capsys.readouterr().out


@pytest.mark.parametrize("text", ["14", "14=", "a=b", "14=9", "0=1", "14=0", "14=nan"])
def test_a_pair_that_makes_no_sense_is_refused(text, capsys):
    with pytest.raises(InputError, match=re.escape(text)):
        by_hand.read_pair(text)
    assert by_hand.main([text]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_four_plates_give_flows_and_say_that_a_curve_needs_five(capsys):
    assert by_hand.main(["14=1.77", "20=1.41", "25=1.05", "32=0.59"]) == 5
    assert "no curve" in capsys.readouterr().out


def test_a_small_pipe_needs_no_word_on_elements_it_does_not_have():
    """Orifice and Venturi of the drawn spool do not fit 20 mm; they are made smaller unless the file names them."""
    made = Spool.parse('[pipe]\nbore = "20 mm"\nouter_diameter = "22 mm"', "my.toml")
    assert made.orifice.bore < 0.02
    assert made.venturi.throat < 0.02
    assert made.plate.hole < 0.02
    with pytest.raises(InputError, match=r"orifice\.bore"):
        Spool.parse('[pipe]\nbore = "20 mm"\n[orifice]\nbore = 0.03', "my.toml")


def test_the_plates_of_the_list_are_unchanged_by_finer_and_larger_drills():
    chosen = four.plates.choose(Spool.default().pipe.bore)
    assert len(chosen) == 10
    assert np.all(np.diff([p.pressure for p in chosen]) < 0)
