"""Draws one picture for each step of the guide that has no part or wiring of its own to show.

    python hardware/guide/steps.py      writes flash.svg, first-light.svg, relief.svg, u-tube.svg and sweep.svg in pictures/

Figures in the pictures are the package's own: the spool file, the data sheets, the parts list.
"""

from __future__ import annotations

import csv
import math
import re
import sys
from collections.abc import Callable
from html import escape
from pathlib import Path

from frothline.physics.water import water_density
from frothline.sensors.datasheets import PRESSURE, SENSOR
from frothline.sensors.spool import Spool
from frothline.units import STANDARD_GRAVITY

HERE = Path(__file__).parent
PARTS = HERE.parent / "parts/parts.csv"
STYLE = (
    ".p{fill:none;stroke:#22313a;stroke-width:2}.b{fill:#fff;stroke:#22313a;stroke-width:2}"
    ".board{fill:#d7e7ea;stroke:#22313a;stroke-width:2}.pin{fill:#f4d35e;stroke:#22313a}.m{fill:#c9ced1;stroke:#22313a}"
    ".chip{fill:#39434a;stroke:#22313a}.w{fill:#4a90c2;fill-opacity:.45;stroke:none}.a{fill:none;stroke:#1b7f6b;stroke-width:3}"
    ".r{fill:none;stroke:#a63a2a;stroke-width:3}.h{fill:none;stroke:#5b6b73;stroke-width:1;stroke-dasharray:5 3}"
    "text{font:14px system-ui,sans-serif;fill:#22313a}.s{font-size:12px;fill:#5b6b73}.k{fill:#fff;font-size:12px}"
    ".big{font-size:18px;font-weight:600}.red{fill:#a63a2a}"
)
HEAD = '<marker id="to" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" markerHeight="7" orient="auto"><path d="M0 0L8 4L0 8z"'


def page(wide: int, high: int, drawn: list[str]) -> str:
    """The SVG of a picture."""
    arrows = f'<defs>{HEAD} fill="#1b7f6b"/></marker></defs>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}"><style>{STYLE}</style>{arrows}'
        f'<rect width="{wide}" height="{high}" fill="#fff"/>\n' + "\n".join(drawn) + "\n</svg>\n"
    )


def words(x: float, y: float, text: str, look: str = "", anchor: str = "start") -> str:
    return f'<text class="{look}" x="{x:g}" y="{y:g}" text-anchor="{anchor}">{escape(text)}</text>'


def box(x: float, y: float, wide: float, high: float, look: str = "b", round_: float = 4) -> str:
    return f'<rect class="{look}" x="{x:g}" y="{y:g}" width="{wide:g}" height="{high:g}" rx="{round_:g}"/>'


def path(d: str, look: str = "p", *, arrow: bool = False) -> str:
    end = ' marker-end="url(#to)"' if arrow else ""
    return f'<path class="{look}" d="{d}"{end}/>'


def flash() -> str:
    """The two boards by their looks: USB plug, reset button, chip, D0 and D1."""
    drawn = [words(30, 34, "Which board is it? Read the chip.", "big")]
    # Uno, plug to the left
    drawn += [box(90, 70, 380, 250, "board", 10), box(60, 100, 80, 70, "m"), box(60, 250, 70, 46, "chip")]
    drawn += [words(118, 190, "USB", "s", "middle"), words(95, 278, "DC plug", "k", "middle")]
    drawn += [box(150, 82, 26, 26, "m"), words(186, 100, "reset button"), words(300, 160, "Uno R3", "big", "middle")]
    drawn += [box(235, 225, 190, 44, "chip"), words(330, 252, "ATMEGA328P", "k", "middle")]
    drawn += [box(440 - 18 * k, 72, 12, 12, "pin") for k in range(2)]
    drawn += [words(440, 62, "D1 D0: no wire here while you flash", "red", "end")]
    # Nano, plug to the left
    drawn += [box(610, 130, 330, 130, "board", 6), box(590, 170, 54, 50, "m"), words(634, 244, "USB", "s", "middle")]
    drawn += [box(850, 180, 26, 26, "m"), words(863, 226, "reset", "s", "middle"), words(660, 158, "Nano", "big")]
    drawn += ['<rect class="chip" x="720" y="175" width="44" height="44" transform="rotate(45 742 197)"/>']
    drawn += [words(700, 248, "chip: MEGA328P", "s")]
    drawn += [
        words(610, 300, "A copy is marked LGT8F328P or not at all:"),
        words(610, 324, "it does not work. Under the board is the USB chip"),
    ]
    drawn += [words(610, 346, "(CH340, FT232, CP2102), whose driver you need.")]
    drawn += [
        words(90, 350, "Mega, Leonardo, Micro, Every, R4, Due, ESP32: another chip."),
        words(90, 372, "flash names it and writes nothing."),
    ]
    return page(980, 396, drawn)


