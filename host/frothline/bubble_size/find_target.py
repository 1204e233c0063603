"""The card in a photo: its dots found, and the perspective from card to photo.

Dark spots that are elliptical are candidates. A candidate with a bright middle may be the corner ring; with one
neighbour along each of two sides it gives a first guess, which is extended from dot to dot along the square and refined
with each. At last the middle of each dot is measured in the full photo.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.optimize import least_squares
from scipy.spatial import cKDTree

from frothline.bubble_size.photo import Grey
from frothline.bubble_size.target import CARDS, COUNT, DOT, SIDE, Card, loop
from frothline.errors import NoTarget
from frothline.numerics.arrays import Floats

SEARCHED = (1400, 2800)  # px of the longer side in which dots are looked for, the smaller first
FEWEST = 14  # dots for a scale; fewer cannot show that the pattern is the card's
MOST_RINGS, MOST_SPOTS, MOST_TRIES = 200, 6000, 3000
DISC, RING = 0.88, (0.42, 0.78)  # area over that of the ellipse with the same second moments: 1 and 0.6 as drawn
SMALLEST = 12  # px, area of a spot
SNAP = 0.3  # steps between a predicted and a found dot


@dataclass(frozen=True)
class FoundTarget:
    """The card in a photo.

    matrix : (3, 3) homography from metres on the card to pixels of the photo
    seen : numbers of the dots that were used;  residual : px, rms of their distances from the fitted places
    paper, ink : grey levels of the card;  blur : px, standard deviation of its edges
    u_scale : relative standard uncertainty of lengths by the dots alone
    """

    card: Card
    matrix: Floats
    seen: tuple[int, ...]
    residual: float
    paper: float
    ink: float
    blur: float
    u_scale: float

    @property
    def hidden(self) -> int:
        return COUNT - len(self.seen)

    @property
    def tilt(self) -> float:
        """Largest over smallest scale inside the window, minus 1."""
        half = self.card.inner / 2
        x, y = np.meshgrid([-half, 0.0, half], [-half, 0.0, half])
        scales = local_scale(self.matrix, np.stack([x.ravel(), y.ravel()], axis=1))
        return float(scales.max() / scales.min() - 1)

    @property
    def scale(self) -> float:
        """Pixels of the photo a metre at the middle of the window."""
        return float(local_scale(self.matrix, np.zeros((1, 2)))[0])


def find_target(grey: Grey, where: str = "") -> FoundTarget:
    """Find the card. Raises NoTarget if it is not there, or too much of it is hidden."""
    best: tuple[int, Card, Floats] | None = None
    for longest in SEARCHED:
        factor = max(1, -(-max(grey.shape) // longest))
        small = _reduced(grey, factor)
        found = _search(small)
        if found is not None and (best is None or found[0] > best[0]):
            shift = np.array([[factor, 0, (factor - 1) / 2], [0, factor, (factor - 1) / 2], [0, 0, 1.0]])
            best = found[0], found[1], shift @ found[2]
        if factor == 1 or (best is not None and best[0] >= COUNT - 2):
            break
    if best is None:
        raise NoTarget(
            "no printed target is in the photo, or its ring or too many of its dots are hidden",
            where=where,
            remedy="Print the card with frothline bubbles --target FILE, fix it to the pane and photograph all of it; "
            "or give two marks of a ruler in the photo with frothline bubbles --scale",
        )
    return _refined(grey, best[1], best[2], where)


def local_scale(matrix: Floats, places: Floats) -> Floats:
    """Square root of the area scale at places (n, 2) m: px/m."""
    w = places @ matrix[2, :2] + matrix[2, 2]
    return np.asarray(np.sqrt(np.abs(np.linalg.det(matrix) / w**3)))


def project(matrix: Floats, places: Floats) -> Floats:
    """Places (n, 2) through a homography."""
    at = places @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(at[:, :2] / at[:, 2:])


def _reduced(grey: Grey, factor: int) -> NDArray[np.float32]:
    rows, columns = (size // factor * factor for size in grey.shape)
    if factor == 1:
        return grey.astype(np.float32)
    blocks = grey[:rows, :columns].reshape(rows // factor, factor, columns // factor, factor)
    return np.asarray(blocks.mean(axis=(1, 3), dtype=np.float32))


# --- candidates ------------------------------------------------------------------------------------------------------


def _spots(small: NDArray[np.float32], window: int) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Elliptical dark spots: places (n, 2), radii (n,) px, and which may be rings."""
    smooth = ndimage.gaussian_filter(small, 0.7)
    high, low = ndimage.maximum_filter(smooth, window), ndimage.minimum_filter(smooth, window)
    high, low = ndimage.uniform_filter(high, window), ndimage.uniform_filter(low, window)
    dark = (smooth < (high + low) / 2) & (high - low > 25)
    labels, count = ndimage.label(dark)
    if count == 0:
        return np.empty((0, 2)), np.empty(0), np.empty(0, dtype=bool)
    rows, columns = np.nonzero(labels)
    label = labels[rows, columns]
    area = np.bincount(label, minlength=count + 1).astype(float)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.bincount(label, values, count + 1) / np.maximum(area, 1))

    x, y = mean(columns.astype(float)), mean(rows.astype(float))
    dx, dy = columns - x[label], rows - y[label]
    xx, yy, xy = mean(dx * dx) + 1 / 12, mean(dy * dy) + 1 / 12, mean(dx * dy)
    root = np.sqrt(np.maximum(xx * yy - xy**2, 1e-9))
    fill = area / (4 * np.pi * root)
    middle = dark[np.clip(np.round(y).astype(int), 0, None), np.clip(np.round(x).astype(int), 0, None)]
    wide = 2 * root < (xx + yy) * 0.45  # thinner than 1 to 4: no dot under a usable tilt
    usable = (area >= SMALLEST) & (area < small.size / 50) & ~wide
    usable[0] = False
    disc = usable & (fill > DISC) & middle
    ring = usable & (fill > RING[0]) & (fill < RING[1]) & ~middle
    which = np.flatnonzero(disc | ring)
    which = which[np.argsort(-area[which])][:MOST_SPOTS]
    radius = np.where(ring, np.sqrt(4 * root / 1.25), np.sqrt(4 * root))
    return np.stack([x, y], axis=1)[which], radius[which], ring[which]


