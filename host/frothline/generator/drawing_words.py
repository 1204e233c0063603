"""The words on the side view of a generator, in the reader's units, and the view as text."""

from __future__ import annotations

from frothline.generator.build import Build
from frothline.generator.stock_sizes import pipe_of_bore
from frothline.quantities import in_entry_unit
from frothline.rounding import counted


def length_text(value: float, system: str = "metric") -> str:
    """A length as text on the drawing."""
    return in_entry_unit(value, "length", system)


def bore_text(value: float, system: str) -> str:
    pipe = pipe_of_bore(value, 1e-9)
    return f"{pipe.name}, ⌀ {length_text(value, system)}" if pipe else f"⌀ {length_text(value, system)}"


def describe(build: Build, system: str = "metric") -> str:
    """The drawing as text, for screen readers."""
    b, hole = build, length_text(build.tube.hole, system)
    words = [
        f"Air comes through {bore_text(b.connection.bore, system)}",
        f"{length_text(b.hose.length, system)} of {b.hose.kind} hose, {bore_text(b.hose.bore, system)}"
        if b.hose.length > 0
        else "without a hose",
        f"into a diffusion tube {bore_text(b.tube.bore, system)}, drilled over {length_text(b.tube.length, system)}",
        f"{counted(b.tube.rows, 'row')} of {counted(b.tube.holes_per_row, 'hole')} of {hole}",
        f"{b.tube.under_liquid} of them under liquid",
        f"in a body {bore_text(b.body.bore, system)}, {length_text(b.body.length, system)} long",
        "without packing" if b.packing.kind == "none" else f"packing: {packing_words(b, system)}",
        f"{b.outlet.shape} outlet {bore_text(b.outlet.bore, system)}",
    ]
    return "; ".join(words) + "."


def packing_words(build: Build, system: str) -> str:
    """The packing in a few words."""
    p = build.packing
    if p.kind == "screens":
        return f"{p.layers} screens, {length_text(p.opening or 0, system)} open"
    sizes = {"beads": p.bead, "wire wool": p.wire, "pad": p.wire}
    size = sizes.get(p.kind)
    amount = f", {in_entry_unit(p.mass, 'mass', system)}" if p.mass else ""
    return f"{length_text(p.length, system)} of {p.kind}" + (f" {length_text(size, system)}" if size else "") + amount
