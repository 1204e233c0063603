"""The description of a foam generator (a build) in SI, with limits and words of each entry.

The sheet that a person writes (``generator.sheet``), the side view (``generator.drawing``), the resistance
(``generator.pressure_model``) and the what-if all use this description. Each entry has its kind, limits and words in
its metadata; the sheet is read, written and explained from these.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import MISSING, Field, dataclass, field, fields, replace
from math import pi
from typing import Any

from frothline.foam.dilution import Dilution
from frothline.physics.packing import SPHERE_VOIDAGE, screen_open_fraction, voidage_from_mass
from frothline.physics.pipe import FITTINGS
from frothline.presentable import Observations, Presentable
from frothline.rounding import counted
from frothline.units import METRIC, SI

PACKING_KINDS = ("none", "beads", "wire wool", "pad", "screens")


MATERIALS = {  # density kg/m³ of the solid itself; common tables
    "steel": 7850.0,
    "stainless": 7900.0,
    "copper": 8960.0,
    "aluminium": 2700.0,
    "glass": 2500.0,
    "nylon": 1140.0,
    "polypropylene": 905.0,
}

_QUANTITIES = {  # kind of entry -> table of units
    "bore": "length",
    "length": "length",
    "mass": "mass",
    "volume": "volume",
    "flow": "foam_rate",
    "temperature": "temperature",
}


def entry(
    kind: str,
    about: str,
    default: Any = MISSING,
    *,
    low: float = 0.0,
    high: float = 1e9,
    words: tuple[str, ...] = (),
    label: str = "",
    hinted: bool = False,
    only: tuple[str, tuple[str, ...]] | None = None,
) -> Any:
    """Make a field of the build with the metadata for sheet and form.

    ``kind`` of value, explanation ``about``, limits in SI, allowed ``words``. ``label``: its name in the form, if it
    differs from the field's name. ``hinted``: whether the form shows ``about``. ``only``: another entry of the part,
    and its values for which this entry has an effect.
    """
    metadata = {
        "kind": kind,
        "about": about,
        "low": low,
        "high": high,
        "words": words,
        "label": label,
        "hinted": hinted,
        "only": only,
    }
    return field(metadata=metadata) if default is MISSING else field(default=default, metadata=metadata)


@dataclass(frozen=True)
class Connection:
    """The connection from the pressure tap of the spool to the hose."""

    bore: float = entry("bore", "inner diameter of the air connection", low=5e-3, high=0.2)
    fittings: tuple[str, ...] = entry(
        "list", "fittings between the pressure tap and the diffusion tube", (), words=tuple(FITTINGS), hinted=True
    )


@dataclass(frozen=True)
class Hose:
    """The hose from the spool to the generator; no length, no hose."""

    bore: float = entry("bore", "inner diameter of the hose", low=5e-3, high=0.2)
    length: float = entry("length", "length of the hose", low=0.0, high=50.0)
    kind: str = entry("word", "smooth or corrugated inside", "smooth", words=("smooth", "corrugated"))
    pitch: float = entry(
        "length",
        "pitch of the ripples, corrugated hose",
        4e-3,
        low=5e-4,
        high=0.05,
        label="ripple",
        only=("kind", ("corrugated",)),
    )


@dataclass(frozen=True)
class Tube:
    """The diffusion tube: closed at its far end, with rows of holes along it for the air."""

    bore: float = entry("bore", "inner diameter of the diffusion tube", low=4e-3, high=0.2)
    length: float = entry(
        "length", "length of the drilled part", low=5e-3, high=3.0, label="drilled length", hinted=True
    )
    rows: int = entry("count", "rows of holes around the tube", low=1, high=60)
    holes_per_row: int = entry("count", "holes in each row, along the tube", low=1, high=500)
    hole: float = entry("length", "diameter of the holes", low=3e-4, high=0.03, label="hole diameter")
    wall: float = entry("length", "thickness of the tube's wall", 3e-3, low=2e-4, high=0.02)
    countersunk: str = entry("word", "which side of the holes is countersunk", "no", words=("no", "inside", "outside"))
    under_liquid: int = entry(
        "count", "number of holes under liquid", 0, low=0, high=30000, label="holes under liquid", hinted=True
    )
    depth: float = entry(
        "length", "mean depth of liquid over those holes", 0.0, low=0.0, high=1.5, label="depth of liquid", hinted=True
    )

    @property
    def holes(self) -> int:
        return self.rows * self.holes_per_row

    @property
    def pitch(self) -> float:
        """m, from hole to hole along a row"""
        return self.length / self.holes_per_row

    @property
    def hole_area(self) -> float:
        """m², of all holes together"""
        return self.holes * pi / 4 * self.hole**2


@dataclass(frozen=True)
class Body:
    """The pipe with the packing, in which air and solution meet."""

    bore: float = entry("bore", "inner diameter of the body", low=0.01, high=0.5)
    length: float = entry("length", "length of the body", low=0.02, high=5.0)


@dataclass(frozen=True)
class Packing:
    """The packing, which makes foam of coarse bubbles. The needed figures depend on the kind."""

    kind: str = entry("word", "kind of the packing", "none", words=PACKING_KINDS, label="packing")
    length: float = entry(
        "length",
        "length of the packing as it sits",
        0.0,
        low=0.0,
        high=3.0,
        only=("kind", ("beads", "wire wool", "pad", "screens")),
    )
    mass: float | None = entry(
        "mass", "mass of the dry packing (wire wool)", None, low=1e-4, high=50.0, only=("kind", ("wire wool",))
    )
    material: str = entry(
        "word",
        "what the wire or bead is made of",
        "steel",
        words=tuple(MATERIALS),
        only=("kind", ("beads", "wire wool", "pad")),
    )
    wire: float | None = entry(
        "length",
        "thickness of the wire or fibre",
        None,
        low=5e-6,
        high=5e-3,
        label="wire or fibre",
        only=("kind", ("wire wool", "pad", "screens")),
    )
    bead: float | None = entry("length", "diameter of the beads", None, low=2e-4, high=0.05, only=("kind", ("beads",)))
    voidage: float | None = entry(
        "share",
        "porosity (open fraction) of the packing, if known",
        None,
        low=0.3,
        high=0.994,
        hinted=True,
        only=("kind", ("beads", "pad")),
    )
    layers: int | None = entry("count", "number of screens", None, low=1, high=500, only=("kind", ("screens",)))
    opening: float | None = entry(
        "length", "opening between two wires of a screen", None, low=2e-5, high=0.02, only=("kind", ("screens",))
    )

    @property
    def is_wool(self) -> bool:
        """Whether the packing consists of random wires or fibres."""
        return self.kind not in {"none", "beads", "screens"}

    def open_share(self, bore: float) -> float:
        """Voidage of the packing in a body of ``bore`` m (for screens: open share of one). Raises OutsideValidity."""
        if self.kind == "screens":
            return screen_open_fraction(self.wire or 0.0, self.opening or 0.0)
        if self.voidage is not None:
            return self.voidage
        if self.kind == "beads":
            return SPHERE_VOIDAGE
        return voidage_from_mass(self.mass or 0.0, MATERIALS[self.material], bore, self.length)


@dataclass(frozen=True)
class Outlet:
    """The outlet from the body to the foam hose."""

    bore: float = entry("bore", "inner diameter of the outlet", low=2e-3, high=0.3)
    shape: str = entry("word", "how the body narrows to it", "flat", words=("flat", "cone"))
    length: float = entry(
        "length", "length of the cone", 0.0, low=0.0, high=1.0, label="length of the cone", only=("shape", ("cone",))
    )
    hose: float = entry(
        "length", "length of foam hose after the outlet, same bore", 0.0, low=0.0, high=30.0, label="foam hose"
    )


@dataclass(frozen=True)
class Reservoir:
    """The reservoir of solution and its feed to the air."""

    volume: float = entry("volume", "volume of solution", low=1e-4, high=2.0)
    filling: str = entry(
        "word", "how the solution enters", "batch", words=("batch", "gravity", "pump", "sprayed"), hinted=True
    )
    flow: float | None = entry(
        "flow",
        "solution flow, if pumped or measured",
        None,
        low=1e-7,
        high=0.01,
        label="solution flow",
        hinted=True,
    )


@dataclass(frozen=True)
class Solution:
    """The foaming solution."""

    agent: str = entry("text", "name of the agent, in your own words")
    dilution: Dilution = entry(  # noqa: RUF009  entry() makes a field, no shared default
        "dilution", "agent to water: 1+30 (parts to parts) or 1 in 31 (parts of the total)", hinted=True
    )
    temperature: float = entry(
        "temperature", "temperature of the water", 291.15, low=273.15, high=343.15, label="water temperature"
    )


@dataclass(frozen=True, repr=False)
class Build(Presentable):
    """A generator. Lengths m, masses kg, volumes m³, temperatures K; see the parts for their entries."""

    name: str
    connection: Connection
    hose: Hose
    tube: Tube
    body: Body
    packing: Packing
    outlet: Outlet
    reservoir: Reservoir
    solution: Solution
    notes: str = ""

    def with_entry(self, path: str, value: Any) -> Build:
        """The same build with one entry changed; ``path`` is like "outlet.bore". Raises KeyError for an unknown
        path.
        """
        part, _, name = path.partition(".")
        if part not in PARTS or name not in {f.name for f in fields(PARTS[part])}:
            raise KeyError(path)
        return replace(self, **{part: replace(getattr(self, part), **{name: value})})

    def _names(self) -> Sequence[str]:
        return (self.name,)

    def _title(self) -> str:
        hole, outlet = METRIC["length"].from_si(self.tube.hole), METRIC["length"].from_si(self.outlet.bore)
        holes = counted(self.tube.holes, "hole")
        return f"{self.name}: {holes} of {hole:.3g} mm, {self.packing.kind}, outlet {outlet:.3g} mm"

    def _entries(self) -> Iterator[tuple[str, Any, Any]]:
        """List path, value and field of every entry."""
        for part in PARTS:
            for item in entries(part):
                yield f"{part}.{item.name}", getattr(getattr(self, part), item.name), item.metadata

    def _facts(self) -> Sequence[tuple[str, str]]:
        found = []
        for path, value, about in self._entries():
            unit = METRIC.get(_QUANTITIES.get(about["kind"], ""))
            if value is None:
                text = "not given"
            elif unit is not None:
                text = f"{unit.from_si(value):.4g} {unit.symbol}"
            else:
                text = ", ".join(value) if isinstance(value, tuple) else str(value)
            found.append((path, text))
        return found

    def _words(self) -> Sequence[str]:
        return (self.notes,) if self.notes else ()

    def _observations(self) -> Observations:
        """One row with a column per entry."""
        row: dict[str, Any] = {"name": self.name}
        units = {"name": ""}
        for path, value, about in self._entries():
            plain = value is None or isinstance(value, int | float | str)
            row[path] = value if plain else ", ".join(value) if isinstance(value, tuple) else str(value)
            quantity = _QUANTITIES.get(about["kind"])
            units[path] = "" if quantity is None else SI[quantity].replace("³", "3")
        return Observations((row,), units)


PARTS: dict[str, type] = {
    "connection": Connection,
    "hose": Hose,
    "tube": Tube,
    "body": Body,
    "packing": Packing,
    "outlet": Outlet,
    "reservoir": Reservoir,
    "solution": Solution,
}


def entries(part: str) -> tuple[Field[Any], ...]:
    """The entries of a part, with their metadata: kind, about, low, high, words."""
    return fields(PARTS[part])


@dataclass(frozen=True)
class Difference:
    """An entry that differs between two builds: its path like "outlet.bore", its label, and both values in SI."""

    path: str
    about: str
    before: Any
    after: Any


def differences(before: Build, after: Build) -> tuple[Difference, ...]:
    """The entries that differ between two builds, in the order of the line."""
    return tuple(
        Difference(f"{part}.{f.name}", f.metadata["about"], old, new)
        for part in PARTS
        for f in entries(part)
        if (old := getattr(getattr(before, part), f.name)) != (new := getattr(getattr(after, part), f.name))
    )
