"""Printed parts as meshes, rendered once and cached by content, and what a workshop measures on them.

Solids are cut into columns: for every point of a grid in x and y the intervals of z that are inside, exact in z. Two free
intervals of neighbouring columns are connected where they overlap. So a gap of any height is found, and a gap that is wider
than the grid in x or y.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from frothline.sensors.spool import Spool

SPOOL = Path(__file__).parents[2] / "hardware" / "spool"
CACHE = SPOOL / "build" / "meshes"
COARSE = "-D$fn=48"  # facets of a circle: a chord is 0.2 % inside it


def script(name, folder=SPOOL):
    """A script of the hardware folder as a module."""
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
    if name in sys.modules:
        return sys.modules[name]
    spec = importlib.util.spec_from_file_location(name, folder / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # dataclasses look themselves up there
    spec.loader.exec_module(module)
    return module


sizes = script("sizes")
render = script("render")


def rendered(call, text):
    """The STL of an openscad call. Cached under a hash of the call and of every drawing."""
    if not shutil.which("openscad"):
        pytest.fail("openscad is not installed; tests/run installs it")
    key = hashlib.sha256(repr((call, text)).encode()).hexdigest()[:24]
    made = CACHE / f"{key}.stl"
    if not made.exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        part = CACHE / f"{key}.{os.getpid()}.stl"
        subprocess.run([*call, "-o", str(part)], check=True, capture_output=True)
        part.replace(made)
    return made


@lru_cache
def mesh(part, spool=None, hole=None):
    """One printed part as a trimesh, coarse circles."""
    trimesh = pytest.importorskip("trimesh")
    call = render.command(part, spool or Spool.default(), Path("out.stl"), COARSE, hole=hole)
    at = call.index("-o")
    call = [*call[:at], *call[at + 2 :]]
    text = [one.read_text("utf-8") for one in sorted(SPOOL.glob("*.scad"))]
    return trimesh.load(rendered(call, text))


def drawn(text, folder):
    """A mesh from OpenSCAD text written in a test."""
    trimesh = pytest.importorskip("trimesh")
    file = folder / "drawn.scad"
    file.write_text(text, "utf-8")
    return trimesh.load(rendered(["openscad", "-q", str(file)], text))


def moved(solid, by=(0, 0, 0), turn=None):
    """A copy, first turned by a 4 x 4 matrix, then moved, mm."""
    made = solid.copy()
    if turn is not None:
        made.apply_transform(turn)
    made.apply_translation(by)
    return made


def stopper(radius, low, high):
    """A solid cylinder on the axis from z = low to high that closes a socket. Its radius is in the middle of the wall."""
    import trimesh

    made = trimesh.creation.cylinder(radius=radius, height=high - low, sections=72)
    made.apply_translation((0, 0, (low + high) / 2))
    return made


def _crossings(solid, xs, ys):
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

    def __init__(self, solids, pitch=0.7, margin=3.0):
        low = np.min([one.bounds[0] for one in solids], axis=0) - margin
        high = np.max([one.bounds[1] for one in solids], axis=0) + margin
        # odd offsets: no line of the grid runs along an edge of a part
        self.xs = np.arange(low[0] + 0.01234, high[0], pitch)
        self.ys = np.arange(low[1] + 0.02345, high[1], pitch)
        self.low, self.high = low[2], high[2]
        filled = [[] for _ in range(self.xs.size * self.ys.size)]
        for solid in solids:
            column, z = _crossings(solid, self.xs, self.ys)
            order = np.lexsort((z, column))
            column, z = column[order], z[order]
            for part in np.split(np.arange(z.size), np.nonzero(np.diff(column))[0] + 1):
                pairs = z[part]
                assert pairs.size % 2 == 0, "a line of the grid runs along an edge"
                filled[column[part[0]]] += list(zip(pairs[::2], pairs[1::2], strict=True))
        self.free, self.of = [], []
        for index, taken in enumerate(filled):
            bottom = self.low
            for start, end in sorted(taken):
                if start > bottom + 1e-4:
                    self.free.append((bottom, start))
                    self.of.append(index)
                bottom = max(bottom, end)
            self.free.append((bottom, self.high))
            self.of.append(index)
        self.free, self.of = np.array(self.free), np.array(self.of)
        self._label()

    def _label(self, least=0.02):
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

    def space_at(self, x, y, z):
        """Number of the connected free space at a point; raises where the point is inside a solid."""
        index = np.searchsorted(self.xs, x) * self.ys.size + np.searchsorted(self.ys, y)
        (here,) = np.nonzero((self.of == index) & (self.free[:, 0] < z) & (z < self.free[:, 1]))
        assert here.size == 1, f"({x}, {y}, {z}) is inside a solid"
        return self.space[here[0]]

    @property
    def outside(self):
        return self.space[0]  # the first column is in the margin


def leaks(solids, bore_at, pitch=0.7):
    """True if the point ``bore_at`` in the bore is connected to the room."""
    columns = Columns(solids, pitch)
    return bool(columns.space_at(*bore_at) == columns.outside)


def overhangs(solid, degrees=45.0):
    """mm2 of downward faces that lean further than ``degrees`` from the vertical and are not on the bed."""
    normals, areas, centres = solid.face_normals, solid.area_faces, solid.triangles_center
    bed = solid.bounds[0][2]
    leaning = (normals[:, 2] < -np.sin(np.radians(degrees)) - 0.01) & (centres[:, 2] > bed + 0.05)
    return float(areas[leaning].sum())
