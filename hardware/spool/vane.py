"""The printed vane rotor: field of its magnets at the Hall switch, and the range of flow that each bore covers.

python hardware/spool/vane.py          writes rotor.md beside this file
"""

from __future__ import annotations

import math
import re
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from frothline.generator.stock_sizes import PIPES_BY_NAME
from frothline.physics import air
from frothline.sensors.anemometers import RotorElement
from frothline.sensors.line_state import LineState
from frothline.sensors.reading import Reading
from frothline.sensors.spool import Spool
from frothline.wire import WIRE

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
import sizes  # noqa: E402

FIRMWARE = HERE.parents[1] / "firmware/core/rotor.h"
GLUE = 0.2  # mm under the switch
TOLERANCE = 0.3  # mm by which print and bearing may be wider than drawn; judgement
BEARING_TORQUE = 10e-6  # N m, starting torque of one 623 without grease, thinly oiled; judgement, no source
MAGNET_DENSITY = 7500.0  # kg/m3, NdFeB, from memory
BORES = ("2 in sch 40", "75x5.6", "90x6.7", "110x8.1", "110x3.2")  # pipes of the table


@dataclass(frozen=True)
class HallSwitch:
    """Fields in T, over the whole range of temperature; ``depth`` mm of the element under the printed side."""

    part: str
    operates: float
    releases: float
    depth: float
    source: str


A3144 = HallSwitch(
    "A3144",
    operates=45e-3,
    releases=2.5e-3,
    depth=0.5,
    source="from memory: operates at 35 mT at most at 25 °C and at 45 mT at most from -40 to 85 °C",
)


def field_on_axis(distance: float, magnet: sizes.Magnet = sizes.MAGNET) -> float:
    """T on the axis of a disc magnet, ``distance`` mm from its face.

    B = Br/2 [(t + z)/sqrt(r^2 + (t + z)^2) - z/sqrt(r^2 + z^2)], an evenly magnetised cylinder (textbook formula)
    """
    r, z, t = magnet.diameter / 2, distance, magnet.thickness
    return magnet.remanence / 2 * ((t + z) / math.hypot(r, t + z) - z / math.hypot(r, z))


def field_between(bore: float, distance: float, magnet: sizes.Magnet = sizes.MAGNET) -> float:
    """T at the switch when it is half way between two magnets: both as dipoles, along the switch's axis. Bore in mm."""
    moment = magnet.remanence * math.pi / 4 * magnet.diameter**2 * magnet.thickness  # T mm3
    centre = bore / 2 - sizes.TIP_GAP - sizes.POD_SKIN - magnet.thickness / 2
    switch, half = centre + magnet.thickness / 2 + distance, math.pi / sizes.VANES
    across, along = centre * math.sin(half), switch - centre * math.cos(half)
    far = math.hypot(across, along)
    # each magnet's axis leans by `half` from that of the switch
    axis = np.array([math.sin(half), math.cos(half)])
    way = np.array([-across, along]) / far
    one = moment / (4 * math.pi * far**3) * (3 * float(axis @ way) * way - axis)
    return 2 * float(one[1])


def switch_distance(switch: HallSwitch = A3144) -> float:
    """mm from the face of a magnet to the element, as drawn."""
    return sizes.POD_SKIN + sizes.TIP_GAP + sizes.POCKET_FLOOR + GLUE + switch.depth


def largest_distance(switch: HallSwitch = A3144) -> float:
    """mm at which the field is just the most that the switch needs."""
    low, high = 0.0, 50.0
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (middle, high) if field_on_axis(middle) > switch.operates else (low, middle)
    return low


def capture_limit() -> float:
    """Hz: the firmware counts no edges that are closer than its shortest interval."""
    (ticks,) = re.findall(r"#define ROTOR_SHORTEST_TICKS (\d+)u", FIRMWARE.read_text("utf-8"))
    return float(WIRE.tick_hz / int(ticks))


def start_speed(spool: Spool, torque: float = 2 * BEARING_TORQUE) -> float:
    """m/s at which the air turns a vane that stands: T = rho A v^2 tan(angle) r, taken at two thirds of the tip's radius."""
    r = 2 / 3 * (spool.pipe.bore / 2 - sizes.TIP_GAP * 1e-3)
    lean = 2 * math.pi * r / sizes.pitch(spool.pipe.bore)
    return math.sqrt(torque / (air.STANDARD_DENSITY * spool.pipe.area * lean * r))


