"""The curve of an air source from plates and a U-tube of water, without a board.

    python hardware/spool/by_hand.py 14=1.77 20=1.41 25=1.05 32=0.59 48=0.11
    python hardware/spool/by_hand.py --spool hardware/spool/files/small-bore.toml 2.5=1.9 3=1.4 3.5=0.95 4=0.62 5=0.28

Each pair is the measured hole of a plate in mm and the difference of the two water levels in m.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from frothline.curve.blower import BlowerCurve, BlowerFit
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import FrothlineError, InputError
from frothline.estimate import Z95
from frothline.physics import air
from frothline.physics.hole import sharp_plate_flow
from frothline.physics.water import liquid_head, water_density
from frothline.sensors.exhaust import assumed_line_temperature
from frothline.sensors.spool import Spool

U_LEVEL = 0.002 / math.sqrt(3)  # m: each difference is read to 2 mm; judgement


@dataclass(frozen=True)
class ByHand:
    """One plate: ``hole`` m, ``pressure`` Pa, ``flow`` m3/s at 1.2 kg/m3, standard uncertainties, and whether the flow
    equation covers the pressure."""

    hole: float
    pressure: float
    u_pressure: float
    flow: float
    u_flow: float
    inside: bool


def pressure_of(level: float, room: float) -> float:
    """Pa from a difference of water levels in m."""
    return float(liquid_head(level, float(water_density(room))))


def level_of(pressure: float, room: float = 293.15) -> float:
    """m of water for a pressure in Pa."""
    return pressure / pressure_of(1.0, room)


def one_plate(spool: Spool, hole: float, level: float, room: float, ambient: float) -> ByHand:
    """Flow through one plate (m) at a difference of levels (m), room in K, ambient in Pa."""
    pressure = pressure_of(level, room)
    u_pressure = pressure_of(U_LEVEL, room)
    warm, u_warm = assumed_line_temperature(spool.site, room, 1.0, pressure, ambient)
    density = float(air.density(float(warm), ambient + pressure, spool.site.ambient_humidity))
    made = sharp_plate_flow(spool.pipe.bore, hole, pressure, ambient, density)
    flow = float(made.mass_flow) / air.STANDARD_DENSITY
    parts = (
        made.relative_uncertainty,
        2 * spool.plate.u_hole / hole,
        u_pressure / pressure / 2,
        float(u_warm) / float(warm) / 2,
    )
    return ByHand(hole, pressure, u_pressure, flow, flow * math.hypot(*parts), bool(made.inside))


def fit(points: Sequence[ByHand]) -> BlowerFit:
    """The curve through the plates; TooFewPoints under five."""
    steady = [
        SteadyPoint(10.0 * i, 10.0 * i + 5.0, p.pressure, p.u_pressure, p.flow, p.u_flow) for i, p in enumerate(points)
    ]
    return BlowerCurve().fit(steady)


def read_pair(text: str) -> tuple[float, float]:
    """Hole in m and difference of levels in m from "14=1.77"."""
    try:
        hole, level = (float(part.replace(",", ".")) for part in text.split("="))
    except ValueError as trouble:
        raise InputError(
            f"“{text:.40}” is not a plate", remedy="Write hole in mm = level in m, as 14=1.77"
        ) from trouble
    if not (0.5 <= hole <= 200.0 and 0.0 < level <= 4.0):
        raise InputError(f"“{text:.40}” is outside the range", remedy="Holes 0.5 to 200 mm, levels above 0 to 4 m")
    return hole / 1e3, level


def main(arguments: Iterable[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        description="The curve of an air source from plates and a U-tube, without a board."
    )
    parser.add_argument("plates", nargs="+", metavar="MM=M", help="hole in mm = difference of the water levels in m")
    parser.add_argument("--spool", type=Path, help="spool file; default: the spool as drawn")
    parser.add_argument("--room", type=float, default=20.0, metavar="CELSIUS", help="temperature of the room (20)")
    parser.add_argument("--ambient", type=float, default=101.3, metavar="KPA", help="pressure of the air there (101.3)")
    asked = parser.parse_args(None if arguments is None else list(arguments))
    try:
        spool = Spool.load(asked.spool) if asked.spool else Spool.default()
        pairs = [read_pair(text) for text in asked.plates]
        points = [one_plate(spool, hole, level, asked.room + 273.15, asked.ambient * 1e3) for hole, level in pairs]
    except FrothlineError as trouble:
        print(f"by_hand: {trouble}", file=sys.stderr)
        return 2
    print("hole       pressure     flow, standard air       air power")
    for p in points:
        odd = "" if p.inside else "   outside the flow equation: pressure ratio under 0.75"
        print(
            f"{p.hole * 1e3:5.1f} mm  {p.pressure / 1e3:6.2f} kPa  {p.flow * 1e3:7.3f} ± {Z95 * p.u_flow * 1e3:.3f} L/s  "
            f"{p.pressure * p.flow:8.1f} W{odd}"
        )
    try:
        curve = fit(points)
    except FrothlineError as trouble:
        print(f"no curve: {trouble}")
        return 5
    for name, value, unit, factor in (
        ("shut-off", curve.shut_off, "kPa", 1e-3),
        ("free delivery", curve.free_delivery, "L/s", 1e3),
        ("most air power", curve.air_power, "W", 1.0),
    ):
        print(
            f"{name}: {value.value * factor:.3g} {unit}, {value.lower * factor:.3g} to {value.upper * factor:.3g} (95 %)"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
