"""Simulated photos of foam behind a card, with known truth.

The foam is a power diagram (Laguerre tessellation): random points with radii of a stated spread, evened out a little, in
a square that repeats itself. It is drawn through a perspective, with films of stated thickness, uneven light, blur,
noise and JPEG compression. Only numpy, scipy and Pillow are used, and of the package only the sizes of the card.
"""

import io
from dataclasses import dataclass, field

import numpy as np
from PIL import Image
from scipy import ndimage
from scipy.spatial import cKDTree

from frothline.bubble_size.target import DOT, HOLE, LARGE


class Foam:
    """A periodic power diagram of ``count`` cells in a square of width ``size`` m.

    spread : standard deviation of the radii over their mean
    rounds : how often each point moves to the middle of its cell; 0 with equal radii gives a Poisson–Voronoi diagram
    """

    def __init__(self, count, size, spread=0.3, seed=0, rounds=3):
        rng = np.random.default_rng(seed)
        self.size = size
        scale = size / np.sqrt(count)
        sigma = np.sqrt(np.log1p(spread**2))
        self.points = rng.uniform(0, size, (count, 2))
        self.radii = 0.5 * scale * np.exp(sigma * rng.standard_normal(count) - sigma**2 / 2)
        self._index()
        for _ in range(rounds):
            self._even_out()

    def _index(self):
        shifts = [(a, b) for a in (-1, 0, 1) for b in (-1, 0, 1)]
        points = np.concatenate([self.points + self.size * np.array(one) for one in shifts])
        margin = min(0.5 * self.size, 12 * self.size / np.sqrt(len(self.points)))
        inside = np.all((points > -margin) & (points < self.size + margin), axis=1)
        self.cell = np.tile(np.arange(len(self.points)), 9)[inside]
        self.places = points[inside]
        self.powers = np.tile(self.radii, 9)[inside] ** 2
        # |x - p|² - r² is smallest where the distance to (p, sqrt(max r² - r²)) is smallest
        lift = np.sqrt(self.powers.max() - self.powers)
        self.tree = cKDTree(np.column_stack([self.places, lift]))

    def _raster(self, per_cell=60):
        n = int(np.sqrt(per_cell * len(self.points)))
        at = (np.arange(n) + 0.5) / n * self.size
        x, y = np.meshgrid(at, at)
        where = np.column_stack([x.ravel(), y.ravel()])
        _, near = self.tree.query(np.column_stack([where, np.zeros(len(where))]))
        return where, near, (self.size / n) ** 2

    def _even_out(self):
        where, near, _ = self._raster(30)
        cell, place = self.cell[near], self.places[near]
        offset = where - place
        count = np.bincount(cell, minlength=len(self.points))
        for axis in (0, 1):
            moved = np.bincount(cell, offset[:, axis], len(self.points)) / np.maximum(count, 1)
            self.points[:, axis] = (self.points[:, axis] + moved) % self.size
        self._index()

    def areas(self, per_cell=200):
        """Areas of all cells, m²."""
        _, near, pixel = self._raster(per_cell)
        found = np.bincount(self.cell[near], minlength=len(self.points)) * pixel
        return found[found > 0]

    def d32(self):
        """Sauter mean of the equivalent diameters, m."""
        d = np.sqrt(4 * self.areas() / np.pi)
        return float((d**3).sum() / (d**2).sum())

    def wall_distance(self, where):
        """Distance of places (n, 2) from the nearest film's middle, m."""
        where = np.mod(where, self.size)
        flat = np.column_stack([where, np.zeros(len(where))])
        _, near = self.tree.query(flat, k=3)
        first = near[:, 0]
        power = ((where - self.places[first]) ** 2).sum(1) - self.powers[first]
        best = np.full(len(where), np.inf)
        for k in (1, 2):
            other = near[:, k]
            apart = np.linalg.norm(self.places[other] - self.places[first], axis=1)
            gap = ((where - self.places[other]) ** 2).sum(1) - self.powers[other] - power
            best = np.minimum(best, gap / (2 * np.maximum(apart, 1e-12)))
        return best


