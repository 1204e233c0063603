"""The window of the card as a flat picture, and the cells of the foam in it.

The light is evened out, films are found as lines darker (or brighter) than the bubbles next to them, and a watershed
splits the picture into cells along the middle of the films. It starts from too many cells; two neighbours become one
where the line between them is no film.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, sparse

from frothline.bubble_size.find_target import FoundTarget, local_scale, project
from frothline.bubble_size.photo import Grey
from frothline.errors import MissingPackage
from frothline.numerics.arrays import Floats

SATURATED = 250  # grey level at which a film cannot be seen any more
TOO_DARK = 12  # the same of shadow
BRIGHTEST = 1.9  # times the light around it: a reflection rather than a bubble
FILM = 0.45  # of the contrast of a usual film: a line with less is none
WEAK = 0.7  # of the strong lines: a weaker one may be a film of a layer behind
ROUNDS = 6  # of merging
FAINT = 6.0  # contrast of the films over the noise that is needed
NOISE_TAIL, NOISE_WEAK = 0.1, 0.25  # grey levels of noise are symmetric, and many of its lines are weak

Mask = NDArray[np.bool_]
Labels = NDArray[np.int32]
Plane = NDArray[np.float32]


@dataclass(frozen=True)
class FlatPicture:
    """The window seen square on: grey levels (n, n), metres a pixel, and the usable part."""

    light: Plane
    pixel: float
    usable: Mask
    glare: float
    shadow: float


@dataclass(frozen=True)
class Cells:
    """Cells of a flat picture: 0 where there is none.

    films : whether the lines are films, not noise;  weak : share of the lines that may belong to a layer behind
    dark : whether films are darker than bubbles
    pieces : the cells before neighbours became one;  height : contrast of the films over that of a usual one
    """

    labels: Labels
    films: bool
    weak: float
    dark: bool
    pieces: Labels = field(default_factory=lambda: np.empty((0, 0), np.int32))
    height: Plane = field(default_factory=lambda: np.empty((0, 0), np.float32))


def flatten(grey: Grey, target: FoundTarget, pixel: float, most: int) -> FlatPicture:
    """Sample the inner window, or as much of its middle as ``most`` pixels of ``pixel`` m show."""
    side = min(round(target.card.inner / pixel), most)
    half = side * pixel / 2
    corners = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    scale = float(local_scale(target.matrix, corners).max())
    at = (np.arange(side) + 0.5) * pixel - half
    box = project(target.matrix, corners)
    x0, y0 = np.floor(box.min(axis=0)).astype(int) - 2
    x1, y1 = np.ceil(box.max(axis=0)).astype(int) + 3
    x0, y0 = max(int(x0), 0), max(int(y0), 0)
    piece = grey[y0 : int(y1), x0 : int(x1)].astype(np.float32)
    bright = (piece >= SATURATED).astype(np.float32)
    coarse = scale * pixel
    if coarse > 1.3:
        piece = ndimage.gaussian_filter(piece, 0.4 * coarse)
    light = np.empty((side, side), np.float32)
    glare = np.empty((side, side), bool)
    for start in range(0, side, 256):  # in strips, for the memory
        x, y = np.meshgrid(at, at[start : start + 256])
        places = project(target.matrix, np.stack([x.ravel(), y.ravel()], axis=1)) - [x0, y0]
        order = places[:, ::-1].T
        smooth = 3 if coarse < 1 else 1
        strip = (slice(start, start + 256), slice(None))
        light[strip] = ndimage.map_coordinates(piece, order, order=smooth, mode="nearest").reshape(x.shape)
        glare[strip] = ndimage.map_coordinates(bright, order, order=0, mode="nearest").reshape(x.shape) > 0.5
    around = _wide_mean(light, side / 12)
    small = max(1, side // 150)
    spot = glare | (ndimage.uniform_filter(light, 2 * small + 1) > BRIGHTEST * around)
    blinded = _with_halo(ndimage.binary_opening(spot, iterations=small), 2 * small)
    shadow = ndimage.binary_opening(ndimage.maximum_filter(light, 2 * small + 1) < TOO_DARK, iterations=small)
    return FlatPicture(light, pixel, ~(blinded | shadow), float(blinded.mean()), float(shadow.mean()))


def _with_halo(spot: Mask, least: int) -> Mask:
    """A reflection with its halo, in which films are faint: wider by 0.6 of its largest inscribed radius."""
    if not spot.any():
        return spot
    labels, _ = ndimage.label(spot)
    radius = ndimage.maximum(ndimage.distance_transform_edt(spot), labels, np.arange(labels.max() + 1))
    distance, (rows, columns) = ndimage.distance_transform_edt(~spot, return_indices=True)
    return np.asarray(distance <= np.maximum(least, 0.6 * radius[labels[rows, columns]]))


def _wide_mean(values: Plane, sigma: float) -> Plane:
    """Gaussian mean over a wide surrounding, from a coarse copy."""
    factor = max(1, int(sigma / 6))
    rows, columns = values.shape
    padded = np.pad(values, ((0, -rows % factor), (0, -columns % factor)), mode="edge")
    coarse = padded.reshape(padded.shape[0] // factor, factor, padded.shape[1] // factor, factor).mean((1, 3))
    smooth = ndimage.gaussian_filter(coarse, sigma / factor, mode="nearest")
    at = [(np.arange(size) - (factor - 1) / 2) / factor for size in values.shape]
    weights = [np.clip(one, 0, size - 1) for one, size in zip(at, smooth.shape, strict=True)]
    low = [np.minimum(one.astype(int), max(size - 2, 0)) for one, size in zip(weights, smooth.shape, strict=True)]
    high = [np.minimum(one + 1, size - 1) for one, size in zip(low, smooth.shape, strict=True)]
    across = (weights[1] - low[1]).astype(np.float32)
    down = (weights[0] - low[0]).astype(np.float32)[:, None]
    lines = smooth[:, low[1]] * (1 - across) + smooth[:, high[1]] * across
    return np.asarray(lines[low[0]] * (1 - down) + lines[high[0]] * down, np.float32)


def find_cells(picture: FlatPicture, blur: float = 0.0, fine: float = 1.0) -> Cells:
    """Split the usable part of the picture into cells.

    blur : px;  fine : pixels of the picture a pixel of the photo; the noise is that of the photo's pixels

    Raises MissingPackage without scikit-image.
    """
    needed_packages()
    from skimage.morphology import h_maxima  # noqa: PLC0415  optional, and takes time to load
    from skimage.segmentation import watershed  # noqa: PLC0415

    usable = picture.usable
    even = _evened(picture.light, usable)
    tail, extremes = _leaning(even, usable, blur)
    dark = tail + extremes >= 0
    height = -even if dark else even
    ratio = _over_noise(ndimage.gaussian_filter(height, 0.7 * fine), usable, 1.5 * fine)
    height = ndimage.gaussian_filter(height, 0.7)
    middle, strong = (float(np.percentile(height[usable], share)) for share in (40, 97))
    height = (height - middle) / max(strong - middle, 1e-6)
    film = height > FILM
    distance = ndimage.distance_transform_edt(~film & usable).astype(np.float32)
    rounded = ndimage.gaussian_filter(distance, 0.7)
    peaks = h_maxima(rounded, 0.35)
    markers, _ = ndimage.label(peaks & (distance > 0), structure=np.ones((3, 3)))
    labels = watershed(height - 0.02 * np.minimum(rounded, 20.0), markers, mask=usable).astype(np.int32)
    pieces = labels
    labels, weak = _merged(pieces, height, FILM)
    seen = ratio >= FAINT and not (weak > NOISE_WEAK and abs(tail) < NOISE_TAIL)
    return Cells(labels, seen, weak, dark, pieces, height)


def merged_at(cells: Cells, least: float) -> Cells:
    """The cells where a line needs ``least`` of the contrast of a usual film to be one."""
    labels, weak = _merged(cells.pieces, cells.height, least)
    return replace(cells, labels=labels, weak=weak)


def needed_packages() -> None:
    """Raises MissingPackage without scikit-image."""
    try:
        import skimage  # noqa: F401, PLC0415
    except ImportError as error:
        raise MissingPackage(
            "measuring bubbles needs the package scikit-image",
            remedy='Install it with `pip install "frothline[photo]"`',
        ) from error


def _evened(light: Plane, usable: Mask) -> Plane:
    """Light relative to that around it; the part that cannot be used is left out of the mean."""
    sigma = max(light.shape) / 25
    weight = _wide_mean(usable.astype(np.float32), sigma)
    around = _wide_mean(np.where(usable, light, 0).astype(np.float32), sigma)
    return np.asarray(light / np.maximum(around / np.maximum(weight, 1e-3), 1.0) - 1.0, np.float32)


def _over_noise(height: Plane, usable: Mask, wide: float) -> float:
    """Contrast of the films over the standard deviation of the noise inside bubbles."""
    middle, strong = (float(np.percentile(height[usable], share)) for share in (40, 97))
    rough = (height - ndimage.gaussian_filter(height, wide))[usable & (height < middle)]
    noise = 1.4826 * float(np.median(np.abs(rough - np.median(rough)))) if len(rough) else np.inf
    return (strong - middle) / max(noise, 1e-6)


def _leaning(even: Plane, usable: Mask, blur: float) -> tuple[float, float]:
    """Two signs of films: above zero they are dark, near zero there are none.

    Sharp films cover less than half of the picture, so its grey levels have a long tail on the films' side. In a
    blurred picture each bubble is one extreme, and each vertex, of which foam has two a bubble (Euler), is one of
    the other kind.
    """
    smooth = ndimage.gaussian_filter(even, max(1.0, 0.8 * blur))
    low, middle, high = np.percentile(smooth[usable], (4, 50, 96))
    tail = float(np.log(max(middle - low, 1e-6) / max(high - middle, 1e-6)))
    wide = ndimage.gaussian_filter(even, max(1.5, 0.8 * blur))
    near = ndimage.minimum_filter(wide, 3), ndimage.maximum_filter(wide, 3)
    minima, maxima = (float(((wide == one) & usable).sum()) for one in near)
    return tail, float(np.log((minima + 1) / (maxima + 1)))


def _merged(labels: Labels, height: Plane, least: float) -> tuple[Labels, float]:
    """Neighbours become one where the line between them is no film; and the share of the other lines that are weak."""
    ridge = ndimage.maximum_filter(height, 3)
    for _ in range(ROUNDS):
        first, second, evidence, length = _lines(labels, ridge, _inside_levels(labels, height))
        weak = evidence < least
        if not weak.any():
            break
        # the weakest line of each cell only: the others are judged again along the larger cell
        order = np.argsort(evidence[weak])
        a, b = first[weak][order], second[weak][order]
        taken = np.zeros(labels.max() + 1, bool)
        chosen = np.zeros(len(a), bool)
        for k in range(len(a)):
            if not (taken[a[k]] or taken[b[k]]):
                taken[a[k]] = taken[b[k]] = chosen[k] = True
        labels = _joined(labels, a[chosen], b[chosen])
    if not len(evidence):
        return labels, 0.0
    order = np.argsort(evidence)
    reached = np.cumsum(length[order]) / length.sum()
    strong = evidence[order][np.searchsorted(reached, 0.85)]
    return labels, float(length[evidence < WEAK * strong].sum() / length.sum())


def _inside_levels(labels: Labels, height: Plane) -> Floats:
    """Level inside each cell: a quarter of it is lower."""
    flat, values = labels.ravel(), height.ravel()
    order = np.lexsort((values, flat))
    count = np.bincount(flat)
    start = np.concatenate([[0], np.cumsum(count)[:-1]])
    at = np.minimum(start + count // 4, len(order) - 1)
    return np.asarray(values[order[at]], float)


def _lines(labels: Labels, ridge: Plane, inside: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats, Floats]:
    """Pairs of neighbours, the mean height of the line between them above their insides, and its length px."""
    keys, heights = [], []
    size = int(labels.max()) + 1
    for axis in (0, 1):
        one = labels[:-1] if axis == 0 else labels[:, :-1]
        two = labels[1:] if axis == 0 else labels[:, 1:]
        edge = (one != two) & (one > 0) & (two > 0)
        a, b = one[edge].astype(np.int64), two[edge].astype(np.int64)
        keys.append(np.minimum(a, b) * size + np.maximum(a, b))
        top = np.maximum(ridge[:-1], ridge[1:]) if axis == 0 else np.maximum(ridge[:, :-1], ridge[:, 1:])
        heights.append(top[edge])
    key, which = np.unique(np.concatenate(keys), return_inverse=True)
    length = np.bincount(which).astype(float) if len(key) else np.empty(0)
    mean = np.bincount(which, np.concatenate(heights)) / np.maximum(length, 1) if len(key) else np.empty(0)
    first, second = key // size, key % size
    return first, second, mean - np.maximum(inside[first], inside[second]), length


def _joined(labels: Labels, a: NDArray[np.int64], b: NDArray[np.int64]) -> Labels:
    size = int(labels.max()) + 1
    graph = sparse.coo_matrix((np.ones(len(a)), (a, b)), shape=(size, size))
    _, group = sparse.csgraph.connected_components(graph, directed=False)
    group = group.astype(np.int32) + 1
    zero = group[0]
    new = group[labels]
    new[new == zero] = 0
    return np.asarray(new, np.int32)
