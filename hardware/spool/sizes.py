"""Sizes of the printed parts in millimetres, derived from the spool file; spool.scad receives all of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from frothline.sensors.spool import Spool

BED = 180.0  # mm: width, depth and height that every part fits
LEAST_WALL = 2.0  # mm between bore and room, five lines of a 0.4 mm nozzle; common practice, no source
LEAST_WEB = 0.8  # mm of any other wall, two lines of a 0.4 mm nozzle; common practice, no source
STEEP = 1.05  # rise over run of every inclined underside; 1 is 45 degrees
CONE = 7.0  # degrees on each side of the adapter's cone where the bed allows it
TAP_BORE = 1.5  # pressure tap, drilled in the pipe
PRINTED_PLATE = 3.0  # thickness; a blind one of PETG then bends less than 1 mm at 35 kPa
GASKET, GASKET_PRESSED = 2.0, 1.5  # rubber sheet, free and under the screws
PIN, PIN_LENGTH = 3.0, 40.0  # steel pin of the rotor
PIN_DEPTH = 12.0  # of it in the hub of the carrier
BOSS = 0.8  # of hub and nose: touches the inner ring of a bearing only
BEFORE_ROTOR = 14.0  # from the end of the upstream pipe to the rotor
BEARING_BORE, BEARING_OUTER, BEARING_WIDTH = 3.0, 10.0, 4.0  # ball bearing 623: ISO 15, dimension series 02
ROTOR_HEIGHT = 18.0
TIP_GAP = 1.0  # between vane tip and bore
POD_SKIN = 0.8  # print between magnet and air
MAGNET_DIAMETER, MAGNET_THICKNESS = 6.0, 3.0
POCKET_FLOOR = 2.0  # print between bore and Hall switch
MAGNET_FLOOR = 1.5  # print under a magnet
MOST_BLOCKAGE = 0.25  # share of the bore that hub, vanes and pods may take; judgement
VANES = 6  # each carries one magnet
VANE_THICK = 1.2
POD_WIDTH = MAGNET_DIAMETER + 2.0  # pod: the box at a vane's tip that holds the magnet
POD_DEPTH = POD_SKIN + MAGNET_THICKNESS + 0.4 + 1.0
HUB = BEARING_OUTER / 2 + 2.0  # radius
PITCH = 3.7  # length of air that turns the vane once, in bores: the vane's tip is then steeper than 45 degrees
SLIP = 0.03  # share by which the vane turns slower than its pitch; judgement, the calibration replaces it


@dataclass(frozen=True)
class Magnet:
    """Disc, magnetised through its thickness: mm, and remanence in T."""

    diameter: float = MAGNET_DIAMETER
    thickness: float = MAGNET_THICKNESS
    remanence: float = 1.17  # least of grade N35: IEC 60404-8-1 lists 1.17 to 1.21 T for this class, from memory


MAGNET = Magnet()


def land(hole: float) -> float:
    """Length of the hole's cylinder: a tenth of its diameter, 0.25 to 0.5 mm."""
    return min(max(hole / 10, 0.25), 0.5)


def cone(spool: Spool) -> tuple[float, float]:
    """Length (mm) of the adapter's cone and the angle of each side (degrees): 7, or what the bed leaves."""
    fixed = _fixed(spool)
    change = abs(fixed["bore"] - fixed["hose_bore"]) / 2
    wanted = change / math.tan(math.radians(CONE))
    room = (
        BED
        - 1.0
        - fixed["socket_depth"]
        - STEEP * (fixed["socket_inner"] - fixed["bore"]) / 2
        - fixed["cuff_depth"]
        - 8.0 * fixed["hose_over"]
    )
    widening = (fixed["hose_socket"] - fixed["socket_inner"]) / 2
    length = max(min(wanted, room), STEEP * widening + fixed["wall"], 6.0)
    return length, math.degrees(math.atan(change / length))


def tap_from_pipe_end(spool: Spool) -> float:
    """mm from the end of the upstream pipe to the tap: the rotor's middle is behind that end."""
    return spool.pipe.tap_to_rotor * 1e3 - BEFORE_ROTOR - ROTOR_HEIGHT / 2


