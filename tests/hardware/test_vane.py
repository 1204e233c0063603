"""The printed vane: field at the Hall switch, pulses, and the range of each bore."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import printed
import pytest

from frothline.sensors.anemometers import RotorElement
from frothline.sensors.reading import Reading
from frothline.sensors.series import Status
from frothline.sensors.spool import Spool

vane = printed.script("vane")
sizes = printed.sizes
DRAWN = Spool.default()


def by_current_loops(z, r=3.0, t=3.0, remanence=1.17, loops=4000):
    """The same field from Biot and Savart: the surface current Br/mu0 of the disc as a stack of loops, on their axis."""
    at = z + (np.arange(loops) + 0.5) * t / loops
    return float(np.sum(remanence * t / loops * r**2 / (2 * (r**2 + at**2) ** 1.5)))


@pytest.mark.parametrize("z", [0.0, 1.0, 4.5, 10.0])
def test_the_field_of_a_disc_is_that_of_a_stack_of_current_loops(z):
    assert vane.field_on_axis(z) == pytest.approx(by_current_loops(z), rel=1e-6)


def test_far_from_a_magnet_its_field_is_that_of_a_dipole():
    """B = Br V/(2 pi z^3), z from the middle of the magnet (textbook)."""
    volume = np.pi / 4 * 6.0**2 * 3.0
    assert vane.field_on_axis(100.0) == pytest.approx(1.17 * volume / (2 * np.pi * 101.5**3), rel=2e-3)


def test_at_the_pole_of_a_long_magnet_the_field_is_half_the_remanence():
    assert vane.field_on_axis(0.0, sizes.Magnet(diameter=1.0, thickness=100.0)) == pytest.approx(1.17 / 2, rel=1e-3)


def test_the_switch_operates_over_the_drawn_gap_and_over_a_wider_print():
    """Operate point of the A3144: 35 mT at most at 25 C, 45 mT over its temperatures (from memory)."""
    drawn = vane.switch_distance()
    assert vane.field_on_axis(drawn + vane.TOLERANCE) > 45e-3
    assert vane.field_on_axis(vane.largest_distance()) == pytest.approx(45e-3, rel=1e-6)
    assert drawn + vane.TOLERANCE < vane.largest_distance()


def test_a_magnet_of_five_millimetres_would_not_reach_the_switch():
    """5 x 2 mm, the commoner size: too weak through the floor of the pocket; the parts list says so."""
    assert vane.field_on_axis(vane.switch_distance(), sizes.Magnet(5.0, 2.0)) < 45e-3


def test_between_two_magnets_the_switch_lets_go():
    """Half way the field points the other way and is far below the operate point, in every bore of the table."""
    for bore in (52.5, 63.0, 103.6):
        assert vane.field_between(bore, vane.switch_distance()) < vane.A3144.releases


def test_the_field_between_is_that_of_one_magnet_when_it_faces_the_switch(monkeypatch):
    """With one magnet in a turn, half way is the far side: 1.17 T x 84.8 mm3 over 4 pi (58 mm)^3, along the axis twice."""
    monkeypatch.setattr(sizes, "VANES", 1)
    centre = 63 / 2 - 1.0 - 0.8 - 1.5
    far = 2 * centre + 1.5 + 4.5
    one = 1.17 * np.pi / 4 * 36 * 3 / (2 * np.pi * far**3)
    assert vane.field_between(63.0, 4.5) == pytest.approx(-2 * one, rel=1e-6)


def test_the_distance_is_the_one_of_the_drawing():
    """Outer face of the magnet to the floor of the pocket, on the meshes: skin, gap and floor."""
    rotor, carrier = printed.mesh("rotor"), printed.mesh("carrier")
    tip = np.hypot(*rotor.vertices.T[:2]).max()
    height = carrier.bounds[1][2] - 28 - 14 - sizes.ROTOR_HEIGHT + sizes.MAGNET_FLOOR + 3.0
    hits, _, _ = carrier.ray.intersects_location([[0.0, 0.0, height]], [[0.0, 1.0, 0.0]])
    pocket = hits[:, 1].max()
    drawn = vane.switch_distance() - vane.GLUE - vane.A3144.depth
    assert pocket - (tip - sizes.POD_SKIN) == pytest.approx(drawn, abs=0.15)


def test_the_vane_turns_once_in_its_pitch():
    """On the mesh: 18 mm of height turn a vane by 18/233.1 of a turn, 27.8 degrees; tip at 30 mm leans 39 degrees."""
    rotor = printed.mesh("rotor")
    angles = []
    for height in (9.9, 17.9):
        at = rotor.section([0, 0, 1], [0, 0, height]).vertices
        r, phi = np.hypot(*at.T[:2]), np.degrees(np.arctan2(at[:, 1], at[:, 0])) % 60
        tip = phi[r > 30.1]
        angles.append((tip.min() + tip.max()) / 2)
    assert (angles[1] - angles[0]) % 60 == pytest.approx(360 * 8.0 / 233.1, abs=0.6)
    assert np.degrees(np.arctan(2 * np.pi * 30.5 / 233.1)) < 45


def test_the_firmware_counts_eight_thousand_edges_a_second():
    """125 us between edges, as firmware/README.md says."""
    assert vane.capture_limit() == 8000.0
    assert "within 125 µs" in (Path(__file__).parents[2] / "firmware/README.md").read_text("utf-8")


def test_a_range_begins_at_start_up_and_ends_where_the_host_marks_it():
    """0.4 m/s and 30 m/s over 3117 mm2, by hand: 1.25 and 93.5 L/s. The package marks a flow above as out of range."""
    found = vane.flow_range(vane.printed_spool(0.075, 0.063))
    assert found.starts == pytest.approx(1.25e-3, rel=0.01)
    assert found.largest == pytest.approx(93.5e-3, rel=0.01)
    line = vane.LineState.__new__(vane.LineState)
    for factor, marked in ((0.99, False), (1.01, True)):
        reading = Reading(np.array([found.frequency * factor]), np.zeros(1, np.uint8), ())
        status = RotorElement(found.spool).volume_flow(reading, line).status
        assert bool(status[0] & Status.OUT_OF_RANGE) is marked


def test_a_rotor_of_many_pulses_is_limited_by_the_firmware():
    drawn = vane.printed_spool(0.075, 0.063)
    fast = replace(drawn, rotor=replace(drawn.rotor, pulses_per_cubic_metre=2e5))
    assert vane.flow_range(fast).largest == pytest.approx(8000 / 2e5 + 0.4 * drawn.pipe.area, rel=1e-6)


def test_stiff_bearings_start_later():
    """By hand: 20 uN m = 1.2 x 3.117e-3 x v^2 x (2 pi 0.02033/0.2331) x 0.02033; v = 0.70 m/s."""
    assert vane.start_speed(DRAWN) == pytest.approx(0.697, rel=0.01)
    assert vane.start_speed(DRAWN, 80e-6) == pytest.approx(2 * vane.start_speed(DRAWN), rel=1e-9)


def test_the_page_of_the_rotor_is_the_one_computed():
    assert (printed.SPOOL / "rotor.md").read_text("utf-8") == vane.page()
