"""Sizes of bubbles from the cells of a flat picture, without bias by the edge, with an interval.

A cell that the edge cuts is left out. Large cells are cut more often, so each whole cell counts with the inverse of the
area in which its bounding box fits (Miles 1974 and Lantuéjoul 1978, from memory; the usual rule of stereology). The
diameter of a cell is that of the circle with its area: a line of foam films is split in its middle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from frothline.bubble_size.segment import Cells, FlatPicture
from frothline.estimate import Z95
from frothline.numerics.arrays import Floats
from frothline.numerics.uncertainty import student_factor

TILES = 7  # a side, for the bootstrap
DRAWS = 1000
FEW_WIDER = 20.0  # a bootstrap is too narrow by about this over the effective number of bubbles, in simulated foam
EMPTY_SHARE, EMPTY_TIMES = 0.05, 8.0  # of the window, and of the mean cell: a larger cell at the edge has no foam
COARSE = 120  # squares a side by which the fit of a box beside spoilt parts is counted


@dataclass(frozen=True)
class Bubbles:
    """Whole cells: diameters (n,) m, weights (n,), places (n, 2) m from the corner, numbers (n,) of their labels.

    seen : all cells, cut ones too;  empty : share of the window without films
    """

    diameters: Floats
    weights: Floats
    places: Floats
    numbers: NDArray[np.int64]
    seen: int
    empty: float
    width: float

    @property
    def sauter(self) -> float:
        """Sauter mean diameter, m: the sum of cubes over the sum of squares."""
        return float((self.weights * self.diameters**3).sum() / (self.weights * self.diameters**2).sum())

    @property
    def median(self) -> float:
        """Median diameter by number, m."""
        order = np.argsort(self.diameters)
        reached = np.cumsum(self.weights[order]) / self.weights.sum()
        return float(self.diameters[order][np.searchsorted(reached, 0.5)])

    @property
    def spread(self) -> float:
        """Standard deviation of the diameters over their mean."""
        mean = float(np.average(self.diameters, weights=self.weights))
        return float(np.sqrt(np.average((self.diameters - mean) ** 2, weights=self.weights)) / mean)


def bubbles_of(picture: FlatPicture, cells: Cells) -> Bubbles:
    """The whole cells of a picture; there may be none."""
    labels = cells.labels
    empty = _empty_cells(labels)
    usable = picture.usable & ~np.isin(labels, empty)
    inner = ndimage.binary_erosion(usable, np.ones((3, 3)))  # what is outside the picture counts as spoilt
    boxes = ndimage.find_objects(labels)
    area = np.bincount(labels.ravel(), minlength=len(boxes) + 1)
    total = np.zeros((labels.shape[0] + 1, labels.shape[1] + 1), np.int64)
    total[1:, 1:] = inner.cumsum(0).cumsum(1)
    numbers, spans, middles = [], [], []
    for number, box in enumerate(boxes, 1):
        if box is None:
            continue
        (a, b), (c, d) = ((one.start, one.stop) for one in box)
        if total[b, d] - total[a, d] - total[b, c] + total[a, c] == (b - a) * (d - c):
            numbers.append(number)
            spans.append((d - c, b - a))
            middles.append(((c + d) / 2, (a + b) / 2))
    which = np.array(numbers, dtype=np.int64)
    size = np.array(spans, dtype=float).reshape(-1, 2)
    return Bubbles(
        np.sqrt(4 * area[which] / np.pi) * picture.pixel,
        1 / _room(inner, size),
        np.array(middles, dtype=float).reshape(-1, 2) * picture.pixel,
        which,
        int((area[1:] > 0).sum() - len(empty)),
        float(area[empty].sum() / labels.size),
        labels.shape[0] * picture.pixel,
    )


def _empty_cells(labels: NDArray[np.int32]) -> NDArray[np.int64]:
    """Numbers of the cells at the edge that are far larger than the others: liquid or air without bubbles."""
    area = np.bincount(labels.ravel())
    area[0] = 0
    edge = np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]]))
    edge = edge[(edge > 0) & (area[edge] > EMPTY_SHARE * labels.size)]
    others = np.delete(area, edge)
    others = others[others > 0]
    if not len(others):
        return np.asarray(edge, np.int64)
    typical = float((others.astype(float) ** 2).sum() / others.sum())
    return np.asarray(edge[area[edge] > EMPTY_TIMES * typical], np.int64)


def _room(inner: NDArray[np.bool_], size: Floats) -> Floats:
    """Number of places at which a box of each size (n, 2) px fits into the part that can be used."""
    rows, columns = (side - 2 for side in inner.shape)
    free = np.maximum(columns - size[:, 0] + 1, 1) * np.maximum(rows - size[:, 1] + 1, 1)
    if inner[1:-1, 1:-1].all():
        return np.asarray(free)
    step = max(1, rows // COARSE)
    n = rows // step
    good = inner[1 : 1 + n * step, 1 : 1 + n * step].reshape(n, step, n, step).all(axis=(1, 3))
    total = np.zeros((n + 1, n + 1), np.int64)
    total[1:, 1:] = good.cumsum(0).cumsum(1)
    coarse = np.clip(np.round(size / step).astype(int), 1, n)
    share: dict[tuple[int, int], float] = {}
    for w, h in {(int(a), int(b)) for a, b in coarse}:
        fits = total[h:, w:] - total[:-h, w:] - total[h:, :-w] + total[:-h, :-w] == w * h
        share[w, h] = max(float(fits.mean()), 0.5 / fits.size)
    return np.asarray(free * np.array([share[int(a), int(b)] for a, b in coarse]))


def sampling(bubbles: Bubbles, seed: int = 0) -> tuple[float, float, float]:
    """Relative standard uncertainties of Sauter mean, median and spread by the sampled foam alone.

    Bootstrap over the tiles of a chess board: neighbouring bubbles are not independent. The factor of Student's
    distribution widens it where few tiles have bubbles.
    """
    rng = np.random.default_rng(seed)
    tile = np.minimum((bubbles.places / bubbles.width * TILES).astype(int), TILES - 1)
    number = tile[:, 0] * TILES + tile[:, 1]
    used = np.unique(number)
    if len(used) < 3:
        return float("inf"), float("inf"), float("inf")
    members = [np.flatnonzero(number == one) for one in used]
    d, w = bubbles.diameters, bubbles.weights
    sums = np.array([[(w[m] * d[m] ** k).sum() for k in range(4)] for m in members])
    drawn = rng.multinomial(len(used), np.full(len(used), 1 / len(used)), DRAWS)
    s0, s1, s2, s3 = (drawn @ sums).T
    wider = float(student_factor(len(used) - 1)) / Z95 * np.sqrt(len(used) / (len(used) - 1))
    cubes = w * d**3
    wider *= 1 + FEW_WIDER * float((cubes**2).sum() / cubes.sum() ** 2)  # a few large bubbles may be most of the foam
    mean = s1 / s0
    spread = np.sqrt(np.maximum(s2 / s0 - mean**2, 0)) / mean
    order = np.argsort(d)
    where = np.searchsorted(used, number)[order]
    medians = []
    for counts in drawn[:200]:
        reached = np.cumsum(w[order] * counts[where])
        medians.append(d[order][np.searchsorted(reached, 0.5 * reached[-1])])
    return tuple(
        wider * float(np.std(np.log(np.maximum(one, 1e-12)), ddof=1)) for one in (s3 / s2, np.array(medians), spread)
    )