def _search(small: NDArray[np.float32]) -> tuple[int, Card, Floats] | None:
    """The best match: number of dots, the card, and the homography from metres to pixels."""
    best: tuple[int, float, Floats, Floats, int] | None = None
    for part in (12, 5):
        places, radii, rings = _spots(small, max(5, max(small.shape) // part))
        if len(places) < FEWEST:
            continue
        tree = cKDTree(places)
        by_size = np.flatnonzero(rings)[:MOST_RINGS]
        tries = [MOST_TRIES]
        for corner in by_size:
            found = _from_corner(int(corner), places, radii, tree, tries)
            if found is not None and (best is None or (found[0], -found[1]) > (best[0], -best[1])):
                best = (*found, int(_is_ring(found[3], 1, places, rings)))
            if best is not None and best[0] == COUNT:
                break
        if best is not None and best[0] >= COUNT - 1:
            break
    if best is None:
        return None
    count, _, matrix, _, second = best
    card = next(one for one in CARDS if one.rings == 1 + second)
    return count, card, matrix @ np.diag([1 / card.step, 1 / card.step, 1.0])


def _is_ring(dots: Floats, number: int, places: Floats, rings: NDArray[np.bool_]) -> bool:
    """Whether a dot next to the corner is a ring; in a mirrored photo it is on the other side."""
    for one in (number, COUNT - number):
        at = np.flatnonzero((places == dots[one]).all(axis=1))
        if len(at) and rings[at[0]]:
            return True
    return False


_LOOP = loop()
_ORDER = sorted(range(1, COUNT), key=lambda k: min(k, COUNT - k))  # outward from the corner along both sides


def _from_corner(
    corner: int, places: Floats, radii: Floats, tree: cKDTree, tries: list[int]
) -> tuple[int, float, Floats, Floats] | None:
    """The best pattern with this corner: number of dots, rms distance in steps, homography from steps, places.

    ``tries`` has the number of guesses that are left: in a picture of noise everything looks like a corner.
    """
    step = 2 * radii[corner] / DOT
    near = [one for one in tree.query_ball_point(places[corner], 1.5 * step) if one != corner]
    near = [one for one in near if 0.55 < radii[one] / radii[corner] < 1.8]
    near = [one for one in near if np.linalg.norm(places[one] - places[corner]) > 0.45 * step]
    near.sort(key=lambda one: float(np.linalg.norm(places[one] - places[corner])))
    best: tuple[int, float, Floats, Floats] | None = None
    for first in near[:8]:
        for second in near[:8]:
            u, v = places[first] - places[corner], places[second] - places[corner]
            if first == second or u[0] * v[1] - u[1] * v[0] < 0.3 * np.linalg.norm(u) * np.linalg.norm(v):
                continue  # also leaves out the mirrored order, which the other pair gives
            for a, b in ((u, v), (v, u)):
                if tries[0] <= 0:
                    return best
                tries[0] -= 1
                found = _extended(places[corner], a, b, places, tree)
                if found is not None and (best is None or (found[0], -found[1]) > (best[0], -best[1])):
                    best = found
                if best is not None and best[0] == COUNT:
                    return best
                if found is not None:
                    break
    return best


def _extended(
    corner: Floats, u: Floats, v: Floats, places: Floats, tree: cKDTree
) -> tuple[int, float, Floats, Floats] | None:
    """Extend a first guess (corner, one step to the right u, one step down v) to all dots."""
    matrix = np.column_stack([u, v, corner - u * _LOOP[0, 0] - v * _LOOP[0, 1]])
    matrix = np.vstack([matrix, [0.0, 0.0, 1.0]])
    dots = np.full((COUNT, 2), np.nan)
    dots[0], dots[1], dots[COUNT - 1] = corner, corner + u, corner + v
    for position, number in enumerate(_ORDER):
        if number in (1, COUNT - 1):
            continue
        at, nearby = project(matrix, _LOOP[[number, _neighbour(number)]])
        distance, which = tree.query(at)
        if distance < SNAP * np.linalg.norm(nearby - at):
            dots[number] = places[which]
        known = ~np.isnan(dots[:, 0])
        if position == 5 and known.sum() < 5:
            return None  # of six further dots at the corner fewer than two are there
        if position % 2 == 1 and _spread(known):
            matrix = _homography(_LOOP[known], dots[known])
    known = ~np.isnan(dots[:, 0])
    if known.sum() < FEWEST or not _spread(known):
        return None
    matrix = _homography(_LOOP[known], dots[known])
    for number in range(COUNT):  # dots that an early guess missed
        if not known[number]:
            at, nearby = project(matrix, _LOOP[[number, _neighbour(number)]])
            distance, which = tree.query(at)
            if distance < SNAP / 2 * np.linalg.norm(nearby - at):
                dots[number] = places[which]
    known = ~np.isnan(dots[:, 0])
    matrix = _homography(_LOOP[known], dots[known])
    step = np.linalg.norm(np.diff(project(matrix, _LOOP), axis=0), axis=1).mean()
    away = np.linalg.norm(project(matrix, _LOOP[known]) - dots[known], axis=1) / step
    if np.sqrt((away**2).mean()) > 0.08:
        return None
    return int(known.sum()), float(np.sqrt((away**2).mean())), matrix, dots


def _neighbour(number: int) -> int:
    return (number + 1) % COUNT


def _spread(known: NDArray[np.bool_]) -> bool:
    """Whether the dots determine a homography: two besides the corner on each of two sides."""
    sides = [known[1 + SIDE * k : SIDE * (k + 1)].sum() for k in range(4)]
    ends = [bool(known[SIDE * k]) for k in range(4)]
    return sum(bool(side + ends[k] + ends[(k + 1) % 4] >= 3) for k, side in enumerate(sides)) >= 2


def _homography(plane: Floats, photo: Floats) -> Floats:
    """Direct linear transformation with normalised coordinates (Hartley and Zisserman, Multiple View Geometry, 4.4)."""
    a, b = _normal(plane), _normal(photo)
    p, q = project(a, plane), project(b, photo)
    ones, zeros = np.ones(len(p)), np.zeros((len(p), 3))
    flat = np.column_stack([p, ones])
    upper = np.hstack([flat, zeros, -q[:, :1] * flat])
    lower = np.hstack([zeros, flat, -q[:, 1:] * flat])
    _, _, vectors = np.linalg.svd(np.vstack([upper, lower]))
    made = np.linalg.inv(b) @ vectors[-1].reshape(3, 3) @ a
    return np.asarray(made / made[2, 2])


def _normal(places: Floats) -> Floats:
    middle = places.mean(axis=0)
    size = np.sqrt(2) / max(float(np.linalg.norm(places - middle, axis=1).mean()), 1e-12)
    return np.array([[size, 0, -size * middle[0]], [0, size, -size * middle[1]], [0, 0, 1]])


# --- full photo ------------------------------------------------------------------------------------------------------


def _refined(grey: Grey, card: Card, matrix: Floats, where: str) -> FoundTarget:
    """Measure the dots in the full photo and fit the homography to them."""
    dots = card.dots
    at = project(matrix, dots)
    step = float(np.median(np.linalg.norm(np.diff(at, axis=0), axis=1)))
    measured = [_measured_dot(grey, place, DOT * step / 2) for place in at]
    seen = [k for k, one in enumerate(measured) if one is not None]
    if len(seen) < FEWEST:
        raise NoTarget(
            f"only {len(seen)} of the target's {COUNT} dots can be seen",
            where=where,
            remedy="Uncover the card, and photograph all of it without glare",
        )
    places = np.array([one[0] for one in measured if one is not None])
    matrix, away = _fitted(dots[seen], places, matrix)
    inside = away < max(3 * float(np.median(away)), 0.02 * step)
    if inside.sum() >= FEWEST and not inside.all():
        seen = [k for k, good in zip(seen, inside, strict=True) if good]
        places = places[inside]
        matrix, away = _fitted(dots[seen], places, matrix)
    residual = float(np.sqrt((away**2).mean()))
    good = [one for one in measured if one is not None]
    return FoundTarget(
        card,
        matrix,
        tuple(seen),
        residual,
        float(np.median([one[1] for one in good])),
        float(np.median([one[2] for one in good])),
        float(np.median([one[3] for one in good])),
        residual / (step * SIDE) * 2 / np.sqrt(len(seen)) + 1e-4,
    )


def _fitted(plane: Floats, photo: Floats, start: Floats) -> tuple[Floats, Floats]:
    scale = float(np.abs(plane).max())

    def away(values: Floats) -> Floats:
        made = np.append(values, 1.0).reshape(3, 3)
        return np.asarray((project(made, plane / scale) - photo).ravel())

    first = start @ np.diag([scale, scale, 1.0])
    found = least_squares(away, (first / first[2, 2]).ravel()[:8], loss="soft_l1", f_scale=1.0)
    matrix = np.append(found.x, 1.0).reshape(3, 3) @ np.diag([1 / scale, 1 / scale, 1.0])
    return matrix, np.linalg.norm(project(matrix, plane) - photo, axis=1)


def _measured_dot(grey: Grey, place: Floats, radius: float) -> tuple[Floats, float, float, float] | None:
    """Middle of a dot (x, y) px, grey level of paper and ink, and blur of its edge px; None if it cannot be seen."""
    reach = 1.7 * radius
    x0, x1 = int(place[0] - reach), int(place[0] + reach) + 2
    y0, y1 = int(place[1] - reach), int(place[1] + reach) + 2
    if x0 < 0 or y0 < 0 or y1 > grey.shape[0] or x1 > grey.shape[1] or radius < 2:
        return None
    thin = max(1, int(radius / 40))  # of a large dot not every pixel is needed
    full = grey[y0:y1, x0:x1].astype(float)
    piece = full[::thin, ::thin]
    y, x = np.mgrid[y0:y1:thin, x0:x1:thin]
    paper, ink = (float(np.percentile(piece, share)) for share in (92, 8))
    if paper - ink < max(25.0, 0.3 * paper):
        return None
    dark = np.clip((paper - piece) / (paper - ink), 0, 1)
    middle = place.astype(float)
    for _ in range(4):
        near = np.hypot(x - middle[0], y - middle[1]) < 1.45 * radius
        weight = np.where(near & (dark > 0.25), dark, 0)
        if weight.sum() * thin**2 < 0.3 * np.pi * radius**2:
            return None
        middle = np.array([(weight * x).sum(), (weight * y).sum()]) / weight.sum()
    away = np.hypot(x - middle[0], y - middle[1]) / radius
    black, white = dark[(away > 0.55) & (away < 0.75)], dark[(away > 1.3) & (away < 1.5)]  # also of a ring
    if np.hypot(*(middle - place)) > 0.5 * radius or black.mean() < 0.6 or white.mean() > 0.35:
        return None
    strip = full[len(full) // 2 - 4 : len(full) // 2 + 5]  # across the middle: both of its edges are upright there
    slope = float(np.abs(ndimage.sobel(strip, 1)).max()) / 8
    blur = (paper - ink) / (np.sqrt(2 * np.pi) * max(slope, 1e-6))
    return middle, paper, ink, blur