def turns(spool: Spool) -> float:
    """Turns a second at the largest speed of the spool file."""
    return flow_range(spool).frequency / sizes.VANES


def magnet_pull(spool: Spool) -> float:
    """N by which a magnet pulls at its pod then: m (2 pi n)^2 r."""
    magnet = sizes.MAGNET
    mass = MAGNET_DENSITY * math.pi / 4 * magnet.diameter**2 * magnet.thickness * 1e-9
    radius = spool.pipe.bore / 2 - (sizes.TIP_GAP + sizes.POD_SKIN + magnet.thickness / 2) * 1e-3
    return mass * (2 * math.pi * turns(spool)) ** 2 * radius


def pod_stress(spool: Spool) -> float:
    """Pa in the skin of the pod, as a beam held on both sides under an even load: F w/12 over its section modulus."""
    wide, high = (sizes.MAGNET_DIAMETER + 0.2) * 1e-3, (sizes.MAGNET_DIAMETER + 1.5) * 1e-3
    return magnet_pull(spool) * wide / 12 / (high * (sizes.POD_SKIN * 1e-3) ** 2 / 6)


@dataclass(frozen=True)
class Range:
    """One bore with the printed vane. Flows m3/s at line state, frequencies Hz."""

    spool: Spool
    starts: float
    starts_at_worst: float
    largest: float
    frequency: float
    capture: float


def printed_spool(outer: float, bore: float) -> Spool:
    """The drawn spool with the printed vane in another pipe, m."""
    drawn = Spool.default()
    grown = bore / drawn.pipe.bore
    pipe = replace(
        drawn.pipe,
        bore=bore,
        outer_diameter=outer,
        straight_upstream=drawn.pipe.straight_upstream * grown,
        straight_downstream=drawn.pipe.straight_downstream * grown,
        tap_to_rotor=drawn.pipe.tap_to_rotor * grown,
    )
    made = replace(drawn, pipe=pipe)
    return replace(made, rotor=replace(made.rotor, pulses_per_cubic_metre=sizes.pulses_per_cubic_metre(made)))


def flow_at(spool: Spool, frequency: float) -> float:
    """m3/s at line state that the host gives for a rotor frequency in Hz."""
    one = np.ones(1)
    line = LineState.__new__(LineState)  # a K factor per volume does not use the state of the line
    reading = Reading(frequency * one, np.zeros(1, np.uint8), ())
    return float(RotorElement(spool).volume_flow(reading, line).value[0])


def flow_range(spool: Spool) -> Range:
    """From start-up to the largest speed of the vane or the firmware's limit, whichever comes first."""
    still = flow_at(spool, 0.0)
    capture = flow_at(spool, capture_limit())
    largest = min(spool.rotor.largest_speed * spool.pipe.area, capture)
    slope = flow_at(spool, 1.0) - still
    worst = max(start_speed(spool), spool.rotor.start_speed) * spool.pipe.area
    return Range(spool, still, worst, largest, (largest - still) / slope, capture)