@dataclass
class Shot:
    """How a photo is taken. Lengths in px where not said otherwise; light from 0 to 1."""

    scale: float = 4000.0  # px a metre
    margin: float = 0.15  # of the card's width around it
    tilt: tuple = (0.0, 0.0)  # perspective: change of scale over the card's half width, across and down
    turn: float = 0.0  # degrees
    film: float = 0.08  # thickness of a film over the mean diameter
    dark: float = 0.7  # light taken by a film
    gradient: float = 0.2  # light falls by this across the picture
    blur: float = 0.7  # standard deviation
    noise: float = 0.01
    quality: int = 92  # of the JPEG; 0 for none
    glare: float = 0.0  # radius over the window's width
    drained: float = 0.0  # part of the window's height without foam
    behind: float = 0.0  # light taken by films of a layer behind
    hidden: tuple = ()  # numbers of dots that are covered
    printed: float = 1.0  # scale of the printer
    seed: int = 0
    card: object = field(default_factory=lambda: LARGE)


def homography(shot, side):
    """From metres on the pane to pixels of the picture, (3, 3)."""
    angle = np.radians(shot.turn)
    turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    half = shot.card.outer / 2
    tilt = np.array([[1, 0, 0], [0, 1, 0], [shot.tilt[0] / half, shot.tilt[1] / half, 1.0]])
    place = np.array([[shot.scale, 0, side / 2 - 0.5], [0, shot.scale, side / 2 - 0.5], [0, 0, 1]])
    return place @ turn @ tilt


def mapped(matrix, x, y):
    w = matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2]
    return np.stack(
        [(matrix[k, 0] * x + matrix[k, 1] * y + matrix[k, 2]) / w for k in (0, 1)],
        axis=-1,
    )


def picture(foam, shot):
    """A grey photo of the foam behind the card, (n, n) of 8 bits. Without foam the window shows a plain grey."""
    rng = np.random.default_rng(shot.seed)
    side = int(shot.scale * shot.card.outer * (1 + 2 * shot.margin) * (1 + 2 * max(map(abs, shot.tilt))))
    matrix = homography(shot, side)
    v, u = np.mgrid[0:side, 0:side].astype(float)
    plane = mapped(np.linalg.inv(matrix), u, v)
    light = np.full((side, side), 0.55)
    card = shot.card
    real = plane / shot.printed  # places on the card as it was drawn
    on_card = np.abs(real).max(-1) < card.outer / 2
    light[on_card] = 0.85
    pixel = 1 / shot.scale / shot.printed
    near = np.full((side, side), np.inf)
    for number, dot in enumerate(card.dots):
        if number in shot.hidden:
            continue
        away = np.hypot(*np.moveaxis(real - dot, -1, 0))
        edge = away - DOT * card.step / 2
        if number < card.rings:
            edge = np.maximum(edge, HOLE * DOT * card.step / 2 - away)
        near = np.minimum(near, edge)
    ink = np.clip(0.5 - near / pixel, 0, 1)
    light = light * (1 - ink) + 0.08 * ink
    window = np.abs(real).max(-1) < card.window / 2
    light[window] = _foam(foam, shot, plane[window])
    fall = 1 - shot.gradient * (u + 0.5 * v) / (1.5 * side)
    light = ndimage.gaussian_filter(light * fall, shot.blur)
    if shot.glare:
        away = np.hypot(u - 0.45 * side, v - 0.55 * side)
        light = np.maximum(light, 1.3 / (1 + (away / (shot.glare * card.window * shot.scale)) ** 6))
    light = light + shot.noise * rng.standard_normal(light.shape)
    grey = np.clip(np.round(255 * light), 0, 255).astype(np.uint8)
    if shot.quality:
        written = io.BytesIO()
        Image.fromarray(grey).save(written, "JPEG", quality=shot.quality)
        grey = np.asarray(Image.open(written))
    return grey


def _foam(foam, shot, places):
    if foam is None:
        return np.full(len(places), 0.6)
    mean = foam.size / np.sqrt(len(foam.points))
    width = shot.film * mean / 2
    shift = foam.size / 2 + places
    light = 0.8 * (1 - shot.dark * np.exp(-((foam.wall_distance(shift) / width) ** 2)))
    if shot.behind:
        deeper = foam.wall_distance(1.1 * shift[:, ::-1] + 0.37 * foam.size)
        light *= 1 - shot.behind * np.exp(-((deeper / (1.5 * width)) ** 2))
    if shot.drained:
        light[places[:, 1] > shot.card.window * (0.5 - shot.drained)] = 0.6
    return light


def save(grey, path, **more):
    Image.fromarray(grey).save(path, **more)
    return path
