"""The plates, the gasket and the flange on one sheet of A4, full size: to print, glue on the sheet and saw along.

python hardware/spool/plates_drawing.py plates.svg          for the drawn spool; --spool my-spool.toml for another
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Sequence
from pathlib import Path

from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
from plates import DRILLS  # noqa: E402
from sizes import sizes  # noqa: E402

WIDE, HIGH = 210.0, 297.0  # mm, A4
STYLE = (
    ".p{fill:none;stroke:#22313a;stroke-width:.35}.t{fill:none;stroke:#22313a;stroke-width:.15}"
    ".d{fill:none;stroke:#1b7f6b;stroke-width:.2}"
    "text{font:3.2px system-ui,sans-serif;fill:#22313a}.m{text-anchor:middle}.h{font-size:4.5px;font-weight:700}"
)


def listed_holes(spool: Spool | None = None) -> list[float]:
    """Holes in mm: those of plates.csv; in another bore the nearest drills to the same shares of the bore."""
    with (HERE / "plates.csv").open(encoding="utf-8") as file:
        listed = [float(row["hole_mm"]) for row in csv.DictReader(file)]
    drawn = Spool.default().pipe.bore
    bore = drawn if spool is None else spool.pipe.bore
    if bore == drawn:
        return listed
    fits = [float(drill) for drill in DRILLS if drill <= 800 * bore]
    return sorted({min(fits, key=lambda drill: abs(drill - hole * bore / drawn)) for hole in listed})


def drawing(spool: Spool, holes: Sequence[float]) -> str:
    """The sheet as SVG, one unit a millimetre."""
    s = sizes(spool)
    plate, tab, long = s["plate_width"], s["tab_width"], s["tab_length"]
    scale = min(1.0, (WIDE - 30) / (plate + s["gasket_outer"] + 15))
    x, y = 14 + plate / 2, 40 + long + plate / 2
    gx, gy = WIDE - 12 - s["gasket_outer"] / 2, y
    fx, fy = WIDE / 2, y + plate / 2 + 26 + plate / 2
    half = plate / 2
    outline = (
        f"M{x - half:.2f} {y + half:.2f}V{y - half:.2f}H{x - tab / 2:.2f}V{y - half - long:.2f}H{x + tab / 2:.2f}"
        f"V{y - half:.2f}H{x + half:.2f}V{y + half:.2f}Z"
    )
    if scale < 1.0:  # a large spool: one below the other on a larger sheet
        gx, gy = x, y + plate + 20
        fx, fy = x + 10, gy + plate + 24
    wide, high = max(WIDE, fx + s["screw_x"] + 20), max(HIGH, fy + half + 40)
    marks = [
        f'<path class="p" d="{outline}"/>',
        _cross(x, y, 6),
        *(f'<circle class="t" cx="{x:.2f}" cy="{y:.2f}" r="{hole / 2:.2f}"/>' for hole in holes if hole > 0),
        _words(x, y - half - long / 2, "measured hole", "m"),
        _size(x - half, x + half, y + half + 6, f"{plate:g}"),
        f'<circle class="p" cx="{gx:.2f}" cy="{gy:.2f}" r="{s["gasket_outer"] / 2:.2f}"/>',
        f'<circle class="p" cx="{gx:.2f}" cy="{gy:.2f}" r="{s["gasket_inner"] / 2:.2f}"/>',
        _words(gx, gy - 2, f"gasket, rubber {s['gasket_thick']:g} mm", "m"),
        _words(gx, gy + 3, f"outside {s['gasket_outer']:g}, inside {s['gasket_inner']:g}", "m"),
        f'<circle class="p" cx="{fx:.2f}" cy="{fy:.2f}" r="{s["bore"] / 2:.2f}"/>',
        *(
            f'<circle class="p" cx="{fx + i * s["screw_x"]:.2f}" cy="{fy + j * s["screw_y"]:.2f}" r="{s["screw"] / 2 + 0.25:.2f}"/>'
            + _cross(fx + i * s["screw_x"], fy + j * s["screw_y"], 4)
            for i in (-1, 1)
            for j in (-1, 1)
        ),
        _cross(fx, fy, 6),
        _words(fx, fy - 2, "flange and ring: bore and screws", "m"),
        _words(fx, fy + 4, f"M{s['screw']:g}, {2 * s['screw_x']:g} × {2 * s['screw_y']:.1f} mm apart", "m"),
        _size(WIDE - 112, WIDE - 12, 30, "100 mm: measure this line before you saw"),
    ]
    named = ", ".join("blind" if hole == 0 else f"{hole:g}" for hole in holes)
    text = (
        _words(14, 14, f"Plates for a bore of {s['bore']:g} mm, full size", "h")
        + _words(14, 20, f"Holes, mm: {named}. One plate each, 1.5 to 3 mm thick.")
        + _words(14, 25, "Sharp edge on the side that meets the air; the other side countersunk.")
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.1f}mm" height="{high:.1f}mm" viewBox="0 0 {wide:.1f} {high:.1f}" '
        f'role="img"><title>Plates, gasket and flange, full size</title><style>{STYLE}</style>'
        f'<rect width="100%" height="100%" fill="#fff"/>{text}{"".join(marks)}</svg>\n'
    )


def _cross(x: float, y: float, arm: float) -> str:
    return f'<path class="t" d="M{x - arm:.2f} {y:.2f}h{2 * arm:.2f}M{x:.2f} {y - arm:.2f}v{2 * arm:.2f}"/>'


def _words(x: float, y: float, text: str, kind: str = "") -> str:
    return f'<text class="{kind}" x="{x:.2f}" y="{y:.2f}">{text}</text>'


def _size(left: float, right: float, y: float, text: str) -> str:
    bar = f"M{left:.2f} {y - 1.5:.2f}v3M{right:.2f} {y - 1.5:.2f}v3M{left:.2f} {y:.2f}H{right:.2f}"
    return f'<path class="d" d="{bar}"/>{_words((left + right) / 2, y + 4, text, "m")}'


def main() -> int:
    parser = argparse.ArgumentParser(description="Plates, gasket and flange on one sheet, full size.")
    parser.add_argument("target", type=Path)
    parser.add_argument("--spool", type=Path)
    asked = parser.parse_args()
    spool = Spool.load(asked.spool) if asked.spool else Spool.default()
    asked.target.write_text(drawing(spool, [*listed_holes(spool), 0.0]), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
