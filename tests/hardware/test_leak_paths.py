"""No path leads from the bore to the room: neither in a printed part nor in the assembled line with the blind plate.

Free space is connected in columns, exact along the pipe and every 0.7 mm across it. Sockets are filled with tape as the
guide says: the pipe of a test reaches into the middle of the socket's wall.
"""

import numpy as np
import printed
import pytest
from printed import measure, mesh

from frothline.physics.safety import HARD_PRESSURE_LIMIT, push_fit_force
from frothline.sensors.spool import Spool

SIZES = printed.sizes.sizes(Spool.default())
TAPED = SIZES["socket_inner"] / 2 + 1  # mm, radius of a taped pipe
OFF_AXIS = measure.OFF_AXIS
Columns, leaks, moved, stopper = measure.Columns, measure.leaks, measure.moved, measure.stopper

# A square holder whose plate of 2 mm slides into a slot of 2.4 mm, open on one side, and which air presses outward.
SLOT = """
$fn = 48;
difference() {
    translate([-45, -45, 0]) cube([90, 90, 12]);
    translate([0, 0, -1]) cylinder(d = 63, h = 14);
    translate([-40.3, -40.3, 6]) cube([100, 80.6, 2.4]);
}
"""
SLOT_PLATE = "translate([-40, -40, 6.4]) cube([80, 80, 2]);"


def holder(hole=0.0, *, gasket=True):
    return measure.holder(mesh, Spool.default(), hole, gasket=gasket)


def pipe(low, high):
    import trimesh

    made = trimesh.creation.annulus(SIZES["bore"] / 2, TAPED, high - low, sections=72)
    made.apply_translation((0, 0, (low + high) / 2))
    return made


@pytest.mark.slow
def test_the_blind_plate_in_its_holder_leaves_no_path_to_the_room():
    assert not leaks([*holder(), stopper(TAPED, 20, 30)], (*OFF_AXIS, 12))


@pytest.mark.slow
def test_a_holder_without_its_gasket_leaks():
    assert leaks([*holder(gasket=False), stopper(TAPED, 20, 30)], (*OFF_AXIS, 12))


@pytest.mark.slow
def test_the_smallest_hole_of_a_plate_is_found_as_a_path():
    assert leaks([*holder(hole=2.5), stopper(TAPED, 20, 30)], (*OFF_AXIS, 12))


@pytest.mark.slow
def test_a_plate_in_an_open_slot_leaks_round_its_edge(tmp_path):
    """What a plate without a seal does: 0.4 mm are open before it, and the slot is open to one side."""
    block = printed.drawn(SLOT, tmp_path)
    plate = printed.drawn(SLOT_PLATE, tmp_path)
    assert leaks([block, plate, stopper(33, -6, 0.1)], (*OFF_AXIS, 3))


@pytest.mark.slow
@pytest.mark.parametrize("part", ["carrier", "adapter"])
def test_a_part_has_no_path_past_its_closed_ends(part):
    solids, inside = measure.closed(mesh, Spool.default(), part)
    assert not leaks(solids, inside)
    assert leaks(solids[:-1], inside)  # without a stopper it is open


@pytest.mark.slow
def test_the_whole_line_with_the_blind_plate_is_one_closed_space():
    """From the blind plate up: holder, 315 mm of pipe, carrier, 630 mm of pipe, adapter, and a stopper for the hose."""
    spool, sockets = Spool.default(), SIZES["socket_depth"]
    start = SIZES["flange"]
    behind = start + spool.pipe.straight_downstream * 1e3
    carrier_top = behind - sockets + mesh("carrier").bounds[1][2]
    before = carrier_top - sockets + spool.pipe.straight_upstream * 1e3
    adapter_top = before - sockets + mesh("adapter").bounds[1][2]
    line = [
        *holder(),
        pipe(start, behind),
        moved(mesh("carrier"), (0, 0, behind - sockets)),
        pipe(carrier_top - sockets, before),
        moved(mesh("adapter"), (0, 0, before - sockets)),
        stopper(SIZES["hose_socket"] / 2 + 1, adapter_top - 5, adapter_top + 2),
    ]
    columns = Columns(line, pitch=0.7)
    inside = columns.space_at(*OFF_AXIS, 100)
    assert inside != columns.outside
    assert inside == columns.space_at(*OFF_AXIS, before - 100)  # one space from end to end


def test_a_gap_of_a_tenth_of_a_millimetre_is_found():
    """Two blocks 0.1 mm apart round a hollow: the columns are exact along the pipe."""
    import trimesh

    for gap, found in ((0.1, True), (0.0, False)):
        tube = trimesh.creation.annulus(5, 10, 10, sections=36)
        tube.apply_translation((0, 0, 5))
        lids = [stopper(10, -3 - gap, -gap), stopper(10, 9.9, 13)]
        assert leaks([tube, *lids], (0.3, 0.3, 5), pitch=0.4) is found


DRILLED = """
$fn = 48;
difference() {{
    cylinder(r = {outside}, h = 52);
    translate([0, 0, -1]) cylinder(d = {bore}, h = 54);
    translate([20, 0, 20]) rotate([0, 90, 0]) cylinder(d = {tap}, h = 40);
}}
"""