def pitch(bore: float) -> float:
    """Length of air (same unit as the bore) that turns the printed vane once."""
    return PITCH * bore


def blockage(bore: float) -> float:
    """Share of a bore (mm) that hub, vanes and pods take, seen along the axis."""
    span = bore / 2 - TIP_GAP - POD_DEPTH - HUB
    return (math.pi * HUB**2 + VANES * (POD_WIDTH * POD_DEPTH + VANE_THICK * span)) / (math.pi / 4 * bore**2)


def vane_fits(spool: Spool) -> bool:
    """True where the printed vane leaves enough of the bore: 2 in schedule 40 and wider."""
    return blockage(spool.pipe.bore * 1e3) <= MOST_BLOCKAGE


def pulses_per_cubic_metre(spool: Spool) -> float:
    """K of the printed vane by its pitch and blockage, before a calibration: 1/m3."""
    free = spool.pipe.area * (1 - blockage(spool.pipe.bore * 1e3))
    return VANES * (1 - SLIP) / (pitch(spool.pipe.bore) * free)


def _fixed(spool: Spool) -> dict[str, float]:
    bore, outer = spool.pipe.bore * 1e3, spool.pipe.outer_diameter * 1e3
    play = spool.printing.play * 1e3
    over = spool.hose.goes == "over"
    screw = 5.0 if bore > 40.0 else 4.0
    gasket_outer = bore + 17.0
    plate_width = gasket_outer + 2.0
    return {
        "bore": bore,
        "pipe_outer": outer,
        "play": play,
        "wall": spool.printing.wall * 1e3,
        "socket_inner": outer + play,
        "socket_depth": min(max(0.4 * outer, 14.0), 28.0),
        "cuff_depth": 24.0 if spool.hose.cuff_outer > 0.02 else 16.0,
        "hose_over": float(over),
        "hose_bore": spool.hose.cuff_bore * 1e3 - (play + 2 * spool.printing.wall * 1e3 if over else 0.0),
        "hose_socket": spool.hose.cuff_bore * 1e3 - play if over else spool.hose.cuff_outer * 1e3 + play,
        "gasket_inner": bore + 1.0,
        "gasket_outer": gasket_outer,
        "gasket_thick": GASKET,
        "plate_width": plate_width,
        "plate_thick": PRINTED_PLATE,
        "tab_width": min(30.0, 0.6 * plate_width),
        "tab_length": 25.0,
        "screw": screw,
        "screw_x": plate_width / 2 + screw / 2 + 0.3,
        "screw_y": 0.36 * plate_width,
        "nut_across": {5.0: 8.0, 4.0: 7.0}[screw],  # ISO 4032, from memory
        "flange": 8.0,
        "ring": 10.0,
        "stop_height": 1.2,
    }


def sizes(spool: Spool, hole: float | None = None) -> dict[str, float]:
    """Every number that spool.scad is given. ``hole`` mm of the plate, 0 for the blind one; default: the spool file's."""
    fixed = _fixed(spool)
    hole = spool.plate.hole * 1e3 if hole is None else hole
    made = {
        **fixed,
        "steep": STEEP,
        "tap_bore": TAP_BORE,
        "plate_hole": hole,
        "plate_land": land(hole),
        "cone_length": cone(spool)[0],
        "pin": PIN,
        "pin_length": PIN_LENGTH,
        "pin_depth": PIN_DEPTH,
        "boss_height": BOSS,
        "before_rotor": BEFORE_ROTOR,
        "bearing_outer": BEARING_OUTER,
        "bearing_width": BEARING_WIDTH,
        "rotor_height": ROTOR_HEIGHT,
        "tip_gap": TIP_GAP,
        "vanes": VANES,
        "vane_pitch": pitch(fixed["bore"]),
        "vane_thick": VANE_THICK,
        "pod_width": POD_WIDTH,
        "pod_depth": POD_DEPTH,
        "magnet_diameter": MAGNET.diameter,
        "magnet_thick": MAGNET.thickness,
        "magnet_floor": MAGNET_FLOOR,
        "pod_skin": POD_SKIN,
        "pocket_floor": POCKET_FLOOR,
    }
    return {name: round(value, 4) for name, value in made.items()}
