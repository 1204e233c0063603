"""Measures the printed parts of a spool: do they print without support, are their walls thick enough, do they leak?

    python hardware/spool/measure.py                        writes measured.md beside this file
    python hardware/spool/measure.py --spool my-spool.toml  prints the table for your own sizes

Solids are cut into columns: for every point of a grid in x and y the intervals of z that are inside, exact in z. Two free
intervals of neighbouring columns are connected where they overlap. So a gap of any height is found, and a gap that is wider
than the grid in x or y. Needs trimesh and rtree, which `sh host/install test` brings.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
import render  # noqa: E402
from sizes import BED, GASKET_PRESSED, LEAST_WALL, sizes  # noqa: E402

Mesh = Any  # trimesh.Trimesh
Make = Callable[..., Mesh]  # part, hole=None -> mesh
OFF_AXIS = (0.3, 0.3)  # mm: a line along the axis would run through an edge
PRESSED = GASKET_PRESSED - 0.05  # mm; the faces of the meshes then overlap and do not just touch


def moved(solid: Mesh, by: Sequence[float] = (0, 0, 0), turn: Any = None) -> Mesh:
    """A copy, first turned by a 4 x 4 matrix, then moved, mm."""
    made = solid.copy()
    if turn is not None:
        made.apply_transform(turn)
    made.apply_translation(by)
    return made


def stopper(radius: float, low: float, high: float) -> Mesh:
    """A solid cylinder on the axis from z = low to high that closes a socket. Its radius is in the middle of the wall."""
    made = trimesh.creation.cylinder(radius=radius, height=high - low, sections=72)
    made.apply_translation((0, 0, (low + high) / 2))
    return made


def _crossings(solid: Mesh, xs: np.ndarray, ys: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Column index and z of each crossing of the surface with the vertical lines of a grid."""
    columns, heights = [], []
    for a, b, c in solid.triangles:
        low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
        i = np.arange(*np.searchsorted(xs, [low[0], high[0]]))
        j = np.arange(*np.searchsorted(ys, [low[1], high[1]]))
        area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        if not i.size or not j.size or abs(area) < 1e-12:
            continue
        x, y = np.meshgrid(xs[i], ys[j], indexing="ij")
        u = ((x - a[0]) * (c[1] - a[1]) - (y - a[1]) * (c[0] - a[0])) / area
        v = ((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])) / area
        inside = (u >= 0) & (v >= 0) & (u + v <= 1)
        ii, jj = np.nonzero(inside)
        columns.append(i[ii] * ys.size + j[jj])
        heights.append((a[2] + u * (b[2] - a[2]) + v * (c[2] - a[2]))[inside])
    return np.concatenate(columns), np.concatenate(heights)


