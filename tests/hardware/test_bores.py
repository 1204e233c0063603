"""The page on bores and sensors: computed, and right where a hand calculation or a printed table can tell."""

import importlib.util
import re
import sys
from pathlib import Path

import numpy as np
import pytest

from frothline.sensors.spool import Spool

BORES = Path(__file__).parents[2] / "hardware" / "bores"
spec = importlib.util.spec_from_file_location("bores", BORES / "bores.py")
bores = importlib.util.module_from_spec(spec)
sys.modules["bores"] = bores  # dataclasses look themselves up there
spec.loader.exec_module(bores)

TYPICAL = bores.SOURCES[1]
PIPE = bores.PIPES_BY_NAME["75x5.6"]


def test_the_speed_in_the_bore_is_flow_over_area():
    """60 L/s at 1.2 kg/m3 in 63.0 mm: 0.060 / (pi/4 x 0.0630^2) = 19.25 m/s, and 1.2/1.2027 of it in air of 20 C (density
    of dry air 1.2041 at 101.325 kPa, CIPM; 20 % humid 1.2027): at free delivery a blower warms it by its losses alone."""
    assert bores.suit(TYPICAL, PIPE).fast == pytest.approx(19.25 * 1.2 / 1.2027, rel=0.005)


def test_the_spool_takes_some_velocity_heads():
    """By hand at 19.2 m/s: head 1.2027/2 x 19.2^2 = 222 Pa; smooth pipe of 15 bores at Re 75 000, f 0.019 (Moody): 0.29;
    vane 0.5; straightener of 7 cells' lengths at Re 13 500, f 0.029, with a sharp entrance of 0.1: 0.5: together 1.3."""
    assert bores.suit(TYPICAL, PIPE).loss == pytest.approx(1.3 * 222, rel=0.1)


def test_the_largest_air_power_is_where_its_slope_is_nothing():
    source = bores.Source("by hand", 20e3, 0.06, 2.0)  # p q is largest at free/sqrt(3) on a parabola
    assert source.peak == pytest.approx(0.06 / np.sqrt(3))


def test_a_bore_that_is_too_small_is_refused_for_speed_and_loss():
    assert set(bores.suit(TYPICAL, bores.PIPES_BY_NAME["40x3"]).reasons) == {"too fast", "takes pressure"}


@pytest.mark.slow
def test_the_pipe_of_the_drawn_spool_is_the_one_that_comes_out_best():
    """Both the best for the typical source and the one that does for most."""
    best = bores.best(TYPICAL)
    assert best.pipe == bores.for_most() == PIPE
    assert PIPE.outer == pytest.approx(Spool.default().pipe.outer_diameter)
    # EN ISO 1452-2 (from memory): wall 5.6 to 6.4 mm
    assert PIPE.outer - 2 * 6.4e-3 <= Spool.default().pipe.bore <= PIPE.outer - 2 * 5.6e-3


def test_the_flow_is_known_worse_where_it_is_slow():
    one = bores.suit(TYPICAL, PIPE)
    assert one.width_at(0.006) > 1.5 * one.width_at(0.06)


def test_the_pressure_sensor_of_the_parts_list_leaves_its_margin_over_every_source():
    """NXP MPX5050 table (read): 0 to 50 kPa; 25 kPa is the strongest source of the list."""
    for source in bores.SOURCES:
        part, _ = bores.sensor_for(source)
        assert part == "MPX5050"
    assert bores.MARGIN * max(s.shut_off for s in bores.SOURCES) <= 50e3


def test_no_sensor_survives_a_compressor():
    assert 3 * max(bores.OVERLOAD.values()) < bores.MISTAKE


def test_the_page_states_the_choice_and_the_caution():
    text = (BORES / "README.md").read_text("utf-8")
    assert f"**The choice: {PIPE.name} pipe" in text
    assert "Never put compressed air on PVC" in text
    rows = [line for line in text.splitlines() if line.startswith(f"| {PIPE.name} |")]
    speed = re.search(r"([\d.]+) m/s \| ([\d.]+) m/s", rows[0])
    one = bores.suit(TYPICAL, PIPE)
    assert (float(speed[1]), float(speed[2])) == pytest.approx((one.slow, one.fast), abs=0.051)


def kept_plates():
    """Rows of the page's table of drilled plates."""
    text = (BORES / "README.md").read_text("utf-8").split("## Flow without an anemometer")[1].split("##")[0]
    return [line for line in text.splitlines() if line.startswith("|")]


@pytest.mark.slow
@pytest.mark.exhaustive
def test_the_page_is_the_one_computed_but_for_its_plates_and_so_is_its_picture(monkeypatch):
    monkeypatch.setattr(bores, "plates_table", lambda bought: kept_plates())
    assert (BORES / "README.md").read_text("utf-8") == bores.page()
    assert (BORES / "bores.svg").read_text("utf-8") == bores.picture(TYPICAL)


@pytest.mark.slow
@pytest.mark.exhaustive
def test_the_plates_of_the_page_are_the_ones_computed_for_its_first_sensor(monkeypatch):
    monkeypatch.setattr(bores, "SENSORS", bores.SENSORS[:1])
    first = [[cell.strip() for cell in row.split("|")[1:4]] for row in kept_plates()]
    assert first == [[cell.strip() for cell in row.split("|")[1:4]] for row in bores.plates_table(PIPE)]


@pytest.mark.exhaustive
def test_the_page_and_its_picture_are_the_ones_computed():
    assert (BORES / "README.md").read_text("utf-8") == bores.page()
    assert (BORES / "bores.svg").read_text("utf-8") == bores.picture(TYPICAL)