def first_light() -> str:
    """Where to measure, and what the multimeter shows on a sound rig at rest."""
    rest = 5.0 * PRESSURE[SENSOR["mpx5050"]].c
    drawn = [words(30, 34, "On USB, blower unplugged, one probe on GND", "big")]
    points = [("5V", "4.75 to 5.25 V"), ("A0", f"{rest:.2f} V: MPX5050 at rest"), ("A1", "0.00 V: no sensor fitted"),
              ("A2", "2.5 V at 25 °C, less when warm"), ("A3", "0.00 V: no sensor fitted"), ("D2", "5 V; 0 V while pressed"),
              ("D8", "0 or 5 V; changes as the rotor turns")]  # fmt: skip
    drawn += [box(60, 60, 150, 300, "board", 8), words(135, 348, "board", "s", "middle")]
    for number, (pin, shown) in enumerate(points):
        y = 90 + 36 * number
        drawn += [
            box(204, y - 6, 12, 12, "pin"),
            words(192, y + 5, pin, "", "end"),
            path(f"M216 {y}H300", "a", arrow=True),
        ]
        drawn += [words(312, y + 5, shown)]
    drawn += [
        box(640, 80, 130, 190, "b", 12),
        box(658, 98, 94, 44, "m"),
        words(705, 127, f"{rest:.2f} V", "big", "middle"),
    ]
    drawn += [
        '<circle class="p" cx="705" cy="196" r="30"/>',
        path("M705 196L720 174"),
        words(705, 252, "V, direct (DC)", "s", "middle"),
    ]
    drawn += [
        path("M670 270V330H560", "r"),
        path("M740 270V346H560"),
        words(552, 335, "red probe: the pin", "red", "end"),
        words(552, 362, "black probe: GND", "", "end"),
    ]
    return page(820, 384, drawn)


def _relief() -> tuple[float, float, float]:
    """Bore (m), mass (kg) and opening pressure (Pa) of the relief on the parts list."""
    with PARTS.open(encoding="utf-8") as file:
        text = next(row["description"] for row in csv.DictReader(file) if row["function"] == "relief")
    bore, mass = (float(re.search(found, text)[1]) for found in (r"(\d+) mm bore", r"(\d+) kg"))  # type: ignore[index]
    bore *= 1e-3
    return bore, mass, mass * STANDARD_GRAVITY / (math.pi / 4 * bore**2)


def relief() -> str:
    """The relief, and the two checks before the first air."""
    bore, mass, pressure = _relief()
    trial = 0.2
    low = trial / mass * pressure
    drawn = [words(30, 34, "Relief: proved before the first air", "big")]
    drawn += [path("M40 250H210M260 250H460M40 300H460"), path("M210 250V200M260 250V200", "b")]
    drawn += [box(188, 190, 94, 10, "m"), words(292, 200, f"rubber disc on a sleeve of {bore * 1e3:.0f} mm bore")]
    drawn += [path("M206 190V110Q206 96 222 92V72H248V92Q264 96 264 110V190Z", "b"), box(208, 130, 54, 58, "w", 2)]
    drawn += [
        words(292, 130, f"bottle with {mass:g} kg of water:"),
        words(292, 150, f"opens at {pressure / 1e3:.0f} kPa"),
    ]
    drawn += [path("M50 275H170", "a", arrow=True), words(56, 330, "from the blower", "s"), box(460, 236, 22, 78, "m")]
    drawn += [words(450, 334, "blind plate", "", "middle")]
    steps = [
        f"1  {trial * 1e3:.0f} g of water only: the disc must lift at {low / 1e3:.1f} kPa.",
        "2  Blind plate in, stand at the side, blower on for 5 s:",
        "    the bottle rocks and air comes out under the disc.",
        "3  It does not lift: off, clean the disc, try again. No air before it does.",
        f"4  Fill to {mass:g} kg. Tie a string to the bottle, so that it cannot fall far.",
        "5  Plate check: right plate, sharp side to the air, four screws tight,",
        "    no crack, nobody in front of the hole.",
    ]
    drawn += [words(620, 84 + 26 * number, text) for number, text in enumerate(steps)]
    return page(1140, 352, drawn)


