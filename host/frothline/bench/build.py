"""A build: one foam generator as it stands on the bench, in SI, checked as a whole.

The sheet that a person writes (``bench.sheet``), the side view (``bench.drawing``), the resistance
(``bench.generator``) and the what-if all read this one description. Each entry carries its own kind, limits and words
in its metadata, from which the sheet is read, written and explained.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import MISSING, Field, dataclass, field, fields, replace
from math import pi
from typing import Any

from frothline.bench.sizes import DRILLS
from frothline.physics.mix import DilutionConvention, agent_fraction
from frothline.physics.packing import FIBRE_VOIDAGE, SPHERE_VOIDAGE, screen_open_fraction, voidage_from_mass
from frothline.physics.pipe import FITTINGS

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


def entry(
    kind: str,
    about: str,
    default: Any = MISSING,
    *,
    low: float = 0.0,
    high: float = 1e9,
    words: tuple[str, ...] = (),
) -> Any:
    """A field of the build with what the sheet must know of it: kind, words about it, limits in SI, allowed words."""
    metadata = {"kind": kind, "about": about, "low": low, "high": high, "words": words}
    return field(metadata=metadata) if default is MISSING else field(default=default, metadata=metadata)


@dataclass(frozen=True)
class Dilution:
    """Agent to water, with the convention spelled out: "1+30" is one part agent and 30 parts water; "1 in 31" one part
    made up to 31 parts: the same solution, written two ways.
    """

    parts: float
    convention: DilutionConvention

    @property
    def fraction(self) -> float:
        """Agent by volume of the solution."""
        return agent_fraction(self.parts, self.convention)

    def __str__(self) -> str:
        return f"1+{self.parts:g}" if self.convention == "1+N" else f"1 in {self.parts:g}"


@dataclass(frozen=True)
class Connection:
    """Where the air comes in, from the pressure tap of the spool to the hose."""

    bore: float = entry("bore", "inner diameter of the air connection", low=5e-3, high=0.2)
    fittings: tuple[str, ...] = entry(
        "list", "fittings between the pressure tap and the diffusion tube", (), words=tuple(FITTINGS)
    )


@dataclass(frozen=True)
class Hose:
    """The hose from the spool to the generator; no length, no hose."""

    bore: float = entry("bore", "inner diameter of the hose", low=5e-3, high=0.2)
    length: float = entry("length", "length of the hose", low=0.0, high=50.0)
    kind: str = entry("word", "smooth or corrugated inside", "smooth", words=("smooth", "corrugated"))
    pitch: float = entry("length", "from ripple to ripple, of a corrugated hose", 4e-3, low=5e-4, high=0.05)


@dataclass(frozen=True)
class Tube:
    """The diffusion tube: closed at its far end, with rows of holes along it, through which the air leaves."""

    bore: float = entry("bore", "inner diameter of the diffusion tube", low=4e-3, high=0.2)
    length: float = entry("length", "length of the drilled part", low=5e-3, high=3.0)
    rows: int = entry("count", "rows of holes around the tube", low=1, high=60)
    holes_per_row: int = entry("count", "holes in each row, along the tube", low=1, high=500)
    hole: float = entry("length", "diameter of the holes", low=3e-4, high=0.03)
    wall: float = entry("length", "thickness of the tube's wall", 3e-3, low=2e-4, high=0.02)
    countersunk: str = entry("word", "which side of the holes is countersunk", "no", words=("no", "inside", "outside"))
    under_liquid: int = entry("count", "how many of the holes lie under liquid", 0, low=0, high=30000)
    depth: float = entry("length", "mean depth of liquid over those holes", 0.0, low=0.0, high=1.5)

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
    """The pipe in which air and solution meet and the packing sits."""

    bore: float = entry("bore", "inner diameter of the body", low=0.01, high=0.5)
    length: float = entry("length", "length of the body", low=0.02, high=5.0)


@dataclass(frozen=True)
class Packing:
    """What makes foam of coarse bubbles. Which of the figures are needed depends on the kind."""

    kind: str = entry("word", "kind of the packing", "none", words=PACKING_KINDS)
    length: float = entry("length", "length of the packing as it sits", 0.0, low=0.0, high=3.0)
    mass: float | None = entry("mass", "mass of the dry packing (wire wool)", None, low=1e-4, high=50.0)
    material: str = entry("word", "what the wire or bead is made of", "steel", words=tuple(MATERIALS))
    wire: float | None = entry("length", "thickness of the wire or fibre", None, low=5e-6, high=5e-3)
    bead: float | None = entry("length", "diameter of the beads", None, low=2e-4, high=0.05)
    voidage: float | None = entry("share", "open share of the packing's room, where known", None, low=0.3, high=0.994)
    layers: int | None = entry("count", "number of screens", None, low=1, high=500)
    opening: float | None = entry("length", "opening between two wires of a screen", None, low=2e-5, high=0.02)

    @property
    def is_wool(self) -> bool:
        """Whether it is made of wires or fibres without order."""
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
    """From the body down to the foam hose."""

    bore: float = entry("bore", "inner diameter of the outlet", low=2e-3, high=0.3)
    shape: str = entry("word", "how the body narrows to it", "flat", words=("flat", "cone"))
    length: float = entry("length", "length of the cone", 0.0, low=0.0, high=1.0)
    hose: float = entry("length", "length of foam hose after it, of the same bore", 0.0, low=0.0, high=30.0)


@dataclass(frozen=True)
class Reservoir:
    """Where the solution waits and how it comes to the air."""

    volume: float = entry("volume", "solution it holds", low=1e-4, high=2.0)
    filling: str = entry("word", "how the solution comes in", "batch", words=("batch", "gravity", "pump", "sprayed"))
    flow: float | None = entry("flow", "solution flow, where it is pumped or was measured", None, low=1e-7, high=0.01)


@dataclass(frozen=True)
class Solution:
    """What is foamed."""

    agent: str = entry("text", "name of the agent, in your own words")
    dilution: Dilution = entry(  # noqa: RUF009  entry() makes a field, no shared default
        "dilution", "agent to water: 1+30 (parts and parts) or 1 in 31 (made up to)"
    )
    temperature: float = entry("temperature", "temperature of the water", 291.15, low=273.15, high=343.15)


@dataclass(frozen=True)
class Build:
    """A generator. Lengths m, masses kg, volumes m³, temperatures K; see the parts for each entry."""

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
        """The same build with one entry changed; ``path`` is like "outlet.bore". KeyError where there is none."""
        part, _, name = path.partition(".")
        if part not in PARTS or name not in {f.name for f in fields(PARTS[part])}:
            raise KeyError(path)
        return replace(self, **{part: replace(getattr(self, part), **{name: value})})


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
    """An entry that two builds do not share: its path like "outlet.bore", what it is, and both values in SI."""

    path: str
    about: str
    before: Any
    after: Any


def differences(before: Build, after: Build) -> tuple[Difference, ...]:
    """Which parts changed from one build to another, in the order of the line."""
    return tuple(
        Difference(f"{part}.{f.name}", f.metadata["about"], old, new)
        for part in PARTS
        for f in entries(part)
        if (old := getattr(getattr(before, part), f.name)) != (new := getattr(getattr(after, part), f.name))
    )


@dataclass(frozen=True)
class Objection:
    """Something wrong with a build as a whole: the entry to look at, what is wrong, what to do. ``fatal`` is what
    cannot exist; the rest is worth a second look.
    """

    path: str
    what: str
    remedy: str
    fatal: bool = True


def objections(build: Build) -> tuple[Objection, ...]:
    """What cannot be, and what is odd, about the parts of a build taken together."""
    parts = (_tube_objections, _liquid_objections, _packing_objections, _line_objections)
    return tuple(found for of_part in parts for found in of_part(build))


def _mm(value: float) -> str:
    return f"{value * 1e3:.4g} mm"


def _tube_objections(b: Build) -> Iterator[Objection]:
    tube, body = b.tube, b.body
    outer = tube.bore + 2 * tube.wall
    if outer >= body.bore:
        yield Objection(
            "tube.bore",
            f"the diffusion tube is {_mm(outer)} outside and does not go into a body of {_mm(body.bore)}",
            "Check both bores and the tube's wall",
        )
    if tube.length > body.length:
        yield Objection(
            "tube.length",
            f"the drilled part is {_mm(tube.length)} and the body {_mm(body.length)}",
            "Check both lengths",
        )
    if tube.hole >= tube.bore:
        yield Objection(
            "tube.hole", f"holes of {_mm(tube.hole)} in a bore of {_mm(tube.bore)}", "Check the hole's diameter"
        )
    if tube.pitch < tube.hole:
        yield Objection(
            "tube.holes_per_row",
            f"{tube.holes_per_row} holes of {_mm(tube.hole)} do not fit into {_mm(tube.length)}",
            "Check the number of holes, their diameter and the drilled length",
        )
    if tube.rows * tube.hole > pi * outer:
        yield Objection("tube.rows", f"{tube.rows} rows do not fit around the tube", "Check rows and hole diameter")
    if tube.wall > 5.001 * tube.hole:
        yield Objection(
            "tube.hole",
            f"a hole of {_mm(tube.hole)} through a wall of {_mm(tube.wall)}",
            "Check both; holes from a fifth of the wall upward can be reckoned with",
        )
    if not any(abs(tube.hole - drill) < 5e-6 for drill in DRILLS):
        yield Objection(
            "tube.hole", f"{_mm(tube.hole)} is no metric drill", "Fine if it was an inch drill", fatal=False
        )


def _liquid_objections(b: Build) -> Iterator[Objection]:
    tube, body = b.tube, b.body
    if tube.under_liquid > tube.holes:
        yield Objection(
            "tube.under_liquid",
            f"{tube.under_liquid} of the holes are said to lie under liquid and there are {tube.holes}",
            "Check rows, holes in a row and how many are under",
        )
    if tube.under_liquid and tube.depth == 0.0:
        yield Objection(
            "tube.depth", "holes under liquid need a depth", "Write the mean depth of liquid over them, like 40 mm"
        )
    if tube.depth > 1.5 * body.length and tube.depth > body.bore:
        yield Objection("tube.depth", f"{_mm(tube.depth)} of liquid does not fit into the body", "Check the depth")
    if b.reservoir.filling == "pump" and b.reservoir.flow is None:
        yield Objection(
            "reservoir.flow",
            "a pump gives a flow, and none is written",
            "Measure it into a jug against the clock; until then the air-to-solution ratio stays open",
            fatal=False,
        )


def _line_objections(b: Build) -> Iterator[Objection]:
    if b.outlet.bore > b.body.bore:
        yield Objection(
            "outlet.bore",
            f"the outlet is {_mm(b.outlet.bore)} and the body {_mm(b.body.bore)}: it does not reduce",
            "Check both bores",
        )
    if b.outlet.shape == "cone" and b.outlet.length <= 0.0:
        yield Objection("outlet.length", "a cone needs a length", "Write its length, or shape = “flat”")
    if b.hose.kind == "corrugated" and b.hose.pitch > 0.5 * b.hose.bore:
        yield Objection("hose.pitch", "the ripples are further apart than half the hose's bore", "Check the pitch")


_NEEDED = {
    "none": (),
    "beads": ("bead",),
    "wire wool": ("wire", "mass"),
    "pad": ("wire", "voidage"),
    "screens": ("wire", "opening", "layers"),
}


def _packing_objections(b: Build) -> Iterator[Objection]:
    packing, body = b.packing, b.body
    if packing.length + b.tube.length > body.length * 1.001 and packing.kind != "none":
        both = packing.length + b.tube.length
        yield Objection(
            "packing.length",
            f"diffusion tube and packing together are {_mm(both)}, the body {_mm(body.length)}",
            "They may overlap if the tube stands in the packing; else check the lengths",
            fatal=False,
        )
    if packing.length > body.length:
        yield Objection(
            "packing.length", f"{_mm(packing.length)} of packing in a body of {_mm(body.length)}", "Check both"
        )
    missing = [name for name in _NEEDED[packing.kind] if getattr(packing, name) is None]
    if packing.kind == "wire wool" and packing.voidage is not None:
        missing = [name for name in missing if name != "mass"]
    for name in missing:
        yield Objection(f"packing.{name}", f"a packing of {packing.kind} needs “{name}”", f"Write packing.{name}")
    if packing.kind in ("beads", "wire wool", "pad") and packing.length <= 0.0:
        yield Objection("packing.length", f"a packing of {packing.kind} needs a length", "Write packing.length")
        return
    if not missing:
        yield from {"beads": _of_beads, "wire wool": _of_fibre, "pad": _of_fibre, "screens": _of_screens}.get(
            packing.kind, lambda _: ()
        )(b)


def _of_beads(b: Build) -> Iterator[Objection]:
    packing = b.packing
    if packing.voidage is not None and packing.voidage > 0.7:
        yield Objection("packing.voidage", "beads leave 0.35 to 0.45 open, 0.7 at most", "Check the voidage")
    if packing.bead is not None and packing.bead > 0.5 * b.body.bore:
        yield Objection("packing.bead", "the beads are as large as the body", "Check the bead's diameter")


def _of_fibre(b: Build) -> Iterator[Objection]:
    """Wire wool and pads: the law of their resistance is known for open shares of FIBRE_VOIDAGE alone."""
    packing = b.packing
    least, most = FIBRE_VOIDAGE
    if packing.voidage is not None:
        if not least <= packing.voidage <= most:
            yield Objection(
                "packing.voidage",
                f"a packing of {packing.kind} with {packing.voidage:.3g} open cannot be reckoned with",
                f"Fibre leaves {least:g} to {most:g} open; grains are written as beads",
            )
        if packing.mass is not None:
            yield Objection(
                "packing.voidage",
                "both mass and voidage are written: the voidage counts, the mass does not",
                "Leave one of them out",
                fatal=False,
            )
        return
    mass = packing.mass or 0.0
    share = mass / (MATERIALS[packing.material] * pi / 4 * b.body.bore**2 * packing.length)
    if share > 1.0 - least:
        yield Objection(
            "packing.mass",
            f"{mass * 1e3:.0f} g of {packing.material} fills {share:.0%} of {_mm(packing.length)}",
            "Wire wool is nearly all air: check mass, material and length",
        )
    elif share < 1.0 - most:
        yield Objection(
            "packing.mass",
            f"{mass * 1e3:.0f} g of {packing.material} fills only {share:.2%} of its room",
            f"Check mass, material and length; below {1.0 - most:.1%} nothing is known",
        )


def _of_screens(b: Build) -> Iterator[Objection]:
    share = b.packing.open_share(b.body.bore)
    if share < 0.05:
        yield Objection("packing.opening", f"a screen with {share:.0%} open area", "Check opening and wire")
