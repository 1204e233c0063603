"""The wiring as a person sees it: a board's outline with its pins, the sensors' pins, coloured wires, parts by value.

``draw(circuit, "uno")`` and ``draw(circuit, "nano")`` give SVG texts. Places of the pins on the boards: their makers' pinout
drawings, from memory; the names are printed on the boards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from circuit import Circuit, Part

# Pins from the USB plug on, seen from the side of the parts with the plug at the top; "" is a gap between headers.
UNO_LEFT = ["NC", "IOREF", "RESET", "3V3", "5V", "GND", "GND", "VIN", "", "A0", "A1", "A2", "A3", "A4", "A5"]
UNO_RIGHT = ["SCL", "SDA", "AREF", "GND", "D13", "D12", "D11", "D10", "D9", "D8", "", "D7", "D6", "D5", "D4", "D3",
             "D2", "D1", "D0"]  # fmt: skip
NANO_LEFT = ["D13", "3V3", "AREF", "A0", "A1", "A2", "A3", "A4", "A5", "A6", "A7", "5V", "RST", "GND", "VIN"]
NANO_RIGHT = ["D12", "D11", "D10", "D9", "D8", "D7", "D6", "D5", "D4", "D3", "D2", "GND", "RST", "D0", "D1"]
BOARDS = {"uno": ("Uno R3", UNO_LEFT, UNO_RIGHT), "nano": ("Nano", NANO_LEFT, NANO_RIGHT)}

COLOURS = {
    "red": "#c8102e", "black": "#222222", "yellow": "#d9a400", "grey": "#8a8d8f", "green": "#2e8540", "white": "#b9b29c",
    "blue": "#1f5fbf", "violet": "#7b3fa0", "turquoise": "#0097a7", "orange": "#e06c00", "brown": "#7a4a21",
    "pink": "#d6478f",
}  # fmt: skip
WIDTH, BOARD_X, BOARD_WIDTH = 1680, 695, 190
PITCH, TOP = 30, 130
INK, SOFT = "#22313a", "#5b6b73"


@dataclass(frozen=True)
class Row:
    """One sensor: its reference, and the board nets that it feeds."""

    ref: str
    nets: tuple[str, ...]
    title: str


LEFT = (
    Row("U2", ("A0",), "line pressure"),
    Row("U8", ("A1",), "thermal anemometer (optional)"),
    Row("TH1", ("A2",), "line temperature"),
    Row("U7", ("A3",), "pressure difference (optional)"),
    Row("U5", ("A4", "A5"), "room: pressure, temperature, humidity (level 2)"),
)
RIGHT = (
    Row("U3", ("D8",), "rotor: Hall switch (level 2)"),
    Row("U6", ("D5", "D4"), "scale (level 3)"),
    Row("SW1", ("D2",), "button in the wall of the box"),
)
ROW_HEIGHT = 196


class _Page:
    def __init__(self) -> None:
        self.parts: list[str] = []

    def line(self, points: Sequence[tuple[float, float]], colour: str, width: float = 3.0) -> None:
        places = " ".join(f"{x:g},{y:g}" for x, y in points)
        self.parts.append(
            f'<polyline points="{places}" fill="none" stroke="{colour}" stroke-width="{width:g}" stroke-linejoin="round"/>'
        )

    def box(self, x: float, y: float, w: float, h: float, fill: str, stroke: str = INK) -> None:
        self.parts.append(
            f'<rect x="{x:g}" y="{y:g}" width="{w:g}" height="{h:g}" rx="4" fill="{fill}" stroke="{stroke}"/>'
        )

    def dot(self, x: float, y: float, colour: str) -> None:
        self.parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="4" fill="{colour}"/>')

    def text(self, x: float, y: float, words: str, size: int = 13, anchor: str = "start", colour: str = INK) -> None:
        self.parts.append(
            f'<text x="{x:g}" y="{y:g}" font-size="{size}" text-anchor="{anchor}" fill="{colour}">{escape(words)}</text>'
        )


def draw(circuit: Circuit, board: str) -> str:
    """The picture for one board as SVG."""
    title, left, right = BOARDS[board]
    page = _Page()
    rows = max(len(LEFT), len(RIGHT))
    height = TOP + rows * ROW_HEIGHT + 40
    pins = _board(page, title, left, right, height)
    for side, column in ((-1, LEFT), (1, RIGHT)):
        for number, row in enumerate(column):
            _sensor(page, circuit, row, side, TOP + number * ROW_HEIGHT, pins)
    _legend(page, circuit, height)
    body = "\n".join(page.parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height + 270}" font-family="sans-serif">\n'
        f'<rect width="{WIDTH}" height="{height + 270}" fill="#ffffff"/>\n{body}\n</svg>\n'
    )


def _board(page: _Page, title: str, left: list[str], right: list[str], height: int) -> dict[str, tuple[float, float]]:
    """Draw the board; the place of each named pin."""
    long = max(len(left), len(right))
    pitch = (height - TOP - 110) / long
    page.box(BOARD_X, TOP - 30, BOARD_WIDTH, height - TOP, "#d7e7ea")
    page.box(BOARD_X + 60, TOP - 60, 70, 56, "#c9ced1")
    page.text(BOARD_X + 95, TOP - 66, "USB: the only supply", 13, "middle", SOFT)
    page.text(BOARD_X + 95, height - 72, title, 22, "middle")
    page.text(BOARD_X + 95, height - 50, "seen from above", 13, "middle", SOFT)
    places: dict[str, tuple[float, float]] = {}
    for column, x, anchor, inner in ((left, BOARD_X, "start", 14), (right, BOARD_X + BOARD_WIDTH, "end", -14)):
        for number, name in enumerate(column):
            if not name:
                continue
            y = TOP + 10 + number * pitch
            page.box(x - 6, y - 6, 12, 12, "#f4d35e")
            page.text(x + inner, y + 5, name, 14, anchor)
            if name == "GND" or name not in places:
                places[f"{name}{'R' if x > BOARD_X else 'L'}" if name == "GND" else name] = (x, y)
    return places


def _sensor(page: _Page, circuit: Circuit, row: Row, side: int, y: float, pins: dict[str, tuple[float, float]]) -> None:
    part = circuit.parts[row.ref]
    outer = 20.0 if side < 0 else WIDTH - 20.0
    shown = [pin for pin in part.pins if pin.net and not pin.net.startswith("CELL")]
    tall = max(74.0, 26.0 * len(shown) + 12)
    x = outer if side < 0 else outer - 130
    page.text(outer, y - 8, row.title, 14, "start" if side < 0 else "end")
    page.box(x, y, 130, tall, "#eef1e6")
    page.text(
        x + (8 if side < 0 else 122), y + tall + 16, f"{row.ref} {part.label}", 12, "start" if side < 0 else "end"
    )
    edge = x + 130 if side < 0 else x
    towards = 1 if side < 0 else -1
    for index, pin in enumerate(shown):
        at = y + 20 + 26 * index
        page.box(edge - 5, at - 5, 10, 10, "#f4d35e")
        words = f"{pin.number} {pin.name}".strip()
        page.text(edge - towards * 12, at + 4, words, 13, "end" if side < 0 else "start")
        if pin.net in {"+5V", "GND"}:
            colour = COLOURS["red" if pin.net == "+5V" else "black"]
            page.line([(edge, at), (edge + towards * 34, at)], colour)
            page.text(
                edge + towards * 38,
                at + 4,
                "5V" if pin.net == "+5V" else "GND",
                12,
                "start" if side < 0 else "end",
                colour,
            )
        else:
            second = len(row.nets) > 1 and pin.net == row.nets[0]
            _wire(page, circuit, pin.net, (edge, at), side, pins, second=second)


def _stages(circuit: Circuit, net: str) -> list[str]:
    """Nets from the sensor's plug to the board's pin."""
    board = net.removesuffix("_IN")
    return [one for one in (f"{board}_IN", f"{board}_RC", board) if circuit.on(one)]


def _wire(
    page: _Page,
    circuit: Circuit,
    net: str,
    start: tuple[float, float],
    side: int,
    pins: dict[str, tuple[float, float]],
    *,
    second: bool,
) -> None:
    """The way of one signal: parts in series on the wire, parts to 5 V above it and to ground below it.

    ``second``: a wire below another one, whose parts are all below it.
    """
    towards = 1 if side < 0 else -1
    board = net.removesuffix("_IN")
    colour = COLOURS[circuit.nets[board].colour]
    x, y = start[0] + towards * 88, start[1]
    page.line([start, (x, y)], colour)
    stages = _stages(circuit, net)
    for before, after in zip(stages, [*stages[1:], ""], strict=True):
        for part in _shunts(circuit, before):
            x = _shunt(page, part, (x, y), towards, colour, down=second)
        series = [one for one in circuit.on(before) if after and after in one.nets]
        for part in series:
            wide = 74.0 if part.kind == "resistor" else 84.0
            page.line([(x, y), (x + towards * 12, y)], colour)
            page.box(min(x + towards * 12, x + towards * (12 + wide)), y - 13, wide, 26, "#fff6e0")
            page.text(x + towards * (12 + wide / 2), y - 1, part.ref, 10, "middle", SOFT)
            page.text(x + towards * (12 + wide / 2), y + 10, part.label, 11, "middle")
            page.line([(x + towards * (12 + wide), y), (x + towards * (24 + wide), y)], colour)
            x += towards * (24 + wide)
    target = pins[board]
    lane = BOARD_X - 22 - 13 * _lane(board) if side < 0 else BOARD_X + BOARD_WIDTH + 22 + 13 * _lane(board)
    page.line([(x, y), (lane, y), (lane, target[1]), target], colour)


def _lane(board: str) -> int:
    order = ["A0", "A1", "A2", "A3", "A4", "A5"] if board.startswith("A") else ["D8", "D5", "D4", "D2"]
    return order.index(board)


def _shunts(circuit: Circuit, net: str) -> list[Part]:
    """Parts from a net to 5 V or to ground."""
    kinds = {"resistor", "capacitor", "diode"}
    return [p for p in circuit.on(net) if p.kind in kinds and set(p.nets) - {net} <= {"GND", "+5V"}]


def _shunt(page: _Page, part: Part, at: tuple[float, float], towards: int, colour: str, *, down: bool) -> float:
    """Draw one at the wire; the x behind it."""
    x, y = at
    high = "+5V" in part.nets
    up = high and not down
    middle = x + towards * 32
    page.line([(x, y), (x + towards * 64, y)], colour)
    page.dot(middle, y, colour)
    end = y - 24 if up else y + 24
    page.line([(middle, y), (middle, end)], colour, 2)
    page.box(middle - 31, end - (26 if up else 0), 62, 26, "#fff6e0")
    page.text(middle, end + (-15 if up else 11), part.ref, 10, "middle", SOFT)
    page.text(middle, end + (-4 if up else 22), part.label, 11, "middle")
    rail = COLOURS["red" if high else "black"]
    far = end - 26 if up else end + 26
    page.line([(middle, far), (middle, far + (-12 if up else 12))], rail, 2)
    page.text(middle, far + (-15 if up else 23), "5V" if high else "GND", 10, "middle", rail)
    return x + towards * 64


def _always(circuit: Circuit, net: str) -> str:
    """The parts of level 1 on an input whose sensor is optional, in words."""
    here = [
        ref
        for ref, part in circuit.parts.items()
        if part.level == 1 and any(p.net in {net, f"{net}_IN"} for p in part.pins)
    ]
    return f"{', '.join(ref for ref in here if ref != 'U1')} at {net}"


def _legend(page: _Page, circuit: Circuit, height: float) -> None:
    y = height + 20
    page.text(20, y, "Wires", 15)
    entries = [("red", "5 V"), ("black", "ground, a wire of its own for each sensor")]
    entries += [(net.colour, f"{net.name} {net.signal}") for net in circuit.nets.values()]
    for number, (colour, words) in enumerate(entries):
        x, line = 20 + 370 * (number % 4), y + 24 + 24 * (number // 4)
        page.line([(x, line - 4), (x + 40, line - 4)], COLOURS[colour], 5)
        page.text(x + 48, line, f"{colour}: {words}", 13)
    logic = circuit.parts["U4"]
    tied = ", ".join(pin.number for pin in logic.pins if pin.type == "input" and pin.net == "GND")
    notes = f"U4 {logic.label}: pin 14 to 5V, pin 7 to GND, C9 100 nF between them; pins {tied} (unused inputs) to GND."
    near = f"C2 {circuit.parts['C2'].label} and C3 {circuit.parts['C3'].label} from Vs to GND on the legs of U2."
    cell = ", ".join(f"{pin.name} to {pin.net.removeprefix('CELL_')}" for pin in circuit.parts["LC1"].pins)
    diodes = "The ring of a diode points to 5V where it goes to 5V, and to the signal where it goes to GND."
    lines = [f"{notes} {near}", f"U6 to the load cell LC1: {cell}. {diodes}"]
    lines += [f"{ref}: {circuit.parts[ref].about}." for ref in ("U2", "U3", "U5", "U7", "LC1")]
    lines[-2] += (
        f" {_always(circuit, 'A1')} and {_always(circuit, 'A3')} are fitted without U8 and U7 too: an open input reads noise."
    )
    for number, words in enumerate(lines):
        page.text(20, y + 108 + 20 * number, words, 13)
