"""Draws an STL file as a shaded picture: parallel projection, depth buffer, edges in ink. Needs no screen.

python hardware/spool/picture.py part.stl part.png 55 60
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Floats = NDArray[np.float64]
WIDE, HIGH = 900, 700
PAPER, INK = (255.0, 255.0, 255.0), (34.0, 49.0, 58.0)
Colour = tuple[float, float, float]
PRINT: Colour = (222.0, 190.0, 110.0)
RUBBER: Colour = (110.0, 118.0, 124.0)
STEEL: Colour = (190.0, 200.0, 208.0)
SHEET: Colour = (150.0, 190.0, 205.0)
MAGNET: Colour = (200.0, 95.0, 80.0)
LIGHT = np.array([-0.35, 0.55, 0.76])  # towards the lamp: left, up, to the viewer


def triangles(path: Path) -> Floats:
    """Corners (n, 3, 3) of an STL file as openscad writes it, in text."""
    corners = [line.split()[1:] for line in path.read_text("ascii").splitlines() if line.lstrip().startswith("vertex")]
    return np.array(corners, dtype=float).reshape(-1, 3, 3)


def _turned(points: Floats, tilt: float, turn: float) -> Floats:
    """Right, up and towards the viewer: turned about z, then tilted back; 0 is the view from above. Degrees."""
    a, b = np.radians(turn), np.radians(tilt)
    about = np.array([[np.cos(a), np.sin(a), 0], [-np.sin(a), np.cos(a), 0], [0, 0, 1]])
    back = np.array([[1, 0, 0], [0, np.cos(b), np.sin(b)], [0, -np.sin(b), np.cos(b)]])
    return points @ (back @ about).T


def rod(radius: float, low: float, high: float, at: tuple[float, float] = (0.0, 0.0), sides: int = 40) -> Floats:
    """Triangles (n, 3, 3) of an upright cylinder, mm."""
    a = np.linspace(0, 2 * np.pi, sides + 1)
    x, y = at[0] + radius * np.cos(a), at[1] + radius * np.sin(a)
    made = []
    for i in range(sides):
        one, two = (x[i], y[i]), (x[i + 1], y[i + 1])
        made += [
            ((*one, low), (*two, low), (*two, high)),
            ((*one, low), (*two, high), (*one, high)),
            ((*at, high), (*one, high), (*two, high)),
            ((*at, low), (*two, low), (*one, low)),
        ]
    return np.array(made)


def draw(stl: Path, png: Path, tilt: float, turn: float) -> None:
    """Write the picture of one part."""
    draw_solids([(triangles(stl), PRINT)], png, tilt, turn)


def draw_solids(solids: Sequence[tuple[Floats, Colour]], png: Path, tilt: float, turn: float, scale: int = 2) -> None:
    """Write the picture of several solids, each with its colour."""
    shape = _turned(np.concatenate([points for points, _ in solids]), tilt, turn)
    tints = np.concatenate([np.tile(colour, (len(points), 1)) for points, colour in solids])
    low, high = shape.min(axis=(0, 1)), shape.max(axis=(0, 1))
    wide, tall = WIDE * scale, HIGH * scale
    zoom = 0.9 * min(wide / (high[0] - low[0]), tall / (high[1] - low[1]))
    middle = (low + high) / 2
    x = (shape[..., 0] - middle[0]) * zoom + wide / 2
    y = tall / 2 - (shape[..., 1] - middle[1]) * zoom
    depth = np.full((tall, wide), -np.inf)
    face = np.zeros((tall, wide, 3))
    tint = np.zeros((tall, wide, 3))
    normals = np.cross(shape[:, 1] - shape[:, 0], shape[:, 2] - shape[:, 0])
    lengths = np.linalg.norm(normals, axis=1)
    for k in np.nonzero((lengths > 1e-12) & (normals[:, 2] > 0))[0]:
        _fill(depth, (face, tint), x[k], y[k], shape[k, :, 2], (normals[k] / lengths[k], tints[k]))
    seen = np.isfinite(depth)
    shade = 0.35 + 0.65 * np.clip(face @ (LIGHT / np.linalg.norm(LIGHT)), 0, 1)
    image = np.where(seen[..., None], shade[..., None] * tint, np.array(PAPER))
    image[_edges(depth, face, seen, 1.5 * zoom / scale)] = INK
    whole = Image.fromarray(image.astype(np.uint8)).resize((WIDE, HIGH), Image.Resampling.LANCZOS)
    png.parent.mkdir(parents=True, exist_ok=True)
    whole.quantize(64).save(png, optimize=True)


def _fill(
    depth: Floats, layers: tuple[Floats, ...], x: Floats, y: Floats, z: Floats, values: tuple[Floats, ...]
) -> None:
    """One triangle into the depth buffer, and its values into the layers."""
    left, right = max(int(x.min()), 0), min(int(x.max()) + 2, depth.shape[1])
    top, bottom = max(int(y.min()), 0), min(int(y.max()) + 2, depth.shape[0])
    area = (x[1] - x[0]) * (y[2] - y[0]) - (y[1] - y[0]) * (x[2] - x[0])
    if abs(area) < 1e-9 or left >= right or top >= bottom:
        return
    px, py = np.meshgrid(np.arange(left, right), np.arange(top, bottom))
    u = ((px - x[0]) * (y[2] - y[0]) - (py - y[0]) * (x[2] - x[0])) / area
    v = ((x[1] - x[0]) * (py - y[0]) - (y[1] - y[0]) * (px - x[0])) / area
    here = z[0] + u * (z[1] - z[0]) + v * (z[2] - z[0])
    window = (slice(top, bottom), slice(left, right))
    nearer = (u >= -1e-6) & (v >= -1e-6) & (u + v <= 1 + 1e-6) & (here > depth[window])
    depth[window][nearer] = here[nearer]
    for layer, value in zip(layers, values, strict=True):
        layer[window][nearer] = value


def _edges(depth: Floats, face: Floats, seen: NDArray[np.bool_], step: float) -> NDArray[np.bool_]:
    """Pixels where the surface bends by more than 25 degrees or jumps in depth."""
    ink = np.zeros(seen.shape, bool)
    filled = np.where(seen, depth, -1e6)
    for axis in (0, 1):
        a = [slice(None), slice(None)]
        b = [slice(None), slice(None)]
        a[axis], b[axis] = slice(None, -1), slice(1, None)
        one, two = tuple(a), tuple(b)
        bend = np.einsum("ijk,ijk->ij", face[one], face[two]) < np.cos(np.radians(25))
        jump = np.abs(filled[one] - filled[two]) > step
        ink[one] |= (bend | jump) & (seen[one] | seen[two])
    return ink


def main() -> int:
    stl, png, tilt, turn = sys.argv[1:5]
    draw(Path(stl), Path(png), float(tilt), float(turn))
    return 0


if __name__ == "__main__":
    sys.exit(main())
