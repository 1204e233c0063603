"""Checks of a build: values out of range, and parts that do not fit together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi

from frothline.generator.build import MATERIALS, Build
from frothline.generator.stock_sizes import DRILLS
from frothline.physics.packing import FIBRE_VOIDAGE


@dataclass(frozen=True)
class BuildProblem:
    """A problem of a build: the entry, the problem, the remedy. ``fatal`` marks an impossible build; others are
    warnings.
    """

    path: str
    what: str
    remedy: str
    fatal: bool = True


def check_build(build: Build) -> tuple[BuildProblem, ...]:
    """Find impossible and odd combinations of the parts of a build."""
    parts = (_tube_problems, _liquid_problems, _packing_problems, _line_problems)
    return tuple(found for of_part in parts for found in of_part(build))


def _mm(value: float) -> str:
    return f"{value * 1e3:.4g} mm"


def _tube_problems(b: Build) -> Iterator[BuildProblem]:
    tube, body = b.tube, b.body
    outer = tube.bore + 2 * tube.wall
    if outer >= body.bore:
        yield BuildProblem(
            "tube.bore",
            f"the diffusion tube has an outside diameter of {_mm(outer)} and does not fit a body of {_mm(body.bore)}",
            "Check both bores and the tube's wall",
        )
    if tube.length > body.length:
        yield BuildProblem(
            "tube.length",
            f"the drilled part is {_mm(tube.length)} and the body {_mm(body.length)}",
            "Check both lengths",
        )
    if tube.hole >= tube.bore:
        yield BuildProblem(
            "tube.hole", f"holes of {_mm(tube.hole)} in a bore of {_mm(tube.bore)}", "Check the hole's diameter"
        )
    if tube.pitch < tube.hole:
        yield BuildProblem(
            "tube.holes_per_row",
            f"{tube.holes_per_row} holes of {_mm(tube.hole)} do not fit into {_mm(tube.length)}",
            "Check the number of holes, their diameter and the drilled length",
        )
    if tube.rows * tube.hole > pi * outer:
        yield BuildProblem("tube.rows", f"{tube.rows} rows do not fit around the tube", "Check rows and hole diameter")
    if tube.wall > 5.001 * tube.hole:
        yield BuildProblem(
            "tube.hole",
            f"a hole of {_mm(tube.hole)} through a wall of {_mm(tube.wall)}",
            "Check both; holes from a fifth of the wall's thickness upward can be calculated",
        )
    if not any(abs(tube.hole - drill) < 5e-6 for drill in DRILLS):
        yield BuildProblem(
            "tube.hole", f"{_mm(tube.hole)} is not a metric drill size", "Ignore this for an inch drill", fatal=False
        )


def _liquid_problems(b: Build) -> Iterator[BuildProblem]:
    tube, body = b.tube, b.body
    if tube.under_liquid > tube.holes:
        yield BuildProblem(
            "tube.under_liquid",
            f"{tube.under_liquid} holes are under liquid, but the tube has {tube.holes}",
            "Check rows, holes per row and holes under liquid",
        )
    if tube.under_liquid and tube.depth == 0.0:
        yield BuildProblem(
            "tube.depth", "holes under liquid need a depth", "Enter the mean depth of liquid over the holes, like 40 mm"
        )
    if tube.depth > 1.5 * body.length and tube.depth > body.bore:
        yield BuildProblem("tube.depth", f"{_mm(tube.depth)} of liquid does not fit into the body", "Check the depth")
    if b.reservoir.filling == "pump" and b.reservoir.flow is None:
        yield BuildProblem(
            "reservoir.flow",
            "a pump needs a flow, and none is given",
            "Measure the flow with a jug and a clock; until then the air-to-solution ratio is unknown",
            fatal=False,
        )


def _line_problems(b: Build) -> Iterator[BuildProblem]:
    if b.outlet.bore > b.body.bore:
        yield BuildProblem(
            "outlet.bore",
            f"the outlet of {_mm(b.outlet.bore)} is not smaller than the body of {_mm(b.body.bore)}",
            "Check both bores",
        )
    if b.outlet.shape == "cone" and b.outlet.length <= 0.0:
        yield BuildProblem("outlet.length", "a cone needs a length", "Write its length, or shape = “flat”")
    if b.hose.kind == "corrugated" and b.hose.pitch > 0.5 * b.hose.bore:
        yield BuildProblem("hose.pitch", "the ripples are further apart than half the hose's bore", "Check the pitch")


_NEEDED = {
    "none": (),
    "beads": ("bead",),
    "wire wool": ("wire", "mass"),
    "pad": ("wire", "voidage"),
    "screens": ("wire", "opening", "layers"),
}


def _packing_problems(b: Build) -> Iterator[BuildProblem]:
    packing, body = b.packing, b.body
    if packing.length + b.tube.length > body.length * 1.001 and packing.kind != "none":
        both = packing.length + b.tube.length
        yield BuildProblem(
            "packing.length",
            f"diffusion tube and packing together are {_mm(both)}, the body {_mm(body.length)}",
            "They may overlap if the tube is inside the packing; otherwise check the lengths",
            fatal=False,
        )
    if packing.length > body.length:
        yield BuildProblem(
            "packing.length", f"{_mm(packing.length)} of packing in a body of {_mm(body.length)}", "Check both"
        )
    missing = [name for name in _NEEDED[packing.kind] if getattr(packing, name) is None]
    if packing.kind == "wire wool" and packing.voidage is not None:
        missing = [name for name in missing if name != "mass"]
    for name in missing:
        yield BuildProblem(f"packing.{name}", f"a packing of {packing.kind} needs “{name}”", f"Write packing.{name}")
    if packing.kind in ("beads", "wire wool", "pad") and packing.length <= 0.0:
        yield BuildProblem("packing.length", f"a packing of {packing.kind} needs a length", "Write packing.length")
        return
    if not missing:
        yield from {"beads": _of_beads, "wire wool": _of_fibre, "pad": _of_fibre, "screens": _of_screens}.get(
            packing.kind, lambda _: ()
        )(b)


def _of_beads(b: Build) -> Iterator[BuildProblem]:
    packing = b.packing
    if packing.voidage is not None and packing.voidage > 0.7:
        yield BuildProblem(
            "packing.voidage", "beads leave 0.35 to 0.45 open, 0.7 at most", "Check the porosity (voidage)"
        )
    if packing.bead is not None and packing.bead > 0.5 * b.body.bore:
        yield BuildProblem("packing.bead", "the beads are as large as the body", "Check the bead's diameter")


def _of_fibre(b: Build) -> Iterator[BuildProblem]:
    """Checks of wire wool and pads: their resistance law holds for voidages of FIBRE_VOIDAGE only."""
    packing = b.packing
    least, most = FIBRE_VOIDAGE
    if packing.voidage is not None:
        if not least <= packing.voidage <= most:
            yield BuildProblem(
                "packing.voidage",
                f"a packing of {packing.kind} with an open fraction of {packing.voidage:.3g} cannot be calculated",
                f"Give {least:g} to {most:g} for fibre; enter grains as beads",
            )
        if packing.mass is not None:
            yield BuildProblem(
                "packing.voidage",
                "both mass and voidage are given: voidage is used, mass is ignored",
                "Leave one of them out",
                fatal=False,
            )
        return
    mass = packing.mass or 0.0
    share = mass / (MATERIALS[packing.material] * pi / 4 * b.body.bore**2 * packing.length)
    if share > 1.0 - least:
        yield BuildProblem(
            "packing.mass",
            f"{mass * 1e3:.0f} g of {packing.material} fills {100 * share:.0f} % of {_mm(packing.length)}",
            "Wire wool has a high open fraction: check mass, material and length",
        )
    elif share < 1.0 - most:
        yield BuildProblem(
            "packing.mass",
            f"{mass * 1e3:.0f} g of {packing.material} fills only {100 * share:.2f} % of its volume",
            f"Check mass, material and length; the model covers {100 * (1.0 - most):.1f} % and more",
        )


def _of_screens(b: Build) -> Iterator[BuildProblem]:
    share = b.packing.open_share(b.body.bore)
    if share < 0.05:
        yield BuildProblem("packing.opening", f"a screen with {100 * share:.0f} % open area", "Check opening and wire")