@pytest.mark.slow
def test_the_saddle_on_its_drilled_pipe_opens_to_the_tube_alone(tmp_path):
    """Glue fills the 0.1 mm between pipe and saddle. With a stopper on the nipple the bore is closed, without it is open."""
    inside = SIZES["pipe_outer"] / 2 + 0.1
    outside = (inside + 0.4) / np.cos(np.pi / 48)  # into the saddle all round: facets of both
    pipe = printed.drawn(DRILLED.format(outside=outside, bore=SIZES["bore"], tap=SIZES["tap_bore"]), tmp_path)
    ends = [stopper(outside, -3, 0.5), stopper(outside, 51.5, 55)]
    up = np.radians(50)
    tip = np.array([inside + 26 * np.cos(up), 0.0, 20 + 26 * np.sin(up)])
    cap = moved(stopper(4.5, -4, 4), tip)
    solids = [mesh("saddle"), pipe, *ends]
    assert leaks(solids, (*OFF_AXIS, 30), pitch=0.4)
    assert not leaks([*solids, cap], (*OFF_AXIS, 30), pitch=0.4)


@pytest.mark.slow
def test_the_tap_of_the_saddle_leads_from_the_pipe_to_the_tip_of_its_nipple():
    """A ray along the channel, 50 degrees upward from the mouth, meets no print."""
    saddle = mesh("saddle")
    start = np.array([[SIZES["pipe_outer"] / 2 - 1.0, 0.0, 20 - 1.1 * np.tan(np.radians(50))]])
    way = np.array([[np.cos(np.radians(50)), 0.0, np.sin(np.radians(50))]])
    assert not saddle.ray.intersects_any(start, way)[0]
    assert saddle.ray.intersects_any(start + np.array([0, 3.0, 0]), way)[0]


def test_four_screws_hold_the_plate_at_the_hard_limit():
    """35 kPa over the outside of the gasket, 80 mm: 176 N by hand, and rubber of m 0.5 (ASME VIII-1, appendix 2, from
    memory) adds 2 x 0.5 x p over its ring. A hand-tight M5 wing nut gives some hundred newtons; common practice."""
    across = SIZES["gasket_outer"] * 1e-3
    push = push_fit_force(across, HARD_PRESSURE_LIMIT)
    assert push == pytest.approx(176, abs=1)
    ring = np.pi / 4 * (across**2 - (SIZES["gasket_inner"] * 1e-3) ** 2) * HARD_PRESSURE_LIMIT
    assert (push + ring) / 4 < 100


def nearest(solid, points, above):
    """Height of the first print that rays along the axis meet at points (n, 2), from a height; NaN where they meet none."""
    origins = np.column_stack([points, np.full(len(points), above)])
    ways = np.tile([0.0, 0.0, -np.sign(above)], (len(points), 1))
    hits, rays, _ = solid.ray.intersects_location(origins, ways, multiple_hits=True)
    met = [hits[rays == i][:, 2] for i in range(len(points))]
    return np.array([z[np.argmin(np.abs(z - above))] if z.size else np.nan for z in met])


@pytest.mark.slow
def test_the_gasket_lies_on_print_all_round_and_the_screws_have_their_holes():
    """Rays onto the sealing face of the holder and the pressing face of the ring: print under the whole gasket, holes of
    5.5 mm for M5 (ISO 273, medium) and print around them."""
    turn = np.radians(np.arange(1.7, 360, 7.3))
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    for part, above, face in (("plate_holder", -5.0, 0.0), ("plate_ring", 50.0, SIZES["ring"])):
        for r in (SIZES["gasket_inner"] / 2 + 0.3, SIZES["gasket_outer"] / 2 - 0.3):
            assert nearest(mesh(part), r * ring, above) == pytest.approx(face, abs=1e-3)
        for x, y in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            screw = np.array([x * SIZES["screw_x"], y * SIZES["screw_y"]])
            assert np.isnan(nearest(mesh(part), screw + 2.6 * ring, above)).all()
            assert nearest(mesh(part), screw + 3.0 * ring, above) == pytest.approx(face, abs=1e-3)


def test_print_is_left_under_the_heads_of_the_screws():
    """A head of M5 is 3.5 mm high (ISO 4017) and is let in 3.6 mm; 4 mm of print under it carry a hundred newtons."""
    assert SIZES["flange"] - 3.6 >= 4.0


def test_the_gasket_is_covered_by_plate_holder_and_ring():
    assert SIZES["bore"] <= SIZES["gasket_inner"]
    assert SIZES["gasket_outer"] + 1 <= SIZES["plate_width"]
    # between the screws, with less than a millimetre of play
    assert 0.3 <= 2 * SIZES["screw_x"] - SIZES["screw"] - SIZES["plate_width"] <= 1.0
    assert SIZES["stop_height"] < 1.5  # the thinnest sheet of the parts list


def test_a_blind_plate_of_print_bends_less_than_a_millimetre():
    """Round plate, edge free to turn: w = p r^4 (5 + nu)/((1 + nu) 64 D), D = E t^3/(12 (1 - nu^2)) (Timoshenko, plates,
    uniform load). PETG: E 2 GPa, nu 0.38, from memory."""
    t, r = printed.sizes.PRINTED_PLATE * 1e-3, (SIZES["gasket_inner"] + SIZES["gasket_outer"]) * 0.25e-3
    stiff = 2e9 * t**3 / (12 * (1 - 0.38**2))
    assert HARD_PRESSURE_LIMIT * r**4 * 5.38 / (1.38 * 64 * stiff) < 1e-3
