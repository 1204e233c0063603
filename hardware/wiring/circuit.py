"""The circuit as ``circuit.toml`` describes it: parts, nets, values, and the figures that follow from them.

Whatever shows or uses the circuit reads it here: the wiring picture, the pin list, the schematic, the tests.
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
PINS = HERE.parents[1] / "firmware/boards/atmega328p/pins.h"
PREFIX = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "k": 1e3, "M": 1e6}
LEAKAGE_TYPICAL = (
    50e-9  # A, ATmega328P data sheet, DC characteristics: analog comparator input leakage, the tightest given
)
LEAKAGE_LIMIT = 1e-6  # A, same table: input leakage of an I/O pin
SUPPLY = 5.0  # V

# The names printed on the common boards, by port and bit of the chip.
BOARD_NAMES = {
    **{f"PC{n}": f"A{n}" for n in range(6)},
    **{f"PD{n}": f"D{n}" for n in range(8)},
    **{f"PB{n}": f"D{n + 8}" for n in range(6)},
}


@dataclass(frozen=True)
class Pin:
    """One pin of a part; ``net`` is empty where it stays free."""

    number: str
    name: str
    type: str
    net: str


@dataclass(frozen=True)
class Part:
    """One part. ``row``: function of its line in the parts list; ``level`` 0: optional; ``where``: box, wall, line."""

    ref: str
    kind: str
    what: str
    level: int
    where: str
    pins: tuple[Pin, ...]
    row: str = ""
    about: str = ""

    @property
    def nets(self) -> list[str]:
        return [pin.net for pin in self.pins]

    @property
    def label(self) -> str:
        """Its value or type as read on the part or bought: ``750 Ω``, ``330 nF``, ``MPX5050GP``."""
        unit = {"resistor": "Ω", "thermistor": "Ω NTC", "capacitor": "F"}.get(self.kind)
        if unit is None:
            return self.what
        found = value(self.what)
        for prefix, size in (("M", 1e6), ("k", 1e3), ("", 1.0), ("µ", 1e-6), ("n", 1e-9), ("p", 1e-12)):
            if found >= size * 0.9999:
                return f"{found / size:g} {prefix}{unit}"
        raise ValueError(self.what)


@dataclass(frozen=True)
class Net:
    """One net of the board's pins. ``macro``: its name in pins.h; ``cable``: longest, m."""

    name: str
    macro: str
    signal: str
    colour: str
    cable: float


@dataclass(frozen=True)
class Circuit:
    """All parts by reference, and the board's nets by name."""

    parts: dict[str, Part]
    nets: dict[str, Net]

    def on(self, net: str, kind: str = "") -> list[Part]:
        """The parts with a pin on this net."""
        return [part for part in self.parts.values() if net in part.nets and kind in {"", part.kind}]

    def between(self, one: str, other: str, kind: str) -> Part:
        """The only part of this kind between two nets."""
        (found,) = [part for part in self.on(one, kind) if set(part.nets) == {one, other}]
        return found

    def connections(self) -> dict[str, set[tuple[str, str]]]:
        """(reference, pin number) of every pin, by net."""
        found: dict[str, set[tuple[str, str]]] = {}
        for part in self.parts.values():
            for pin in part.pins:
                if pin.net:
                    found.setdefault(pin.net, set()).add((part.ref, pin.number))
        return found


def load(path: Path = HERE / "circuit.toml") -> Circuit:
    """The circuit of a file."""
    document = tomllib.loads(path.read_text("utf-8"))
    parts = [Part(**{**entry, "pins": tuple(Pin(*pin) for pin in entry["pins"])}) for entry in document["part"]]
    return Circuit({part.ref: part for part in parts}, {entry["name"]: Net(**entry) for entry in document["net"]})


def value(text: str) -> float:
    """Ohm or farad of ``4k7``, ``750``, ``330n``.

    >>> value("4k7"), value("750")
    (4700.0, 750.0)
    """
    whole, prefix, rest = re.fullmatch(r"(\d+)([pnukM]?)(\d*)", text).groups()  # type: ignore[union-attr]
    return float(f"{whole}.{rest or 0}") * PREFIX.get(prefix, 1.0)


def pin_map(text: str | None = None) -> dict[str, str]:
    """Port pin (``PC0``) of each macro in pins.h; a converter input n is pin n of port C."""
    text = PINS.read_text("utf-8") if text is None else text
    found = dict(re.findall(r"#define (\w+_PIN) (P[BCD]\d)\b", text))
    inputs = re.findall(r"#define (ADMUX_\w+) (\d+)u\b", text)
    return found | {name: f"PC{number}" for name, number in inputs if int(number) < 8}


def corner(resistance: float, capacitance: float) -> float:
    """Hz at which an RC filter has fallen by 3 dB."""
    return 1 / (2 * math.pi * resistance * capacitance)


def filter_corner(circuit: Circuit, pin: str) -> float:
    """Hz, of the series resistor and the capacitor at an input of the board; its source's resistance is left out."""
    before = f"{pin}_IN"
    return corner(
        value(circuit.between(before, pin, "resistor").what), value(circuit.between(pin, "GND", "capacitor").what)
    )


def unplugged_share(circuit: Circuit, pin: str, leakage: float = 0.0) -> float:
    """Share of the supply at an analog input whose sensor is unplugged, with ``leakage`` (A) out of the pin.

    Plugs are at the ``_IN`` net: what is fixed to it stays.
    """
    line = f"{pin}_IN"
    up = sum(1 / value(part.what) for part in circuit.on(line, "resistor") if set(part.nets) == {line, "+5V"})
    down = sum(1 / value(part.what) for part in circuit.on(line, "resistor") if set(part.nets) == {line, "GND"})
    if not up + down:
        raise ValueError(f"{pin}: nothing sets its level when the sensor is unplugged")
    return (up * SUPPLY + leakage) / (up + down) / SUPPLY


def on_the_way(circuit: Circuit, net: str) -> list[str]:
    """What lies between the sensor's plug and the board's pin, in words, from the sensor to the board."""
    line, words = f"{net}_IN", []
    stages = [line, f"{net}_RC", net] if circuit.on(f"{net}_RC") else [line, net]
    for before, after in zip([None, *stages], [*stages, None], strict=True):
        if before and after:
            series = [p for p in circuit.on(before) if after in p.nets]
            words += [f"{part.ref} {part.label} in series" for part in series]
        if after:
            for part in circuit.on(after):
                others = {other for other in part.nets if other != after}
                if part.kind in {"resistor", "capacitor", "diode"} and others <= {"GND", "+5V"}:
                    words.append(f"{part.ref} {part.label} to {'ground' if others == {'GND'} else '5 V'}")
    return words
