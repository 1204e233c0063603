"""Writes the circuit as a KiCad schematic, and reads a schematic's nets back for comparison.

    python hardware/wiring/schematic.py      writes frothline.kicad_sch in this folder

The file format is KiCad's own, version 20211123 (KiCad 6 and later; dev-docs.kicad.org, "Schematic File Format"). Each part
is a box with its pins; a pin's wire ends in a label with the name of its net. Labels of one name are one net.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

from circuit import Circuit, Part, load  # noqa: E402  # a script of this folder

FILE = HERE / "frothline.kicad_sch"
STEP = 2.54  # mm, between pins: KiCad's grid
WIRE = 5.08  # mm, from a pin to its label
HALF = 7.62  # mm, half the width of a box
COLUMNS = (38.1, 114.3, 190.5, 266.7, 342.9)  # mm, middles of the columns of parts
TOP, BOTTOM = 33.02, 270.0  # mm
PREFIXES = {"board": "U", "sensor": "U", "module": "U", "logic": "U", "resistor": "R", "thermistor": "TH"}
PREFIXES |= {"capacitor": "C", "diode": "D", "button": "SW"}
FONT = "(effects (font (size 1.27 1.27)))"
HIDDEN = "(effects (font (size 1.27 1.27)) hide)"


def _uuid(name: str) -> str:
    return str(uuid5(NAMESPACE_URL, f"frothline/{name}"))


def _sides(part: Part) -> tuple[list[int], list[int]]:
    """Indices of the pins on the left and on the right; two-legged parts have one on each."""
    half = (len(part.pins) + 1) // 2
    return list(range(half)), list(range(half, len(part.pins)))


def _pin_places(part: Part) -> list[tuple[float, float, int]]:
    """(x, y down, angle) of each pin's free end, from the middle of the box."""
    left, right = _sides(part)
    rows = max(len(left), len(right))
    places: list[tuple[float, float, int]] = [(0.0, 0.0, 0)] * len(part.pins)
    for side, x, angle in ((left, -HALF - STEP, 0), (right, HALF + STEP, 180)):
        for row, index in enumerate(side):
            places[index] = (x, (row - (rows - 1) // 2) * STEP, angle)
    return places


def _height(part: Part) -> int:
    """Rows of pins."""
    return max(map(len, _sides(part)))


def _symbol(part: Part) -> str:
    rows = _height(part)
    top, bottom = -((rows - 1) // 2) * STEP - STEP, (rows - 1 - (rows - 1) // 2) * STEP + STEP
    pins = "\n".join(
        f"        (pin {pin.type} line (at {x:g} {-y:g} {angle}) (length 2.54)"
        f' (name "{pin.name or "~"}" {FONT}) (number "{pin.number}" {FONT}))'
        for pin, (x, y, angle) in zip(part.pins, _pin_places(part), strict=True)
    )
    name = f"frothline:{part.ref}"
    return f"""    (symbol "{name}" (in_bom yes) (on_board yes)
      (property "Reference" "{PREFIXES.get(part.kind, "U")}" (id 0) (at 0 {-top + 2.54:g} 0) {FONT})
      (property "Value" "{part.label}" (id 1) (at 0 {-bottom - 2.54:g} 0) {FONT})
      (property "Footprint" "" (id 2) (at 0 0 0) {HIDDEN})
      (property "Datasheet" "" (id 3) (at 0 0 0) {HIDDEN})
      (symbol "{part.ref}_0_1"
        (rectangle (start {-HALF:g} {-top:g}) (end {HALF:g} {-bottom:g})
          (stroke (width 0.254) (type default)) (fill (type background))))
      (symbol "{part.ref}_1_1"
{pins}))"""


def _placed(circuit: Circuit) -> Iterator[tuple[Part, float, float]]:
    """Parts with the place of their box's middle on the sheet, column by column."""
    column, y = 0, TOP
    for part in circuit.parts.values():
        needs = (_height(part) + 5) * STEP
        if y + needs > BOTTOM:
            column, y = column + 1, TOP
        above = ((_height(part) - 1) // 2 + 2) * STEP
        yield part, COLUMNS[column], round((y + above) / STEP) * STEP
        y += needs


def schematic(circuit: Circuit) -> str:
    """The text of the schematic file."""
    sheet = _uuid("sheet")
    symbols = "\n".join(_symbol(part) for part in circuit.parts.values())
    body, instances = [], []
    for part, x, y in _placed(circuit):
        ident = _uuid(part.ref)
        rows = _height(part)
        top = y - ((rows - 1) // 2) * STEP - 2 * STEP
        bottom = y + (rows - 1 - (rows - 1) // 2) * STEP + 2 * STEP
        pins = "\n".join(f'    (pin "{pin.number}" (uuid {_uuid(part.ref + pin.number)}))' for pin in part.pins)
        body.append(
            f"""  (symbol (lib_id "frothline:{part.ref}") (at {x:g} {y:g} 0) (unit 1)
    (in_bom yes) (on_board yes) (uuid {ident})
    (property "Reference" "{part.ref}" (id 0) (at {x:g} {top:g} 0) {FONT})
    (property "Value" "{part.label}" (id 1) (at {x:g} {bottom:g} 0) {FONT})
    (property "Footprint" "" (id 2) (at {x:g} {y:g} 0) {HIDDEN})
    (property "Datasheet" "" (id 3) (at {x:g} {y:g} 0) {HIDDEN})
{pins})"""
        )
        instances.append(
            f'    (path "/{ident}" (reference "{part.ref}") (unit 1) (value "{part.label}") (footprint ""))'
        )
        for pin, (px, py, angle) in zip(part.pins, _pin_places(part), strict=True):
            at, name = (x + px, y + py), part.ref + pin.number
            if not pin.net:
                body.append(f"  (no_connect (at {at[0]:g} {at[1]:g}) (uuid {_uuid(name + 'free')}))")
                continue
            end = (at[0] + (-WIRE if angle == 0 else WIRE), at[1])
            turn, justify = (180, "right") if angle == 0 else (0, "left")
            body.append(
                f"  (wire (pts (xy {at[0]:g} {at[1]:g}) (xy {end[0]:g} {end[1]:g}))"
                f" (stroke (width 0) (type default)) (uuid {_uuid(name + 'wire')}))"
            )
            body.append(
                f'  (label "{pin.net}" (at {end[0]:g} {end[1]:g} {turn})'
                f" (effects (font (size 1.27 1.27)) (justify {justify} bottom)) (uuid {_uuid(name + 'label')}))"
            )
    joined, paths = "\n".join(body), "\n".join(instances)
    return f"""(kicad_sch (version 20211123) (generator frothline_schematic)
  (uuid {sheet})
  (paper "A3")
  (title_block (title "Frothline rig") (comment 1 "Made by hardware/wiring/schematic.py from circuit.toml"))
  (lib_symbols
{symbols})
{joined}
  (sheet_instances (path "/" (page "1")))
  (symbol_instances
{paths}))
"""


# --- reading back ---------------------------------------------------------------------------------------------------


def parse(text: str) -> list:  # type: ignore[type-arg]  # nested lists of strings
    """The expression of a KiCad file as nested lists."""
    stack: list[list] = [[]]  # type: ignore[type-arg]
    for word in re.findall(r'"(?:[^"\\]|\\.)*"|[()]|[^\s()]+', text):
        if word == "(":
            stack.append([])
        elif word == ")":
            done = stack.pop()
            stack[-1].append(done)
        else:
            stack[-1].append(word.strip('"'))
    (whole,) = stack[0]
    return whole  # type: ignore[no-any-return]


def _all(expression: list, name: str) -> list[list]:  # type: ignore[type-arg]
    return [one for one in expression if isinstance(one, list) and one and one[0] == name]


def _one(expression: list, name: str) -> list:  # type: ignore[type-arg]
    return _all(expression, name)[0]


def _point(values: list[str]) -> tuple[float, float]:
    return round(float(values[0]), 3), round(float(values[1]), 3)


def nets_of(text: str) -> dict[str, set[tuple[str, str]]]:
    """(reference, pin number) by net of a schematic file, from where its pins, wires and labels lie."""
    sheet = parse(text)
    library = {entry[1]: entry for entry in _all(_one(sheet, "lib_symbols"), "symbol")}
    joined: dict[tuple[float, float], tuple[float, float]] = {}

    def root(place: tuple[float, float]) -> tuple[float, float]:
        while joined.setdefault(place, place) != place:
            place = joined[place]
        return place

    for wire in _all(sheet, "wire"):
        ends = [_point(end[1:]) for end in _all(_one(wire, "pts"), "xy")]
        joined[root(ends[0])] = root(ends[1])
    by_name: dict[str, set[tuple[float, float]]] = {}
    for label in _all(sheet, "label"):
        by_name.setdefault(label[1], set()).add(root(_point(_one(label, "at")[1:])))
    found: dict[str, set[tuple[str, str]]] = {name: set() for name in by_name}
    for symbol in _all(sheet, "symbol"):
        ref = next(p[2] for p in _all(symbol, "property") if p[1] == "Reference")
        x, y = _point(_one(symbol, "at")[1:])
        for unit in _all(library[_one(symbol, "lib_id")[1]], "symbol"):
            for pin in _all(unit, "pin"):
                px, py = _point(_one(pin, "at")[1:])
                place = root(_point([str(x + px), str(y - py)]))
                for name, places in by_name.items():
                    if place in places:
                        found[name].add((ref, _one(pin, "number")[1]))
    return found


def rule_breaks(circuit: Circuit) -> list[str]:
    """What an electrical rule check finds: single pins, inputs that nothing drives, two outputs on one net."""
    kinds = {(part.ref, pin.number): pin.type for part in circuit.parts.values() for pin in part.pins}
    broken = []
    for part in circuit.parts.values():
        broken += [f"{part.ref} pin {p.number} is free" for p in part.pins if not p.net and p.type != "output"]
    for net, pins in circuit.connections().items():
        types = [kinds[pin] for pin in pins]
        if len(pins) < 2:
            broken.append(f"{net} has one pin only")
        drives = {"output", "power_out", "bidirectional", "open_collector", "passive"}
        if {"input", "power_in"} & set(types) and not drives & set(types):
            broken.append(f"nothing drives {net}")
        if sum(kind in {"output", "power_out"} for kind in types) > 1:
            broken.append(f"two outputs meet on {net}")
    return broken


def main() -> int:
    FILE.write_text(schematic(load()), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
