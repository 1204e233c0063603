"""The spool: sizes of the measuring pipe and its elements, read from TOML. ``spool.toml`` is the spool as drawn."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import Any, get_type_hints

from frothline.errors import InputError
from frothline.toml_text import TomlUnreadable, read_toml
from frothline.units import INCH

MOST_PULSES = 100  # in one turn of a rotor
_LENGTHS = {"pipe.", "hose.", "plate.", "orifice.", "venturi.", "printing."}  # tables whose numbers are all lengths
_LENGTH = re.compile(r"(\d+(?:\.\d+)?(?:[eE][+-]?\d{1,2})?)?(?:(?:^|[ -])(\d{1,3})/(\d{1,3}))? *(mm|cm|m|in)")
_SIMULATED = re.compile(r"simulated \d+|sim [0-9a-f]{12}|modelled rig")  # labels of simulated boards


@dataclass(frozen=True)
class Pipe:
    """Lengths in m; ``upstream_fitting`` is the last fitting before the straight length."""

    bore: float
    u_bore: float
    outer_diameter: float
    straight_upstream: float
    straight_downstream: float
    tap_to_rotor: float
    upstream_fitting: str = "reducer"
    description: str = ""

    @property
    def area(self) -> float:
        """m2"""
        return math.pi / 4 * self.bore**2


@dataclass(frozen=True)
class Flow:
    """The flow element: auto, rotor, thermal, orifice, venturi or plate."""

    element: str = "auto"


@dataclass(frozen=True)
class RotorSettings:
    """Rotor anemometer; speeds in m/s.

    calibrated : True if K of this rotor was measured
    u_relative : relative standard uncertainty of K if calibrated, otherwise of the whole flow
    pulses_per_revolution : 0 if unknown
    pulses_per_cubic_metre, pulses_per_metre : K factor, 1/m3 or 1/m; exactly one is set
    blockage : share of the bore
    """

    start_speed: float
    u_start_speed: float
    u_relative: float
    calibrated: bool = False
    pulses_per_revolution: int = 0
    pulses_per_cubic_metre: float = 0.0
    pulses_per_metre: float = 0.0
    blockage: float = 0.0
    u_blockage: float = 0.0
    largest_speed: float = 30.0


@dataclass(frozen=True)
class ThermalSettings:
    """Thermal anemometer: ``blockage`` of the bore (0..1); tip at the "centre" or "three_quarter_radius"."""

    blockage: float = 0.0
    u_blockage: float = 0.0
    position: str = "centre"


# entry -> its allowed words
WORDS: dict[str, tuple[str, ...]] = {
    "flow.element": ("auto", "rotor", "thermal", "orifice", "venturi", "plate"),
    "hose.goes": ("inside", "over"),
    "thermal.position": ("centre", "three_quarter_radius"),
    "orifice.taps": ("corner", "d_d2", "flange"),
    "venturi.kind": ("machined", "rough_cast", "rough_welded"),
}


@dataclass(frozen=True)
class Orifice:
    """``bore`` of the hole, m; ``taps`` corner, d_d2 or flange."""

    bore: float
    u_bore: float
    taps: str = "corner"


@dataclass(frozen=True)
class Venturi:
    """``throat`` m; ``kind`` machined, rough_cast or rough_welded."""

    throat: float
    u_throat: float
    kind: str = "machined"


@dataclass(frozen=True)
class Plate:
    """Sharp-edged plate at the end of the line, discharging into the room; ``hole`` in m."""

    hole: float
    u_hole: float


@dataclass(frozen=True)
class HoseCuff:
    """Cuff of the hose: outer diameter and bore, m; ``goes`` "inside" the adapter or "over" its spigot."""

    cuff_outer: float
    cuff_bore: float
    goes: str = "inside"


@dataclass(frozen=True)
class Printing:
    """Printed sockets: ``play`` on the diameter of a push-fit and ``wall``, m."""

    play: float
    wall: float


@dataclass(frozen=True)
class ScaleSettings:
    """Load cell: ``capacity`` (kg) at ``sensitivity`` (V/V); ``u_relative`` applies if they are ``calibrated``."""

    capacity: float
    sensitivity: float
    u_relative: float
    calibrated: bool = False


@dataclass(frozen=True)
class Site:
    """Values used where a sensor is missing, SI. The exhaust warmth follows from pressure and efficiency."""

    gravity: float
    u_gravity: float
    ambient_pressure: float
    u_ambient_pressure: float
    ambient_temperature: float
    u_ambient_temperature: float
    ambient_humidity: float
    u_ambient_humidity: float
    exhaust_efficiency: float
    u_exhaust_efficiency: float
    u_exhaust_warmth: float
    exhaust_warmth: float = math.nan  # K above ambient, if the file gives it


@dataclass(frozen=True)
class Spool:
    """The contents of a spool file, SI."""

    name: str
    pipe: Pipe
    flow: Flow
    rotor: RotorSettings
    thermal: ThermalSettings
    orifice: Orifice
    venturi: Venturi
    plate: Plate
    hose: HoseCuff
    printing: Printing
    scale: ScaleSettings
    site: Site

    @classmethod
    def default(cls) -> Spool:
        """The spool as drawn."""
        return cls.parse(files("frothline.sensors").joinpath("spool.toml").read_text(encoding="utf-8"), "spool.toml")

    @classmethod
    def for_board(cls, label: str) -> Spool:
        """The spool as drawn. Rotor and scale of a simulated board are calibrated, so that a demo needs no workshop."""
        drawn = cls.default()
        if _SIMULATED.fullmatch(label) is None:
            return drawn
        rotor = replace(drawn.rotor, calibrated=True, u_relative=0.012, pulses_per_revolution=4)
        return replace(drawn, rotor=rotor, scale=replace(drawn.scale, calibrated=True))

    @classmethod
    def load(cls, path: str | Path) -> Spool:
        """Read a spool file; missing entries are as drawn. InputError names file and field."""
        path = Path(path)
        try:
            text = path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as trouble:
            raise InputError(f"the spool file cannot be read ({trouble})", where=str(path)) from trouble
        return cls.parse(text, str(path))

    @classmethod
    def parse(cls, text: str, where: str) -> Spool:
        """From the text of a spool file."""
        try:
            document = read_toml(text)
        except TomlUnreadable as trouble:
            raise InputError(f"this is not TOML: {trouble}", where=where, remedy="Fix that line") from trouble
        drawn = tomllib.loads(files("frothline.sensors").joinpath("spool.toml").read_text(encoding="utf-8"))
        for table, entries in document.items():
            if isinstance(entries, dict) and isinstance(drawn.get(table), dict):
                # Two alternative entries: the one in the file is used.
                if "pulses_per_metre" in entries:
                    drawn[table].pop("pulses_per_cubic_metre", None)
                drawn[table].update(entries)
            else:
                drawn[table] = entries
        spool = _fitted(_build(cls, drawn, where, ""), document)
        spool.check(where)
        return spool

    def check(self, where: str = "spool") -> None:
        """Raise InputError for impossible sizes."""
        rules = (
            (0.01 <= self.pipe.bore <= 0.5, "pipe.bore", "a bore in metres, 0.01 to 0.5"),
            (self.pipe.bore < self.pipe.outer_diameter, "pipe.bore", "less than the outer diameter"),
            (0 < self.orifice.bore < self.pipe.bore, "orifice.bore", "less than the bore of the pipe"),
            (0 < self.venturi.throat < self.pipe.bore, "venturi.throat", "less than the bore of the pipe"),
            (0 < self.plate.hole <= self.pipe.bore, "plate.hole", "in metres, at most the bore of the pipe"),
            (
                0 < self.hose.cuff_bore < self.hose.cuff_outer <= 0.2,
                "hose.cuff_bore",
                "less than the cuff's outer diameter",
            ),
            (0 <= self.printing.play <= 0.001, "printing.play", "the play of a push-fit in metres, 0 to 0.001"),
            (0.002 <= self.printing.wall <= 0.01, "printing.wall", "a wall in metres, 0.002 to 0.01"),
            (0 <= self.rotor.blockage < 0.9, "rotor.blockage", "a share of the bore, 0 to 0.9"),
            (
                0 <= self.rotor.pulses_per_revolution <= MOST_PULSES,
                "rotor.pulses_per_revolution",
                f"a whole number from 1 to {MOST_PULSES}, or 0 if unknown",
            ),
            (
                (self.rotor.pulses_per_cubic_metre > 0) != (self.rotor.pulses_per_metre > 0),
                "rotor.pulses_per_cubic_metre",
                "a K factor above zero, or pulses_per_metre instead, but not both",
            ),
            (0 < self.site.exhaust_efficiency <= 1, "site.exhaust_efficiency", "a share above 0, at most 1"),
        )
        for good, field, wanted in rules:
            if not good:
                raise InputError(f"{field} is not valid", where=where, remedy=f"Give {wanted}")
        for field, allowed in WORDS.items():
            table, _, name = field.partition(".")
            value = getattr(getattr(self, table), name)
            if value not in allowed:
                raise InputError(f"{field} = “{value}” is unknown", where=where, remedy=f"Write {', '.join(allowed)}")


def _fitted(spool: Spool, document: Mapping[str, Any]) -> Spool:
    """Drawn elements that the file does not name are made smaller where they do not fit its pipe."""
    bore = spool.pipe.bore
    if "orifice" not in document and spool.orifice.bore >= bore:
        spool = replace(spool, orifice=replace(spool.orifice, bore=0.7 * bore))
    if "venturi" not in document and spool.venturi.throat >= bore:
        spool = replace(spool, venturi=replace(spool.venturi, throat=0.635 * bore))
    if "plate" not in document and spool.plate.hole > bore:
        spool = replace(spool, plate=replace(spool.plate, hole=0.35 * bore))
    return spool


def _length(text: str, entry: str, where: str) -> float:
    """Length in m of a text with its unit, as a calliper shows it: "75.2 mm", "2 3/8 in"."""
    found = _LENGTH.fullmatch(text.strip())
    whole, top, bottom, unit = found.groups() if found else (None, None, None, "")
    if found is None or bottom == "0" or (whole is None and top is None):
        remedy = 'Write a number of metres, or a length with its unit in quotes: "75.2 mm", "2 3/8 in"'
        raise InputError(f"{entry} = “{text:.40}” is not a length", where=where, remedy=remedy)
    number = float(whole or 0) + (int(top) / int(bottom) if top and bottom else 0.0)
    return number * {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": INCH}[unit]


def _build(kind: Any, entries: Mapping[str, Any], where: str, path: str) -> Any:
    """A dataclass from a TOML table, field by field; errors name the entry."""
    hints = get_type_hints(kind)
    known = {item.name for item in fields(kind)}
    for name in entries:
        if name not in known:
            remedy = f"Known: {', '.join(sorted(known))}"
            raise InputError(f"unknown entry {path}{name:.40}", where=where, remedy=remedy)
    made: dict[str, Any] = {}
    for name, written in entries.items():
        hint, value = hints[name], written
        if is_dataclass(hint):
            if not isinstance(value, dict):
                raise InputError(f"{path}{name} is a table", where=where, remedy=f"Write [{path}{name}] above it")
            made[name] = _build(hint, value, where, f"{path}{name}.")
        elif hint is float:
            if isinstance(value, str) and path in _LENGTHS:
                value = _length(value, f"{path}{name}", where)
            if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
                raise InputError(f"{path}{name} must be a number, not {value!r}", where=where)
            made[name] = float(value)
        elif not isinstance(value, hint) or isinstance(value, bool) != (hint is bool):
            raise InputError(f"{path}{name} must be {hint.__name__}, not {value!r}", where=where)
        else:
            made[name] = value
    try:
        return kind(**made)
    except TypeError as trouble:
        raise InputError(f"something is missing: {trouble}", where=where) from trouble
