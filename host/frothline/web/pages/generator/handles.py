"""Sliders for outlet and packing below the side view, and the handles on the drawing that move them."""

from __future__ import annotations

from dataclasses import dataclass

from frothline.bench.workspace_state import WorkspaceState
from frothline.generator.build import Build
from frothline.generator.drawing import handles
from frothline.quantities import in_entry_unit, read_number
from frothline.units import INCH
from frothline.web.elements import Node, node
from frothline.web.pages.generator import labels

SMALLEST_OUTLET = 2e-3  # m
STEP = {"outlet.bore": 0.5, "packing.length": 5.0}  # mm


@dataclass(frozen=True)
class SizeRange:
    """A size that can be dragged, m: its value, its limits, and its value as built."""

    value: float
    least: float
    most: float
    built: float


def size_ranges(desk: WorkspaceState) -> dict[str, SizeRange]:
    """The sizes with a slider, by the path of their entry.

    The outlet is at most as wide as the body, the packing at most as long as the room behind the tube.
    """
    build = desk.build or desk.built
    room = max(build.body.length - build.tube.length, build.packing.length)
    found = {"outlet.bore": SizeRange(build.outlet.bore, SMALLEST_OUTLET, build.body.bore, desk.built.outlet.bore)}
    if build.packing.kind != "none":
        found["packing.length"] = SizeRange(
            build.packing.length, STEP["packing.length"] * 1e-3, room, desk.built.packing.length
        )
    return found


def slider_block(desk: WorkspaceState, system: str = "metric") -> list[Node | None]:
    """A slider for each size, with its value and its value as built."""
    if desk.build is None:
        return [None]  # an entry is invalid; the form says which
    return [
        node(
            "div",
            *(_slider(path, size, system) for path, size in size_ranges(desk).items()),
            class_="sliders",
            data_form="sliders",
            data_change="sheet:slide",
        )
    ]


def slid(millimetres: str, system: str) -> str:
    """The entry for the position of a slider, which is in mm: as it is, or to a hundredth of an inch.

    Raises ValueError for a text that is not a number.
    """
    value = read_number(millimetres)
    return f"{value:g} mm" if system == "metric" else f"{value * 1e-3 / INCH:.2f} in"


def _slider(path: str, size: SizeRange, system: str) -> Node:
    key = slider_id(path)
    shown = in_entry_unit(size.value, "length", system)
    was = (
        ""
        if abs(size.value - size.built) < 1e-6
        else f", {labels.as_built(in_entry_unit(size.built, 'length', system))}"
    )
    step = STEP[path]
    return node(
        "div",
        node("label", labels.SLIDERS[path], for_=key),
        node(
            "input",
            type="range",
            id=key,
            name=path,
            min=f"{step * round(1e3 * size.least / step):g}",
            max=f"{step * int(1e3 * size.most / step + 1e-9):g}",
            step=f"{step:g}",
            value=f"{1e3 * size.value:.4g}",
            aria_valuetext=shown,
        ),
        node("output", shown + was, for_=key),
        class_="slider",
    )


def slider_id(path: str) -> str:
    return "slide-" + path.replace(".", "-")


def handle_marks(build: Build, width: float) -> str:
    """SVG of the handles, over the side view. The sliders are their equals for keyboard and screen reader."""
    made = []
    for path, handle in handles(build, width).items():
        arrows = "M-5 -15l5 -7l5 7M-5 15l5 7l5 -7" if handle.along == "y" else "M-15 -5l-7 5l7 5M15 -5l7 5l-7 5"
        made.append(
            f'<g class="fl-handle" data-slider="{slider_id(path)}" data-along="{handle.along}" '
            f'data-per-mm="{handle.per_metre / 1e3:.5g}" transform="translate({handle.x:.1f} {handle.y:.1f})" '
            f'aria-hidden="true"><circle class="touch" r="24"/><circle r="9"/><path d="{arrows}"/></g>'
        )
    return "".join(made)
