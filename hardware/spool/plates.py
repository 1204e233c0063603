"""Which drilled plates to make: the fewest drills that spread a sweep evenly over the curve of a typical source.

A plate at the end of the line turns the line's pressure into a flow, and a set of them throttles the source from nearly
shut to nearly open. Equal steps of hole size would crowd the points at one end; so equal steps along the curve are
taken, both axes scaled to their ends, and each hole is snapped to a drill or hole saw that is sold.

    python hardware/spool/plates.py          writes plates.csv beside this file
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from scipy.optimize import brentq

from frothline.physics.hole import sharp_plate_flow
from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
PLATES = 10
STANDARD_DENSITY = 1.2  # kg/m3
AMBIENT = 101_325.0  # Pa
SHUT_OFF = 20_000.0  # Pa: a workshop vacuum, 13 to 22 kPa sealed in makers' sheets; invented curve of that size
FREE_DELIVERY = 0.0604  # m3/s

# Diameters sold, mm: twist drills by half millimetres to 13, step drills by 1 mm to 30, hole saws above.
DRILLS = (
    *np.arange(2.5, 13.01, 0.5), *np.arange(14.0, 30.01, 1.0), 32.0, 35.0, 38.0, 40.0, 44.0, 48.0,
    51.0, 54.0, 57.0, 60.0, 64.0, 68.0, 76.0, 83.0,
)  # fmt: skip


class Source(Protocol):
    """``shut_off`` Pa, ``free`` delivery m3/s at 1.2 kg/m3, and the pressure (Pa) at a flow between."""

    @property
    def shut_off(self) -> float: ...
    @property
    def free(self) -> float: ...
    def pressure(self, flow: float) -> float: ...


@dataclass(frozen=True)
class Typical:
    """The typical source: falling, concave, from ``shut_off`` to nothing at ``free``."""

    shut_off: float = SHUT_OFF
    free: float = FREE_DELIVERY

    def pressure(self, flow: float) -> float:
        x = flow / self.free
        return self.shut_off * (1 - 0.36 * x - 0.64 * x * x)


TYPICAL = Typical()


@dataclass(frozen=True)
class Plate:
    """``hole`` m; what the source does through it: Pa and m3/s at 1.2 kg/m3."""

    hole: float
    pressure: float
    flow: float
    source: Source = TYPICAL

    @property
    def along(self) -> tuple[float, float]:
        return self.flow / self.source.free, self.pressure / self.source.shut_off


def plate(hole: float, bore: float, source: Source = TYPICAL) -> Plate:
    """Where a source ends up with one plate (m) on a spool of ``bore`` m."""

    def excess(flow: float) -> float:
        through = sharp_plate_flow(bore, hole, source.pressure(flow), AMBIENT, STANDARD_DENSITY).mass_flow
        return flow * STANDARD_DENSITY - float(through)

    flow = float(brentq(excess, 0.0, source.free))
    return Plate(hole, source.pressure(flow), flow, source)


def choose(
    bore: float,
    source: Source = TYPICAL,
    count: int = PLATES,
    drills: Sequence[float] = DRILLS,
    least_share: float = 0.0,
) -> list[Plate]:
    """``count`` plates at most for a spool of ``bore`` m, smallest hole first, from ``drills`` in mm. Plates that leave less
    than ``least_share`` of the shut-off pressure are not taken."""
    largest = 0.8 * bore + 1e-4  # above, the plate is outside what its flow equation covers
    made = [plate(min(d / 1e3, 0.8 * bore), bore, source) for d in drills if d / 1e3 <= largest]
    made = [p for p in made if p.pressure >= least_share * source.shut_off]
    flow = np.array([0.0, *(p.flow for p in made)]) / source.free
    pressure = np.array([1.0, *(p.pressure / source.shut_off for p in made)])
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(flow), np.diff(pressure)))])[1:]
    wanted = np.linspace(0, length[-1], count + 1)[1:]
    picks = sorted({int(np.argmin(np.abs(length - at))) for at in wanted})
    return [made[i] for i in picks]


def main() -> int:
    bore = Spool.default().pipe.bore
    with (HERE / "plates.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["hole_mm", "typical_pressure_kPa", "typical_flow_L_per_s"])
        for p in choose(bore):
            writer.writerow([f"{p.hole * 1e3:g}", f"{p.pressure / 1e3:.2f}", f"{p.flow * 1e3:.2f}"])
    return 0


if __name__ == "__main__":
    sys.exit(main())
