"""How tight the line must be: limits of the blind-plate test, from the package's own flow through a hole.

The closed line is blown up to 2 kPa and watched. A leak is described as one round hole; the time in which half the
pressure is lost gives its size, and that gives its flow at blower pressure.

    python hardware/spool/leaks.py          prints the table of hardware/guide/5-leaks.md
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from frothline.physics import air
from frothline.physics.hole import SHARP_PLATE_UNCERTAINTY, HoleJet, sharp_plate_flow
from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
from sizes import cone, sizes  # noqa: E402

AMBIENT, ROOM = 101_325.0, 293.15  # Pa, K
START = 2_000.0  # Pa: blown by mouth
BLOWER = 20_000.0  # Pa: the pressure at which a leak is judged
ALLOWED = SHARP_PLATE_UNCERTAINTY / 4  # of the flow through the smallest plate: then the leak adds nothing that counts


@dataclass(frozen=True)
class Tightness:
    """``seconds`` for half of 2 kPa; the leak's flow at 20 kPa in m3/s at 1.2 kg/m3, and its share of the plate's."""

    seconds: float
    flow: float
    share: float


def volume(spool: Spool) -> float:
    """m3 of the closed line: both straight pipes, and carrier and adapter as pipe of the same bore."""
    parts = cone(spool)[0] + 2 * sizes(spool)["socket_depth"] + 90.0  # mm; a rotor's room is about 90 mm long
    return spool.pipe.area * (spool.pipe.straight_upstream + spool.pipe.straight_downstream + parts * 1e-3)


def half_time(spool: Spool, hole: float) -> float:
    """Seconds in which a leak like a round hole (m) takes the closed line from 2 kPa to 1 kPa, isothermal."""
    pressures = np.linspace(START / 2, START, 201)
    jet = HoleJet(hole, ROOM)
    out = np.array([jet.mass_flow(AMBIENT + float(p), AMBIENT) for p in pressures])
    slope = volume(spool) / (air.DRY_GAS_CONSTANT * ROOM) / out
    return float(np.trapezoid(slope, pressures))


def tightness(spool: Spool, plate: float, seconds: float) -> Tightness:
    """What a half time proves: the leak at 20 kPa, against the flow through the smallest plate (m) there."""
    leak = math.sqrt(half_time(spool, 1e-3) / seconds) * 1e-3  # flow grows with the square of the diameter
    flow = HoleJet(leak, ROOM).mass_flow(AMBIENT + BLOWER, AMBIENT) / air.STANDARD_DENSITY
    density = float(air.density(ROOM, AMBIENT + BLOWER, 0.5))
    through = float(sharp_plate_flow(spool.pipe.bore, plate, BLOWER, AMBIENT, density).mass_flow)
    return Tightness(seconds, flow, flow * air.STANDARD_DENSITY / through)


def wanted(spool: Spool, plate: float) -> Tightness:
    """The shortest half time, in whole seconds, at which the leak is at most the allowed share."""
    seconds = 1.0
    while tightness(spool, plate, seconds).share > ALLOWED:
        seconds += 1.0
    return tightness(spool, plate, seconds)


def rotor_starts(spool: Spool) -> float:
    """m3/s below which the rotor does not turn."""
    return spool.rotor.start_speed * spool.pipe.area


def table(spool: Spool, plates: tuple[float, ...] = (2.5e-3, 5e-3, 9.5e-3, 14e-3)) -> list[str]:
    """Rows of the guide: smallest plate that is used, least half time, leak at 20 kPa."""
    rows = ["| smallest plate you use | half of 2 kPa lasts at least | leak then, at 20 kPa |", "|---|---|---|"]
    for plate in plates:
        one = wanted(spool, plate)
        rows.append(
            f"| {plate * 1e3:g} mm | {one.seconds:.0f} s | {one.flow * 1e3:.3f} L/s, {100 * one.share:.2f} % of the plate's flow |"
        )
    return rows


if __name__ == "__main__":
    print("\n".join(table(Spool.load(sys.argv[1]) if len(sys.argv) > 1 else Spool.default())))
