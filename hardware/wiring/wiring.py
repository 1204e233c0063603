"""Writes the wiring's pictures and its tables, all from ``circuit.toml`` and the pin map of the firmware.

    python hardware/wiring/wiring.py      writes wiring.svg (Uno), wiring-nano.svg and wiring.md in this folder

Which pin does what is read from firmware/boards/atmega328p/pins.h; what is between a sensor and its pin from
circuit.toml. A test compares what is committed with what this makes.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

from circuit import BOARD_NAMES, Circuit, load, on_the_way, pin_map  # noqa: E402  # a script of this folder
from picture import draw  # noqa: E402

PICTURES = {"wiring.svg": "uno", "wiring-nano.svg": "nano"}


def table(circuit: Circuit | None = None) -> str:
    """The pin list and the list of parts as Markdown."""
    circuit = circuit or load()
    pins = pin_map()
    rows = ["# Pin list and parts", "", "| board | chip | signal | wire | comes from | on the way, from the sensor | cable at most |",
            "|---|---|---|---|---|---|---|"]  # fmt: skip
    for net in circuit.nets.values():
        chip = pins[net.macro]
        way = ", ".join(on_the_way(circuit, net.name)) or "nothing"
        rows.append(
            f"| {BOARD_NAMES[chip]} | {chip} | {net.signal} | {net.colour} | {_source(circuit, net.name)} | {way} | "
            f"{net.cable:g} m |"
        )
    rows += ["", "| part | what | pins | mind |", "|---|---|---|---|"]
    for part in circuit.parts.values():
        named = ", ".join(f"{pin.number}{f' {pin.name}' if pin.name else ''}: {pin.net or 'free'}" for pin in part.pins)
        rows.append(f"| {part.ref} | {part.label} | {named} | {part.about} |")
    return "\n".join(rows) + "\n"


def _source(circuit: Circuit, net: str) -> str:
    """The sensor at the end of a net, and its pin."""
    for end in (f"{net}_IN", net):
        for part in circuit.on(end):
            if part.kind in {"sensor", "module", "thermistor", "button"}:
                name = next(pin.name for pin in part.pins if pin.net == end)
                return f"{part.ref} {part.label} {name}".strip()
    return ""


def main() -> int:
    (HERE / "wiring.md").write_text(table(), "utf-8")
    for name, board in PICTURES.items():
        (HERE / name).write_text(draw(load(), board), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
