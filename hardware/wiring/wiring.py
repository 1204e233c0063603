"""Draws the wiring and writes its table, both from the pin map of the firmware.

    python hardware/wiring/wiring.py      writes wiring.svg and wiring.md beside this file

Which pin does what is read from firmware/boards/atmega328p/pins.h; nothing about pins is written here. A test compares
what is committed with what this makes.
"""

from __future__ import annotations

import math
import re
import sys
from dataclasses import dataclass
from pathlib import Path

import schemdraw
from schemdraw import elements as e
from schemdraw import logic

HERE = Path(__file__).parent
PINS = HERE.parents[1] / "firmware/boards/atmega328p/pins.h"

# The names printed on the common boards, by port and bit of the chip.
BOARD_NAMES = {
    **{f"PC{n}": f"A{n}" for n in range(6)},
    **{f"PD{n}": f"D{n}" for n in range(8)},
    **{f"PB{n}": f"D{n + 8}" for n in range(6)},
}


@dataclass(frozen=True)
class Line:
    """One wire to the board: ``macro`` is its name in pins.h."""

    macro: str
    signal: str
    fitted: str
    between: str
    length: str


_FILTER = "750 ohm in series, 330 nF to ground at the pin"
_PULL_UP = "4.7 kohm from 5 V (level shifter on the module)"
LINES = (
    Line("ADMUX_PRESSURE", "line pressure", "MPX5050 Vout", _FILTER, "0.5 m"),
    Line("ADMUX_THERMAL", "thermal anemometer", "module output", _FILTER, "0.5 m"),
    Line("ADMUX_TEMPERATURE", "line temperature", "NTC 10 kohm to ground", "10 kohm, 1 %, from AVCC to the pin", "1 m"),
    Line("ADMUX_DIFFERENTIAL", "pressure difference", "MPXV7002 Vout", _FILTER, "0.5 m"),
    Line("SDA_PIN", "ambient data", "BME280 module SDA", _PULL_UP, "0.3 m"),
    Line("SCL_PIN", "ambient clock", "BME280 module SCL", _PULL_UP, "0.3 m"),
    Line("ROTOR_PIN", "rotor pulses", "Hall switch, open collector", "4.7 kohm from 5 V; 1 kohm, 10 nF, 74HC14", "1 m"),
    Line("BUTTON_PIN", "button", "push button to ground", "nothing: the chip pulls up", "1 m"),
    Line("SCALE_DATA_PIN", "scale data", "HX711 DOUT", "nothing", "0.3 m"),
    Line("SCALE_CLOCK_PIN", "scale clock", "HX711 PD_SCK", "nothing", "0.3 m"),
)  # fmt: skip


def pin_map(text: str | None = None) -> dict[str, str]:
    """Port pin (``PC0``) of each macro in pins.h; a converter input n is pin n of port C."""
    text = PINS.read_text("utf-8") if text is None else text
    found = dict(re.findall(r"#define (\w+_PIN) (P[BCD]\d)\b", text))
    inputs = re.findall(r"#define (ADMUX_\w+) (\d+)u\b", text)
    return found | {name: f"PC{number}" for name, number in inputs if int(number) < 8}


def table() -> str:
    """The wiring table as Markdown."""
    pins = pin_map()
    rows = [
        "| board | chip | signal | comes from | on the way | cable at most |",
        "|---|---|---|---|---|---|",
        *(
            f"| {BOARD_NAMES[pins[w.macro]]} | {pins[w.macro]} | {w.signal} | {w.fitted} | {w.between} | {w.length} |"
            for w in LINES
        ),
    ]
    return "\n".join(rows) + "\n"


def corner(resistance: float, capacitance: float) -> float:
    """Hz at which an RC filter has fallen by 3 dB."""
    return 1 / (2 * math.pi * resistance * capacitance)


def draw() -> schemdraw.Drawing:
    """Each sensor with what stands between it and its pin; pins are named as on the board, with the chip's name."""
    pins = pin_map()

    def net(macro: str) -> str:
        return f"{BOARD_NAMES[pins[macro]]} ({pins[macro]})"

    schemdraw.use("svg")
    with schemdraw.Drawing(show=False) as d:
        d.config(unit=2.4, fontsize=11, lw=1.4, color="#22313a", bgcolor="white")
        for row, (macro, title, decoupled) in enumerate(
            (
                ("ADMUX_PRESSURE", "line\npressure\nMPX5050", True),
                ("ADMUX_DIFFERENTIAL", "difference\nMPXV7002\n(if fitted)", True),
                ("ADMUX_THERMAL", "thermal\nanemometer\n(if fitted)", False),
            )
        ):
            _analog(d, -3.6 * row, title, net(macro), decoupled=decoupled)
        _divider(d, -11.9, net("ADMUX_TEMPERATURE"))
        _rotor(d, (15.0, 0.0), net("ROTOR_PIN"))
        _bus(d, (15.0, -5.4), net("SDA_PIN"), net("SCL_PIN"))
        _scale(d, (15.0, -9.6), net("SCALE_DATA_PIN"), net("SCALE_CLOCK_PIN"))
        _button(d, (15.0, -12.8), net("BUTTON_PIN"))
    return d


def _box(d: schemdraw.Drawing, at: tuple[float, float], title: str, pins: tuple[str, ...]) -> e.Element:
    ic = e.Ic(
        pins=[e.IcPin(name=p, side="right") for p in pins], edgepadW=2.6, edgepadH=0.4, pinspacing=0.8, lblsize=10
    )
    box = d.add(ic.at(at).anchor("center"))
    d.add(e.Label().at((at[0] - 0.55, at[1])).label(title, fontsize=10))
    return box