class Columns:
    """The space around solids, as free intervals of z in the columns of a grid (mm)."""

    def __init__(self, solids: Sequence[Mesh], pitch: float = 0.7, margin: float = 3.0) -> None:
        low = np.min([one.bounds[0] for one in solids], axis=0) - margin
        high = np.max([one.bounds[1] for one in solids], axis=0) + margin
        # odd offsets: no line of the grid runs along an edge of a part
        self.xs = np.arange(low[0] + 0.01234, high[0], pitch)
        self.ys = np.arange(low[1] + 0.02345, high[1], pitch)
        self.low, self.high = low[2], high[2]
        filled: list[list[tuple[float, float]]] = [[] for _ in range(self.xs.size * self.ys.size)]
        for solid in solids:
            column, z = _crossings(solid, self.xs, self.ys)
            order = np.lexsort((z, column))
            column, z = column[order], z[order]
            for part in np.split(np.arange(z.size), np.nonzero(np.diff(column))[0] + 1):
                pairs = z[part]
                assert pairs.size % 2 == 0, "a line of the grid runs along an edge"
                filled[column[part[0]]] += list(zip(pairs[::2], pairs[1::2], strict=True))
        free, of = [], []
        for index, taken in enumerate(filled):
            bottom = self.low
            for start, end in sorted(taken):
                if start > bottom + 1e-4:
                    free.append((bottom, start))
                    of.append(index)
                bottom = max(bottom, end)
            free.append((bottom, self.high))
            of.append(index)
        self.free, self.of = np.array(free), np.array(of)
        self._label()

    def _label(self, least: float = 0.02) -> None:
        """Numbers of the connected spaces. Overlaps under 0.02 mm are faces that touch."""
        grid = np.full((self.xs.size * self.ys.size, np.bincount(self.of).max()), -1)
        place = np.arange(self.of.size) - np.searchsorted(self.of, self.of)
        grid[self.of, place] = np.arange(self.of.size)
        grid = grid.reshape(self.xs.size, self.ys.size, -1)
        edges = []
        for a, b in ((grid[:-1], grid[1:]), (grid[:, :-1], grid[:, 1:])):
            for k in range(grid.shape[2]):
                for m in range(grid.shape[2]):
                    one, two = a[..., k].ravel(), b[..., m].ravel()
                    both = (one >= 0) & (two >= 0)
                    one, two = one[both], two[both]
                    shared = np.minimum(self.free[one, 1], self.free[two, 1]) - np.maximum(
                        self.free[one, 0], self.free[two, 0]
                    )
                    edges.append(np.column_stack([one, two])[shared > least])
        pairs = np.concatenate(edges)
        n = self.of.size
        self.space = connected_components(coo_matrix((np.ones(len(pairs)), pairs.T), (n, n)), directed=False)[1]

    def space_at(self, x: float, y: float, z: float) -> int:
        """Number of the connected free space at a point; raises where the point is inside a solid."""
        index = np.searchsorted(self.xs, x) * self.ys.size + np.searchsorted(self.ys, y)
        (here,) = np.nonzero((self.of == index) & (self.free[:, 0] < z) & (z < self.free[:, 1]))
        assert here.size == 1, f"({x}, {y}, {z}) is inside a solid"
        return self.space[here[0]]

    @property
    def outside(self) -> int:
        """Number of the room's space."""
        return self.space[0]  # the first column is in the margin


def leaks(solids: Sequence[Mesh], bore_at: Sequence[float], pitch: float = 0.7) -> bool:
    """True if the point ``bore_at`` in the bore is connected to the room."""
    columns = Columns(solids, pitch)
    return bool(columns.space_at(*bore_at) == columns.outside)


def overhangs(solid: Mesh, degrees: float = 45.0) -> float:
    """mm2 of downward faces that lean further than ``degrees`` from the vertical and are not on the bed."""
    normals, areas, centres = solid.face_normals, solid.area_faces, solid.triangles_center
    bed = solid.bounds[0][2]
    leaning = (normals[:, 2] < -np.sin(np.radians(degrees)) - 0.01) & (centres[:, 2] > bed + 0.05)
    return float(areas[leaning].sum())


def walls(solid: Mesh, height: float, angles: Any) -> np.ndarray:
    """Print (mm) that a ray from the axis outward passes last, at one height, for each angle in degrees."""
    a = np.radians(angles)
    origins = np.tile([0.0, 0.0, height], (len(a), 1))
    ways = np.column_stack([np.cos(a), np.sin(a), 0 * a])
    hits, rays, _ = solid.ray.intersects_location(origins, ways, multiple_hits=True)
    passed = []
    for i in range(len(a)):
        radii = np.sort(np.hypot(*hits[rays == i].T[:2]))
        radii = radii[np.diff(radii, prepend=-1.0) > 0.01]  # a ray through an edge meets both of its faces
        passed.append(radii[-1] - radii[-2] if len(radii) > 1 else np.nan)
    return np.array(passed)


def thinnest(solid: Mesh) -> float:
    """mm of the thinnest wall between bore and room, at 23 heights and all round, the pocket of the switch included."""
    top = solid.bounds[1][2]
    angles = np.append(np.arange(3.1, 360, 31.7), 90.0)
    return float(min(np.nanmin(walls(solid, height, angles)) for height in np.arange(1.13, top, top / 23)))


