"""A way to measure each air source of the README: which pipe, which plates, what the pressure is read with.

python hardware/spool/four_sources.py          writes four-sources.md beside this file
"""

from __future__ import annotations

import math
import sys
import textwrap
from dataclasses import dataclass, replace
from pathlib import Path

from frothline.estimate import Z95
from frothline.physics import air
from frothline.physics.hole import _critical_ratio as critical_ratio
from frothline.physics.water import liquid_head, water_density
from frothline.sensors.calibration import Calibration
from frothline.sensors.converter import Converter
from frothline.sensors.datasheets import PRESSURE, SENSOR
from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "bores")]
import by_hand  # noqa: E402
import plates  # noqa: E402

import bores  # noqa: E402

AMBIENT, ROOM = 101_325.0, 293.15  # Pa, K
DIP = 2.0  # m: depth of the open tube in water that relieves the line
COUNT = 10
TENTHS = (*(tenths / 10 for tenths in range(20, 100, 2)), 10.0, 11.0, 12.0, 13.0)  # mm, twist drills, ISO 235
LEAST = 0.05  # of the shut-off pressure: below, a U-tube reads too little
NAMED = {one.name: one for one in bores.SOURCES}
# Free delivery 15 to 40 L/min of a 12 V inflator: common practice, no source. The tube in water limits its pressure.
INFLATOR = bores.Source("tyre inflator", float(liquid_head(DIP, float(water_density(ROOM)))), 0.0005, 12.0)


@dataclass(frozen=True)
class Way:
    """One source with its spool file; ``file`` is None for the drawn spool. ``printed`` : printed parts may carry its air."""

    source: bores.Source
    file: str | None
    rotor: bool
    printed: bool
    first: str

    @property
    def spool(self) -> Spool:
        return Spool.default() if self.file is None else Spool.load(HERE / "files" / self.file)


WAYS = (
    Way(NAMED["workshop vacuum"], None, True, True, "a relief opening before the first run"),
    Way(NAMED["leaf blower"], "leaf-blower.toml", False, True, "hearing protection; every joint tied"),
    Way(INFLATOR, "small-bore.toml", False, False, f"an open tube {DIP:g} m deep in water on a tee, never shut off"),
    Way(
        NAMED["compressor behind a regulator"],
        "small-bore.toml",
        False,
        False,
        "regulator, then a relief valve that passes all that the compressor gives, then the tube in water",
    ),
)


@dataclass(frozen=True)
class Point:
    """One plate on one source. ``mach`` of the jet; half-widths of the flow's 95 % interval, relative; NaN beyond a sensor."""

    plate: plates.Plate
    level: float
    ratio: float
    mach: float
    inside: bool
    by_tube: float
    by_sensor: float


def jet_mach(pressure: float) -> float:
    """Mach number of a jet from rest at a gauge pressure (Pa): M^2 = 2/(k - 1) (r^(-(k - 1)/k) - 1), isentropic."""
    k = air.HEAT_CAPACITY_RATIO
    ratio = max(AMBIENT / (AMBIENT + pressure), critical_ratio(k))
    return math.sqrt(2 / (k - 1) * (ratio ** (-(k - 1) / k) - 1))


def point(way: Way, one: plates.Plate, *, board: bool = True) -> Point:
    """What a U-tube and the board read behind one plate. Without ``board`` the sensor's interval, which takes long, is NaN."""
    level = by_hand.level_of(one.pressure, ROOM)
    tube = by_hand.one_plate(way.spool, one.hole, level, ROOM, AMBIENT)
    return Point(
        one,
        level,
        AMBIENT / (AMBIENT + one.pressure),
        jet_mach(one.pressure),
        tube.inside,
        Z95 * tube.u_flow / tube.flow,
        _by_sensor(way.spool, one, tube.flow) if board else math.nan,
    )


def _by_sensor(spool: Spool, one: plates.Plate, flow: float) -> float:
    """Relative 95 % half-width of the flow from the plate with the pressure sensor of the parts list, after a zero."""
    sensor = PRESSURE[SENSOR["mpx5050"]]
    if one.pressure > sensor.high:
        return math.nan
    made = replace(spool, flow=replace(spool.flow, element="plate"), plate=replace(spool.plate, hole=one.hole))
    board = bores.description(pressure="mpx5050", temperature="ntc_10k_3950", ambient="bme280")
    converter = Converter(board, Calibration().with_zero("pressure", sensor.c), made)
    return float(bores.width(converter, flow, one.pressure))


def _chosen(way: Way) -> list[plates.Plate]:
    if way.file is None:  # the plates of the list
        return [plates.plate(one.hole, way.spool.pipe.bore, way.source) for one in plates.choose(way.spool.pipe.bore)]
    drills = plates.DRILLS if way.printed else TENTHS
    return plates.choose(way.spool.pipe.bore, way.source, COUNT, drills, LEAST)


def points(way: Way, *, board: bool = True) -> list[Point]:
    """The plates for one source, smallest hole first."""
    return [point(way, one, board=board) for one in _chosen(way)]