def _tag(d: schemdraw.Drawing, at: tuple[float, float], name: str) -> None:
    d.add(e.Tag(width=2.4).at(at).right().label(name, fontsize=10))


def _analog(d: schemdraw.Drawing, y: float, title: str, net: str, *, decoupled: bool) -> None:
    box = _box(d, (0, y), title, ("GND", "Vout", "Vs"))
    ground, out, supply = (box.absanchors[k] for k in ("GND", "Vout", "Vs"))
    d.add(e.Line().at(supply).right().length(0.5))
    d.add(e.Vdd().label("5 V", fontsize=9))
    if decoupled:
        d.add(
            e.Label()
            .at((3.6, y + 1.0))
            .label("1 µF and 10 nF from Vs to ground,\nat the sensor's own legs", fontsize=9, halign="left")
        )
    d.add(e.Line().at(ground).right().length(0.5))
    d.add(e.Ground())
    d.add(e.Line().at(out).right().length(2.6))
    d.add(e.Resistor().right().label("750 Ω", fontsize=9))
    node = d.here
    d.add(e.Dot())
    d.add(e.Capacitor().at(node).down().length(1.2).label("330 nF", loc="bottom", fontsize=9))
    d.add(e.Ground())
    d.add(e.Line().at(node).right().length(0.4))
    _tag(d, d.here, net)


def _divider(d: schemdraw.Drawing, y: float, net: str) -> None:
    d.add(e.Vdd().at((1.6, y + 1.7)).label("AVCC", fontsize=9))
    d.add(e.Resistor().at((1.6, y + 1.7)).down().length(1.7).label("10 kΩ, 1 %", loc="top", fontsize=9))
    node = d.here
    d.add(e.Dot())
    d.add(e.Thermistor().at(node).down().length(1.7).label("line temperature\nNTC 10 kΩ", loc="top", fontsize=9))
    d.add(e.Ground())
    d.add(e.Line().at(node).right().length(1.2))
    _tag(d, d.here, net)


def _rotor(d: schemdraw.Drawing, at: tuple[float, float], net: str) -> None:
    y = at[1]
    box = _box(d, at, "rotor\nHall switch", ("GND", "OUT", "5 V"))
    ground, out, supply = (box.absanchors[k] for k in ("GND", "OUT", "5 V"))
    d.add(e.Line().at(supply).right().length(0.4))
    d.add(e.Vdd())
    d.add(e.Line().at(ground).right().length(0.5))
    d.add(e.Ground())
    d.add(e.Line().at(out).right().length(1.3))
    node = d.here
    d.add(e.Dot())
    d.add(e.Resistor().at(node).up().length(1.6).label("4.7 kΩ", loc="bottom", fontsize=9))
    d.add(e.Vdd().label("5 V", fontsize=9))
    d.add(e.Resistor().at(node).right().length(2.2).label("1 kΩ", fontsize=9))
    second = d.here
    d.add(e.Dot())
    d.add(e.Capacitor().at(second).down().length(1.2).label("10 nF", loc="bottom", fontsize=9))
    d.add(e.Ground())
    d.add(e.Line().at(second).right().length(0.4))
    gate = d.add(logic.SchmittNot().right())
    d.add(e.Label().at((gate.center[0], y + 0.75)).label("74HC14", fontsize=9))
    _tag(d, d.here, net)


def _bus(d: schemdraw.Drawing, at: tuple[float, float], sda: str, scl: str) -> None:
    x, y = at
    box = _box(d, at, "ambient\nBME280\nmodule", ("GND", "SDA", "SCL", "5 V"))
    d.add(e.Line().at(box.absanchors["5 V"]).right().length(0.4))
    d.add(e.Vdd())
    d.add(e.Line().at(box.absanchors["GND"]).right().length(0.5))
    d.add(e.Ground())
    for name, net, step in (("SCL", scl, 1.2), ("SDA", sda, 3.2)):
        start = box.absanchors[name]
        d.add(e.Line().at(start).right().length(step))
        d.add(e.Dot())
        if start[1] < y + 0.3:
            d.add(e.Line().up().toy(y + 0.6))  # past the other wire, so that the resistor does not lie on it
        d.add(e.Resistor().up().toy(y + 2.2).label("4.7 kΩ", loc="bottom", fontsize=9))
        d.add(e.Vdd().label("5 V", fontsize=9))
        d.add(e.Line().at((start[0] + step, start[1])).right().tox(x + 8.0))
        _tag(d, d.here, net)


def _scale(d: schemdraw.Drawing, at: tuple[float, float], data: str, clock: str) -> None:
    x, _ = at
    box = _box(d, at, "scale\nHX711\n(if fitted)", ("GND", "DOUT", "SCK", "5 V"))
    d.add(e.Line().at(box.absanchors["5 V"]).right().length(0.4))
    d.add(e.Vdd())
    d.add(e.Line().at(box.absanchors["GND"]).right().length(0.5))
    d.add(e.Ground())
    for name, net in (("DOUT", data), ("SCK", clock)):
        d.add(e.Line().at(box.absanchors[name]).right().tox(x + 8.0))
        _tag(d, d.here, net)


def _button(d: schemdraw.Drawing, at: tuple[float, float], net: str) -> None:
    x, y = at
    d.add(e.Ground().at((x, y)))
    d.add(e.Line().at((x, y)).up().length(0.3))
    d.add(e.Button().right().length(3).label("mark", fontsize=9))
    d.add(e.Line().right().tox(x + 8.0))
    _tag(d, d.here, net)


def main() -> int:
    (HERE / "wiring.md").write_text(table(), "utf-8")
    (HERE / "wiring.svg").write_bytes(draw().get_imagedata("svg"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
