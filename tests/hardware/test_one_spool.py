"""The spool file, the parts list, the guide and the page on bores say one thing of bore, rotor and load cell."""

import csv
import re
from pathlib import Path

import printed
import pytest

from frothline.sensors.spool import Spool
from frothline.simulation import instruments

HARDWARE = Path(__file__).parents[2] / "hardware"
DRAWN = Spool.default()
BORE = f"{DRAWN.pipe.bore * 1e3:.1f} mm"
LEAST_FLOW = "±25 %"


def parts():
    with (HARDWARE / "parts/parts.csv").open(encoding="utf-8") as file:
        return {row["function"]: row for row in csv.DictReader(file)}


def guide(name):
    return (HARDWARE / "guide" / name).read_text("utf-8")


def test_the_load_cell_is_the_same_in_spool_file_parts_list_guide_and_simulated_rig():
    cell = f"{DRAWN.scale.capacity:g} kg, {DRAWN.scale.sensitivity * 1e3:g} mV/V"
    assert f"load cell {cell}" in parts()["scale"]["description"]
    assert f"load cell ({cell})" in guide("6-calibrate.md")
    assert DRAWN.scale.capacity == instruments.CELL_CAPACITY


def test_the_load_cell_carries_the_reservoir_of_the_simulated_rig_when_it_is_full():
    from frothline.simulation.generator import TARE, SimulatedBuild

    assert DRAWN.scale.capacity > SimulatedBuild("b", "").reservoir + TARE


def test_the_bore_is_the_same_in_spool_file_parts_list_guide_and_page_on_bores():
    assert f"bore {BORE}" in parts()["spool"]["description"]
    assert BORE in guide("1-spool.md")
    assert f"{DRAWN.pipe.bore * 1e3:.0f} mm bore" in guide("1-spool.md")
    page = (HARDWARE / "bores/README.md").read_text("utf-8")
    assert f"bore {BORE}" in page
    assert set(re.findall(r"\| 75x5.6 \| (63\.\d mm) \|", page)) == {BORE}


def test_the_pipe_of_the_parts_list_is_long_enough_for_both_straight_lengths():
    length = float(re.search(r"([\d.]+) m,", parts()["spool"]["description"])[1])
    assert length >= DRAWN.pipe.straight_upstream + DRAWN.pipe.straight_downstream
    for piece in (DRAWN.pipe.straight_upstream, DRAWN.pipe.straight_downstream):
        assert f"{piece * 1e3:.0f} mm" in guide("1-spool.md")


def test_before_its_calibration_the_rotor_has_one_uncertainty_everywhere():
    assert not DRAWN.rotor.calibrated
    assert 1.96 * DRAWN.rotor.u_relative == pytest.approx(0.25, abs=0.002)
    for text in (guide("1-spool.md"), guide("6-calibrate.md"), (HARDWARE / "bores/README.md").read_text("utf-8")):
        assert LEAST_FLOW in text
        assert "judgement" in text
    assert "25 %" in parts()["anemometer"]["calibration_change"]


def test_the_pulses_of_a_turn_are_the_magnets_of_the_printed_rotor_everywhere():
    assert DRAWN.rotor.pulses_per_revolution == printed.sizes.VANES == int(parts()["rotor magnets"]["quantity"])
    assert "six magnets" in guide("1-spool.md")
    assert "six pulses per turn" in guide("1-spool.md")
    assert Spool.for_board("simulated 3").rotor.pulses_per_revolution == instruments.PULSES_PER_REVOLUTION


def test_another_rotor_is_counted_and_asked_for():
    assert "pulses per turn" in guide("1-spool.md")
    assert "pulses the rotor gives in one" in guide("6-calibrate.md")
    assert "pulses a turn" in parts()["anemometer"]["calibration_change"]


def test_the_bearings_of_the_parts_list_fit_the_rotor():
    s = printed.sizes
    size = f"{s.BEARING_BORE:g} x {s.BEARING_OUTER:g} x {s.BEARING_WIDTH:g} mm"
    assert size in parts()["rotor bearings"]["description"]
    assert f"{s.MAGNET_DIAMETER:g} x {s.MAGNET_THICKNESS:g} mm" in parts()["rotor magnets"]["description"]


def test_the_screws_of_the_parts_list_reach_through_the_holder_with_the_nuts_two_turns_loose():
    """From the bottom of the hexagon (flange less 3.6 mm) through gasket, plate, ring and a washer of 1 mm, two turns of
    0.8 mm (ISO 261, M5) and 5 mm of thread in the wing nut."""
    s = printed.sizes.sizes(DRAWN)
    size, length = map(float, re.search(r"M(\d) x (\d+)", parts()["plate gasket and screws"]["description"]).groups())
    needed = s["flange"] - 3.6 + s["gasket_thick"] + s["plate_thick"] + s["ring"] + 1.0 + 2 * 0.8 + 5.0
    assert size == s["screw"]
    assert needed <= length <= needed + 10
    sheet = float(re.search(r"(\d+) x \1 mm", parts()["plate gasket and screws"]["description"])[1])
    assert sheet >= s["gasket_outer"]


def test_the_k_factor_of_the_spool_file_follows_from_the_pitch_of_the_printed_vane():
    """Pulses in a cubic metre: vanes over pitch x free area, by hand. Pitch 3.7 x 63 mm = 0.2331 m, free area 0.828 of
    3117 mm2, six pulses, 3 % of slip: 9670; the file rounds within 1 %."""
    by_hand = 6 * 0.97 / (0.2331 * 3.117e-3 * 0.828)
    assert printed.sizes.pulses_per_cubic_metre(DRAWN) == pytest.approx(by_hand, rel=2e-3)
    assert DRAWN.rotor.pulses_per_cubic_metre == pytest.approx(by_hand, rel=0.01)