def u_tube() -> str:
    """The water manometer of the pressure calibration."""
    height = 25e3 / (float(water_density(293.15)) * STANDARD_GRAVITY)
    drawn = [words(30, 34, "Pressure: a hose of water bent to a U", "big")]
    drawn += [
        path("M210 70V330Q210 370 250 370Q290 370 290 330V70"),
        path("M230 70V330Q230 350 250 350Q270 350 270 330V70"),
    ]
    drawn += [
        path("M211 290V330Q211 369 250 369Q289 369 289 330V130H271V330Q271 351 250 351Q229 351 229 330V290Z", "w")
    ]
    drawn += [
        path("M140 290H230M140 130H290", "h"),
        path("M160 284V138", "a", arrow=True),
        words(150, 215, "h", "big", "end"),
    ]
    drawn += [
        words(306, 136, "open to the room"),
        path("M220 70V56H90V300", "p"),
        words(30, 322, "to the T: sensor's tube"),
        words(30, 340, "and breath or syringe;"),
        words(30, 358, "then a clamp"),
    ]
    drawn += [
        words(470, 90, "h in mm of water, times 9.79 Pa at 20 °C:"),
        words(
            470,
            116,
            f"100 mm are {0.1 * float(water_density(293.15)) * STANDARD_GRAVITY / 1e3:.2f} kPa; 25 kPa are {height:.2f} m.",
        ),
    ]
    drawn += [
        words(470, 152, "Read both levels at the lower edge of the curve, eye level."),
        words(470, 178, "The trap stays in: water in the sensor ends it."),
    ]
    drawn += [words(470, 204, "Five points, from 0 to above your source's shut-off pressure.")]
    return page(930, 392, drawn)


def sweep(spool: Spool) -> str:
    """What follows what, with plates and with a generator."""
    up, down = 1e3 * spool.pipe.straight_upstream, 1e3 * spool.pipe.straight_downstream
    drawn = [words(30, 34, "Sweep of a source: throttle behind the spool", "big")]
    drawn += _line(110, ("source", "relief", "spool", "plate"), up, down)
    drawn += [words(30, 234, "Sweep of a generator: bleed before the spool, closed step by step", "big")]
    drawn += _line(310, ("source", "bleed", "relief", "spool", "generator"), up, down)
    return page(1120, 400, drawn)


def _line(y: float, parts: tuple[str, ...], up: float, down: float) -> list[str]:
    drawn, x = [], 40.0
    for name in parts:
        wide = {"spool": 420, "relief": 110, "bleed": 110}.get(name, 120)
        if name == "spool":
            drawn += [box(x, y, wide, 44), words(x + 140, y + 27, f"{up:.0f} mm straight", "", "middle")]
            drawn += [
                f'<circle class="p" cx="{x + 280:g}" cy="{y + 22:g}" r="15"/>',
                words(x + 350, y + 27, f"{down:.0f} mm", "", "middle"),
            ]
            drawn += [
                words(x + 280, y + 62, "rotor", "s", "middle"),
                path(f"M{x + 226:g} {y:g}V{y - 16:g}"),
                words(x + 226, y - 20, "tap, up to the sensor", "s", "middle"),
            ]
        elif name in {"bleed", "relief"}:
            drawn += [
                path(
                    f"M{x:g} {y + 12:g}H{x + 40:g}V{y - 20:g}M{x + 70:g} {y - 20:g}V{y + 12:g}H{x + wide:g}M{x:g} {y + 32:g}H{x + wide:g}"
                )
            ]
            drawn += [
                box(x + 34, y - 34, 42, 14, "m"),
                words(x + 55, y - 42, {"bleed": "valve: bleed"}.get(name, name), "s", "middle"),
            ]
            drawn += [words(x + 55, y + 52, "hose", "s", "middle")]
        else:
            drawn += [
                box(x, y - 6, wide, 56, "m" if name == "plate" else "b", 8),
                words(x + wide / 2, y + 27, name, "", "middle"),
            ]
        x += wide + 6
    drawn += [path(f"M{x + 4:g} {y + 22:g}H{x + 90:g}", "a", arrow=True), words(x + 6, y + 50, "nobody here", "red")]
    return drawn


PICTURES: dict[str, Callable[[], str]] = {
    "flash.svg": flash,
    "first-light.svg": first_light,
    "relief.svg": relief,
    "u-tube.svg": u_tube,
    "sweep.svg": lambda: sweep(Spool.default()),
}


def main() -> int:
    for name, draw in PICTURES.items():
        (HERE / "pictures" / name).write_text(draw(), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