def holder(make: Make, spool: Spool, hole: float = 0.0, *, gasket: bool = True) -> list[Mesh]:
    """Holder, gasket, plate and ring as they are screwed together; the sealing face is z = 0, the line above it."""
    s = sizes(spool)
    made = [make("plate_holder")]
    if gasket:
        made.append(moved(make("gasket"), (0, 0, -PRESSED - 0.05)))
    over = np.diag([-1.0, 1.0, -1.0, 1.0])  # the face that was on the bed meets the gasket
    made.append(moved(make("plate", hole=hole), (0, 0, -PRESSED), over))
    made.append(moved(make("plate_ring"), (0, 0, -PRESSED - s["plate_thick"] - s["ring"])))
    return made


def closed(make: Make, spool: Spool, part: str) -> tuple[list[Mesh], tuple[float, float, float]]:
    """A part with its ends stopped, and a point in its bore. "plate_holder" is the whole holder with the blind plate."""
    s = sizes(spool)
    taped, depth, top = s["socket_inner"] / 2 + 1, s["socket_depth"], float(make(part).bounds[1][2])
    if part == "plate_holder":
        start = s["flange"] + depth / 2
        return [*holder(make, spool), stopper(taped, start, start + depth)], (*OFF_AXIS, s["flange"] + 3)
    if part == "carrier":
        ends = [stopper(taped, 5, depth), stopper(taped, top - depth, top - 5)]
        return [make(part), *ends], (*OFF_AXIS, top - depth - 4)
    hose = s["hose_socket"] / 2 + (-1.0 if s["hose_over"] else 1.0)
    ends = [stopper(taped, 5, depth), stopper(hose, top - 5, top + 2)]
    return [make(part), *ends], (*OFF_AXIS, top / 2)


def table(make: Make, spool: Spool) -> list[str]:
    """One row for each part."""
    rows = [
        "| part | size | overhang over 45° | thinnest wall to the room | path from bore to room |",
        "|---|---|---|---|---|",
    ]
    for part in render.parts_for(spool):
        solid = make(part)
        size = " × ".join(f"{one:.0f}" for one in solid.extents)
        wall = path = "–"
        if part in {"carrier", "adapter", "plate_holder"}:
            wall = f"{thinnest(solid):.1f} mm"
            path = "**open**" if leaks(*closed(make, spool, part)) else "none"
            path += " (with gasket, blind plate and ring)" if part == "plate_holder" else ""
        rows.append(f"| {part.replace('_', ' ')} | {size} mm | {overhangs(solid):.0f} mm² | {wall} | {path} |")
    return rows


def page(make: Make) -> str:
    """measured.md"""
    rows = "\n".join(table(make, Spool.default()))
    return f"""# What was measured on the printed parts

Made by `measure.py` on the meshes of the drawn spool; a test makes it again and compares. Limits: no overhang over 45°, {BED:.0f} mm
in every direction, {LEAST_WALL:g} mm of wall. A path is looked for in the free space round the parts, with their ends stopped, exact
along the pipe and every 0.7 mm across it.

{rows}

For your own sizes: `.venv/bin/python hardware/spool/measure.py --spool my-spool.toml`. That says nothing of a print that
failed: the [blind-plate test](../guide/5-leaks.md) does.
"""


def rendered(spool: Spool, folder: Path) -> Make:
    """Meshes of one spool, each rendered once, with the circles that tests use."""
    made: dict[tuple[str, float | None], Mesh] = {}

    def make(part: str, hole: float | None = None) -> Mesh:
        if (part, hole) not in made:
            made[part, hole] = trimesh.load(render.solid(part, spool, folder, "-D$fn=48", hole=hole))
        return made[part, hole]

    return make


def main() -> int:
    parser = argparse.ArgumentParser(description="Measures the printed parts of a spool.")
    parser.add_argument("--spool", type=Path, help="spool file; its table is printed")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as work:
        if asked.spool:
            spool = Spool.load(asked.spool)
            print("\n".join(table(rendered(spool, Path(work)), spool)))
        else:
            (HERE / "measured.md").write_text(page(rendered(Spool.default(), Path(work))), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