def table() -> list[str]:
    rows = [
        "| pipe | bore | K before a calibration | starts at | starts at, stiff bearings | up to | pulses a second there | "
        "firmware counts up to |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for name in BORES:
        bought = PIPES_BY_NAME[name]
        bore = Spool.default().pipe.bore if name == "75x5.6" else bought.bore
        one = flow_range(printed_spool(bought.outer, bore))
        rows.append(
            f"| {name} | {bore * 1e3:.1f} mm | {one.spool.rotor.pulses_per_cubic_metre:.0f} /m³ | {one.starts * 1e3:.1f} L/s | "
            f"{one.starts_at_worst * 1e3:.1f} L/s | {one.largest * 1e3:.0f} L/s | {one.frequency:.0f} Hz | "
            f"{one.capture * 1e3:.0f} L/s |"
        )
    drawn = Spool.default()
    fan = flow_range(drawn)
    rows.append(
        f"| 75x5.6, rotor of a 60 mm fan | {drawn.pipe.bore * 1e3:.1f} mm | {drawn.rotor.pulses_per_cubic_metre:.0f} /m³ taken, pitch "
        f"unknown | {fan.starts * 1e3:.1f} L/s | its bearing decides | {fan.largest * 1e3:.0f} L/s | by its magnets | "
        f"{fan.capture * 1e3:.0f} L/s |"
    )
    return rows


def page() -> str:
    """rotor.md"""
    gap, most = switch_distance(), largest_distance()
    share = sizes.blockage(63.0)
    return f"""# The printed vane rotor

Made by `vane.py` from the sizes of the drawing, the spool file and the firmware; a test makes it again and compares.

> Hearing protection and goggles when it runs. A vane that comes apart at full speed is stopped by the carrier, not by a
> hand: never run it outside the carrier with more than breath. Small magnets are dangerous when swallowed.

| | |
|---|---|
| vanes | {sizes.VANES}, pitch {sizes.pitch(63.0):.0f} mm ({sizes.PITCH:g} bores) a turn |
| bearings | two ball bearings 623, {sizes.BEARING_BORE:g} × {sizes.BEARING_OUTER:g} × {sizes.BEARING_WIDTH:g} mm, washed free of grease, one drop of thin oil |
| pin | steel, {sizes.PIN:g} × {sizes.PIN_LENGTH:g} mm, {sizes.PIN_DEPTH:g} mm of it in the hub |
| magnets | {sizes.VANES} discs {sizes.MAGNET_DIAMETER:g} × {sizes.MAGNET_THICKNESS:g} mm, N35 or stronger, south pole outward, outer face at a radius of {63 / 2 - sizes.TIP_GAP - sizes.POD_SKIN:.1f} mm |
| pulses | {sizes.VANES} a turn, as in the spool file |
| gap of the vane's tips | {sizes.TIP_GAP:g} mm |
| taken of the bore | {100 * share:.0f} % |
| at 30 m/s | {turns(Spool.default()):.0f} turns a second; a magnet pulls at its pod with {magnet_pull(Spool.default()):.0f} N, {pod_stress(Spool.default()) / 1e6:.0f} MPa in print that yields at 45 MPa (PETG, from memory) |
| Hall switch | {A3144.part}, unipolar, printed side towards the bore |

## The distance of the switch

The field of a disc magnet on its axis is B = Br/2 [(t + z)/√(r² + (t + z)²) − z/√(r² + z²)], with Br = {sizes.MAGNET.remanence:g} T for N35.

| | distance | field |
|---|---|---|
| as drawn: skin {sizes.POD_SKIN:g}, gap {sizes.TIP_GAP:g}, floor {sizes.POCKET_FLOOR:g}, glue {GLUE:g}, depth of the element {A3144.depth:g} mm | {gap:.1f} mm | {field_on_axis(gap) * 1e3:.0f} mT |
| {TOLERANCE:g} mm wider by print and bearing | {gap + TOLERANCE:.1f} mm | {field_on_axis(gap + TOLERANCE) * 1e3:.0f} mT |
| largest at which the {A3144.part} still operates ({A3144.operates * 1e3:.0f} mT) | {most:.1f} mm | {A3144.operates * 1e3:.0f} mT |
| half way between two magnets | | {field_between(63.0, gap) * 1e3:.1f} mT: the field points the other way, the switch is open (it opens below {A3144.releases * 1e3:.1f} mT) |

Figures of the {A3144.part}: {A3144.source}. Check them in the data sheet of the part that you bought.

## Which flow each bore covers

{chr(10).join(table())}

“Starts at” is the start-up speed of the spool file, {Spool.default().rotor.start_speed:g} m/s, times the area. Two bearings that need
{BEARING_TORQUE * 1e6:.0f} µN·m each to start (judgement, no source) let it start at the second figure only. If yours starts late, write the speed into
`start_speed`. “Up to” is the largest speed of the spool file, {Spool.default().rotor.largest_speed:g} m/s. The firmware counts edges that are
125 µs apart or more, {capture_limit():.0f} a second: far above. Below a bore of 50 mm the hub and the pods take too much of the
bore: measure with the plates there.

Before a calibration the flow is known to ±25 % (95 %, judgement), as with a rotor out of a fan. Calibrate the vane against
the plates in the first sweep (`.venv/bin/frothline calibrate flow-plates`, or the *spool* page): five plates or more, one
after the other; after that the plates' own 2 % (standard uncertainty) is left.
"""


if __name__ == "__main__":
    (HERE / "rotor.md").write_text(page(), "utf-8")