def shortcomings(way: Way, found: list[Point]) -> list[str]:
    """Why the way does not work; empty when it does."""
    top = max(p.plate.pressure for p in found) / way.source.shut_off
    low = min(p.plate.pressure for p in found) / way.source.shut_off
    return [
        words
        for bad, words in (
            (len(found) < by_hand.BlowerCurve().fewest_points, "too few plates"),
            (not all(p.inside for p in found), "a plate is outside its flow equation"),
            (top < 0.85, f"the smallest plate leaves {100 * top:.0f} % of the shut-off pressure"),
            (low > 0.3, f"the largest plate leaves {100 * low:.0f} % of the shut-off pressure"),
            (max(p.by_tube for p in found) > 0.15, "a flow is known to worse than 15 %"),
        )
        if bad
    ]


def table(found: list[Point]) -> list[str]:
    rows = [
        "| plate | pressure | U-tube | flow | p2/p1 | jet | known to, U-tube | known to, MPX5050 |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for p in found:
        board = "–" if math.isnan(p.by_sensor) else f"±{100 * p.by_sensor:.1f} %"
        rows.append(
            f"| {p.plate.hole * 1e3:g} mm | {p.plate.pressure / 1e3:.2f} kPa | {p.level * 1e3:.0f} mm | "
            f"{p.plate.flow * 1e3:.3g} L/s | {p.ratio:.3f} | Mach {p.mach:.2f} | ±{100 * p.by_tube:.1f} % | {board} |"
        )
    return rows


def verdict(way: Way, found: list[Point]) -> str:
    short = shortcomings(way, found)
    return "works" if not short else "does not work: " + "; ".join(short)


def page(*, board: bool = True) -> str:
    """four-sources.md"""
    every = [(way, points(way, board=board)) for way in WAYS]
    summary = ["| source | pipe | flow | pressure | first | |", "|---|---|---|---|---|---|"]
    for way, found in every:
        pipe = way.spool.pipe
        name = "drawn spool" if way.file is None else f"[{way.file}](files/{way.file})"
        flow = "rotor, or plates" if way.rotor else "plates alone"
        summary.append(
            f"| {way.source.name} | {name}: bore {pipe.bore * 1e3:g} mm, outside {pipe.outer_diameter * 1e3:g} mm | {flow} | "
            f"board, or U-tube of {max(p.level for p in found) + 0.2:.1f} m | {way.first} | {verdict(way, found)} |"
        )
    parts = [
        "# A way for each air source",
        "Made by `four_sources.py` from the package's own functions; a test makes it again and compares. The curves of the\n"
        "sources are of catalogue order, from memory: yours will differ.",
        "> **Compressed air bursts plastic pipe.** An inflator or a compressor reaches some hundred kilopascal when its way is\n"
        "> shut. It goes into metal pipe only, with metal plates, and only behind a relief that cannot be shut: an open tube\n"
        f"> {DIP:g} m deep in water blows off at {INFLATOR.shut_off / 1e3:.1f} kPa. No printed part and no PVC pipe for these two. A compressor has\n"
        "> a regulator and a relief valve before that, and a person who knows it at the valve. Goggles, hearing protection,\n"
        "> nobody in line with the ends. Local codes and licensed practice come first.",
        "\n".join(summary),
        "No board is needed with a U-tube: a clear hose in a U against a wall, half filled with water, and a ruler. The table has the\n"
        "height of each leg. Give the plates (mm) and the differences of the levels (m) to this script; it prints the flows and the\n"
        "curve:",
        "```sh\n"
        ".venv/bin/python hardware/spool/by_hand.py 14=1.77 20=1.41 25=1.05 32=0.59 48=0.11\n"
        ".venv/bin/python hardware/spool/by_hand.py --spool hardware/spool/files/small-bore.toml 2.5=1.9 3=1.4 3.5=0.95 4=0.62 5=0.28\n"
        "```",
        "“Known to” is the 95 % interval of one reading: levels to 2 mm, holes by calliper, the plate's own 2 % (standard\n"
        "uncertainty, common practice, no source). p2/p1 must be 0.75 or more for the flow equation of the plate.",
    ]
    for way, found in every:
        parts += [
            f"## {way.source.name[0].upper()}{way.source.name[1:]}",
            _words(way),
            "\n".join(table(found)),
        ]
    return "\n\n".join(parts) + "\n"


def _words(way: Way) -> str:
    source = way.source
    size = f"Shut-off {source.shut_off / 1e3:.3g} kPa, free delivery {source.free * 1e3:.3g} L/s."
    if way.printed and way.file:
        words = (
            f"{size} Print holder, ring, gasket, adapter and saddle with `--spool hardware/spool/files/{way.file}`. The rotor "
            "is left out: in this bore it and the straightener would take more than 5 % of the little pressure there is "
            "([which bore](../bores/README.md))."
        )
    elif not way.printed:
        words = (
            f"{size} Copper pipe, soldered or in compression fittings; a union with a flat gasket on the pressure side "
            "holds round metal plates; the tap is a soldered tee. The tube in water is as wide as the pipe and "
            "open all the time, so that the pressure never reaches what the pump could give. A wider pipe that stands upright, "
            "closed below and filled with water, gives the depth. While it bubbles, air leaves through it that the plate does "
            "not see: leave that plate out. No blind plate with the pump on: find leaks with soap and with breath."
        )
    else:
        words = f"{size} As in [the guide](../guide/README.md), with the ten plates of [plates.csv](plates.csv)."
    return textwrap.fill(words, 118, break_long_words=False, break_on_hyphens=False)


if __name__ == "__main__":
    (HERE / "four-sources.md").write_text(page(), "utf-8")
