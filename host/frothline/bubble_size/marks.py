"""Two marks of a ruler in place of a printed target, and the correction for a round wall."""

from __future__ import annotations

import math

import numpy as np

from frothline.bubble_size.find_target import FoundTarget
from frothline.bubble_size.photo import GreyPhoto
from frothline.bubble_size.photo_notes import PhotoNotes
from frothline.bubble_size.target import INSET, Card
from frothline.errors import InputError

WINDOW = 0.6  # of the photo's shorter side: the square in its middle in which bubbles are measured
U_MARK = 2.0  # px, of a mark that is read off on a screen; judgement, no source
U_SLANT = 0.02  # relative: the photo may be taken some 10° aslant, which two marks do not show; cos 10° = 0.985
WIDEST = 0.7  # half the window over the radius of a round wall: beyond, bubbles are seen too far aslant
NAME = "ruler"  # of the card that two marks stand for


def target_of_marks(photo: GreyPhoto, notes: PhotoNotes) -> FoundTarget:
    """The middle of a photo as the window of a card, with the scale of two marks.

    Raises InputError for marks outside the photo, or a ruler that crosses the window.
    """
    assert notes.marks is not None
    assert notes.length is not None
    rows, columns = photo.grey.shape
    size = photo.size
    factor = max(rows, columns) / max(size)
    first, second = (np.array(one) for one in notes.marks)
    if any(not (0 <= one[0] <= size[0] and 0 <= one[1] <= size[1]) for one in (first, second)):
        raise InputError(
            f"a mark is outside the photo, which has {size[0]} × {size[1]} pixels",
            where=str(photo.path),
            remedy="Read the pixels off the photo itself, not off a smaller copy",
        )
    middle, half = np.array(size) / 2, WINDOW * min(size) / 2
    if any(np.all(np.abs(first + share * (second - first) - middle) < half) for share in np.linspace(0, 1, 101)):
        raise InputError(
            "the ruler is in the middle of the photo, where the bubbles are measured",
            where=str(photo.path),
            remedy=f"Photograph it beside the foam: the middle {100 * WINDOW:.0f} % must show foam alone",
        )
    apart = float(np.linalg.norm(second - first))
    scale = factor * apart / notes.length
    matrix = np.array([[scale, 0.0, columns / 2 - 0.5], [0.0, scale, rows / 2 - 0.5], [0.0, 0.0, 1.0]])
    window = WINDOW * min(rows, columns) / scale / (1 - 2 * INSET)
    u = math.hypot(math.sqrt(2.0) * U_MARK / apart, U_SLANT)
    return FoundTarget(Card(NAME, window, 0), matrix, (), 0.0, 255.0, 0.0, 1.0, u)


def round_wall(jar: float, width: float, where: str) -> tuple[float, float]:
    """Factor on a diameter that is seen through a round wall as if it were flat, and its relative uncertainty.

    At x from the axis of a wall of radius R the surface is turned by asin(x/R), an area appears smaller by
    sqrt(1 - (x/R)²), and the diameter of its circle by the root of that. ``width`` m, of the window. The uncertainty is
    half of the correction. Raises InputError for a window that is too wide.
    """
    half = width / jar
    if half > WIDEST:
        raise InputError(
            f"the window is {width * 1e3:.0f} mm wide and the round wall {jar * 1e3:.0f} mm: its sides are seen aslant",
            where=where,
            remedy="Go closer, or photograph the foam behind a flat pane",
        )
    seen = float(np.mean((1.0 - ((np.arange(200) + 0.5) / 200 * half) ** 2) ** 0.25))
    return 1.0 / seen, (1.0 - seen) / 2.0
