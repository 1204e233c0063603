"""Bubbles of one photo: the card found, the window made flat, the films found, the sizes with their interval.

The interval has three parts: the foam that happened to be in the window (bootstrap over tiles), the scale (the card's
dots, the printer, the pane), and the films (errors of the watershed, measured on simulated photos of known foam).
"""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
from scipy import ndimage

from frothline.bubble_size.find_target import FoundTarget, find_target
from frothline.bubble_size.marks import NAME, round_wall, target_of_marks
from frothline.bubble_size.photo import GreyPhoto, read_photo
from frothline.bubble_size.photo_bubbles import PhotoBubbles
from frothline.bubble_size.photo_notes import PhotoNotes, read_notes
from frothline.bubble_size.segment import FILM, Cells, FlatPicture, find_cells, flatten, merged_at, needed_packages
from frothline.bubble_size.sizes import Bubbles, bubbles_of, sampling
from frothline.bubble_size.target import RULER
from frothline.errors import InputError
from frothline.estimate import Estimate

FIRST_SIDE, MOST_SIDE = 700, 1200  # px across the flat picture: in the first look, and at most
WANTED, ENOUGH = 20.0, 14.0  # px across the median bubble in the flat picture
FINEST = 0.5  # pixels of the photo a pixel of the flat picture
LOOKS = 4
COARSE = 1.5  # pixels of the photo a pixel of the flat picture above which small bubbles may be lost in a look
MOST_NOISE = 0.6  # share of weak lines in a look above which the strong ones are no films either
SHARP = 1.0  # px, blur of the card in a sharp photo: the pixels themselves
FEWEST = 20  # whole bubbles
FEW = 50  # with fewer there is a warning
SMALLEST = 10.0  # px of the photo across the median bubble
U_FILMS = 0.02  # relative, of the Sauter mean of a good photo: tests/performance/results/README.md, bubbles
U_BLUR = 0.25  # the same of a blurred photo
U_SMALL = 0.65  # the same for each part by which the median bubble is below 10 px
U_LAYERS = 0.25  # the same where films of a layer behind may be counted
MOVED = 0.1  # of the contrast of a usual film, by which the line of decision is moved either way
FAINT = 0.025  # relative change of the diameter by that, above which there is a warning
UNDECIDED = 0.25  # the same where so few bubbles are left that it cannot be told
U_PRINTER, U_RULER = 0.01, 0.003  # relative: a printer at 100 % that was not checked; a ruler read to 0.5 mm in 100 mm
U_PANE = 0.007  # relative: the foam is up to 4 mm of pane behind the card, seen from 0.2 m or more
MOST_GLARE, MOST_BLUR, MOST_WEAK, MOST_TILT = 0.02, 0.12, 0.15, 0.3
FAR_TOO_BLURRED = 0.15, 0.2  # blur over the median bubble, and weak lines: no size can be given
OUTLINES = 900  # px of the picture with outlines


def measure_photo(path: str | Path, *, ruler: float | None = None, notes: PhotoNotes | None = None) -> PhotoBubbles:
    """Measure the bubbles of a photo.

    ruler : m, measured length of the ruler on the printed page; None if it was not measured
    notes : scale by two marks and round wall; those of the file next to the photo, if not given

    Raises InputError where the photo cannot be read or has no bubbles, NoTarget with neither target nor marks,
    MissingPackage without scikit-image.
    """
    path = Path(path)
    notes = read_notes(path) if notes is None else notes
    ruler = notes.ruler if ruler is None else ruler
    check_ruler(ruler)
    photo = read_photo(path)
    if notes.marks is None:
        target = find_target(photo.grey, str(path))
    else:
        target, ruler = target_of_marks(photo, notes), None
    needed_packages()
    picture, cells, bubbles, faint = _seen(photo, target)
    return _result(photo, target, picture, cells, bubbles, faint, ruler, notes)


def check_ruler(ruler: float | None) -> None:
    """Raises InputError for a length that no printer makes of the ruler."""
    if ruler is not None and not 0.5 * RULER <= ruler <= 2 * RULER:
        raise InputError(
            f"a ruler of {ruler * 1e3:g} mm cannot be right",
            where="ruler",
            remedy=f"Measure the printed line; at 100 % it is {RULER * 1e3:g} mm long",
        )


def _seen(photo: GreyPhoto, target: FoundTarget) -> tuple[FlatPicture, Cells, Bubbles, float]:
    """Look coarsely first, then as finely as the bubbles need; the last is the result of ``_of_faint_films``."""
    finest = FINEST / target.scale
    pixel = max(target.card.inner / FIRST_SIDE, 1 / target.scale)
    clear = True
    for look in range(LOOKS):
        picture = flatten(photo.grey, target, pixel, MOST_SIDE)
        if picture.usable.mean() < 0.1:
            raise InputError(
                f"glare or shadow covers {100 * (1 - picture.usable.mean()):.0f} % of the window",
                where=str(photo.path),
                remedy="Light the foam from the side and photograph it again",
            )
        coarse = pixel * target.scale  # pixels of the photo a pixel of the picture
        cells = find_cells(picture, max(0.0, target.blur - SHARP) / coarse, max(1.0, 1 / coarse))
        clear = clear and (coarse > COARSE or cells.weak < MOST_NOISE)
        bubbles = bubbles_of(picture, cells)
        across = bubbles.median / pixel if len(bubbles.diameters) >= FEWEST else 0.0
        if across >= ENOUGH or pixel <= finest * 1.01 or look == LOOKS - 1:
            break
        pixel = max(finest, min(0.6 * pixel, bubbles.median / WANTED if across else 0.0))
    films = cells.films and clear
    if not films or len(bubbles.diameters) < FEWEST:
        found = len(bubbles.diameters) if films else 0
        raise InputError(
            f"{found} whole bubbles are in the window; at least {FEWEST} are needed" if found else "no films are seen",
            where=str(photo.path),
            remedy="Photograph foam that touches the pane, sharp and well lit, with many bubbles in the window",
        )
    return picture, cells, bubbles, _of_faint_films(picture, cells, bubbles)


def _of_faint_films(picture: FlatPicture, cells: Cells, bubbles: Bubbles) -> float:
    """Relative change of the Sauter mean where a line needs somewhat more or less contrast to be a film.

    With clear films it is next to nothing. Where they are thinner than a pixel, noisy, or those of a layer behind, the
    diameter depends on that choice, and the change is a part of its uncertainty.
    """
    changes = []
    for moved in (-MOVED, MOVED):
        other = bubbles_of(picture, merged_at(cells, FILM + moved))
        enough = len(other.diameters) >= FEWEST
        changes.append(abs(math.log(other.sauter / bubbles.sauter)) if enough else UNDECIDED)
    return sum(changes) / 2


def _result(
    photo: GreyPhoto,
    target: FoundTarget,
    picture: FlatPicture,
    cells: Cells,
    bubbles: Bubbles,
    faint: float,
    ruler: float | None,
    notes: PhotoNotes,
) -> PhotoBubbles:
    by_marks = notes.marks is not None
    printed = 1.0 if ruler is None else ruler / RULER
    wall = u_wall = 0.0
    if notes.jar is not None:
        width = picture.light.shape[0] * picture.pixel * printed
        wall, u_wall = round_wall(notes.jar, width, str(photo.path))
        printed *= wall
    pixels = bubbles.median * target.scale
    blurred = target.blur > max(1.6, MOST_BLUR * pixels)
    if blurred and target.blur > FAR_TOO_BLURRED[0] * pixels and cells.weak > FAR_TOO_BLURRED[1]:
        raise InputError(
            f"the photo is too blurred: an edge spreads over {2 * target.blur:.0f} px, a bubble has {pixels:.0f}",
            where=str(photo.path),
            remedy="Focus on the pane, hold the camera still, and photograph it again",
        )
    layers = cells.weak > MOST_WEAK and pixels >= 0.7 * SMALLEST and not blurred
    films = U_FILMS + U_SMALL * max(0.0, SMALLEST / pixels - 1)
    films += (U_LAYERS if layers else 0.0) + (U_BLUR if blurred else 0.0) + faint
    u_print = 0.0 if by_marks else U_PRINTER if ruler is None else U_RULER
    scale = math.hypot(target.u_scale, u_print, U_PANE, u_wall)
    drawn = sampling(bubbles)
    said = ["scale by two marks"] if by_marks else ["printer not checked with the ruler"] if ruler is None else []
    said += [f"behind a round wall, {100 * (wall - 1):.1f} % larger than seen"] if wall else []

    def length(value: float, by_chance: float) -> Estimate:
        return Estimate.positive(value * printed, math.hypot(by_chance, scale, films), "m", assumptions=tuple(said))

    return PhotoBubbles(
        path=photo.path,
        taken=photo.taken,
        diameter=length(bubbles.sauter, drawn[0]),
        median=length(bubbles.median, drawn[1]),
        spread=Estimate.positive(bubbles.spread, math.hypot(drawn[2], 2 * films), "1"),
        u_scale=scale,
        u_films=films,
        count=len(bubbles.diameters),
        pixels=pixels,
        card=target.card.name,
        warnings=tuple(_warnings(target, picture, cells, bubbles, pixels, faint, layers=layers, blurred=blurred)),
        outlines=outlined(picture, cells, bubbles),
        diameters=tuple(float(f"{one * printed:.4g}") for one in bubbles.diameters),
    )


def _warnings(
    target: FoundTarget,
    picture: FlatPicture,
    cells: Cells,
    bubbles: Bubbles,
    pixels: float,
    faint: float,
    *,
    layers: bool,
    blurred: bool,
) -> list[str]:
    said = []
    if pixels < SMALLEST:
        said.append(
            f"The median bubble is {pixels:.1f} px wide. Below {SMALLEST:.0f} px small bubbles are lost and the "
            "diameter comes out too large: go closer, or use the small card."
        )
    if blurred:
        said.append(f"The photo is blurred: an edge spreads over {2 * target.blur:.0f} px. Focus on the pane.")
    if picture.glare > MOST_GLARE:
        said.append(f"Glare covers {100 * picture.glare:.0f} % of the window and is left out. Light it from the side.")
    if picture.shadow > MOST_GLARE:
        said.append(f"{100 * picture.shadow:.0f} % of the window is too dark and is left out.")
    if layers:
        said.append(
            f"{100 * cells.weak:.0f} % of the lines are weak: films of a layer behind may be counted, and the diameter "
            "may be too small. Press the foam against the pane, and light it from the side."
        )
    if faint > FAINT:
        said.append(
            f"The films are faint: what is taken as one changes the diameter by {100 * faint:.0f} %. Light the foam "
            "from the side, and go closer: a film needs half a pixel."
        )
    if bubbles.empty > MOST_GLARE:
        said.append(f"{100 * bubbles.empty:.0f} % of the window shows no bubbles and is left out.")
    if target.card.name == NAME:
        said.append("The scale is that of two marks: a slant of the photo is not seen, and its blur not measured.")
    elif target.hidden:
        said.append(f"{target.hidden} of the target's {target.hidden + len(target.seen)} dots are hidden.")
    if target.tilt > MOST_TILT:
        said.append(f"The photo is taken at a slant: the scale changes by {100 * target.tilt:.0f} % across the window.")
    if len(bubbles.diameters) < FEW:
        said.append(f"Only {len(bubbles.diameters)} whole bubbles are in the window; the interval is wide.")
    if picture.light.shape[0] * picture.pixel < 0.95 * target.card.inner:
        said.append(
            f"Only the middle {picture.light.shape[0] * picture.pixel * 1e3:.0f} mm of the window are measured: the "
            "bubbles are small and many."
        )
    return said


def outlined(picture: FlatPicture, cells: Cells, bubbles: Bubbles) -> bytes:
    """The flat picture with the outlines of the cells as JPEG: orange those that count, blue the others."""
    from PIL import Image  # noqa: PLC0415  the imaging library takes time to load

    labels = cells.labels
    counted = np.zeros(int(labels.max()) + 1, bool)
    counted[bubbles.numbers] = True
    edge = np.zeros(labels.shape, bool)
    edge[:-1] |= labels[:-1] != labels[1:]
    edge[:, :-1] |= labels[:, :-1] != labels[:, 1:]
    good = ndimage.maximum_filter(counted[labels], 2) & edge
    top = max(float(np.percentile(picture.light, 99)), 1.0)
    grey = np.clip(picture.light / top * 235, 0, 255).astype(np.uint8)
    colours = np.stack([grey] * 3, axis=-1)
    colours[edge & ~good] = (60, 120, 230)
    colours[good] = (240, 120, 20)
    image = Image.fromarray(colours)
    image.thumbnail((OUTLINES, OUTLINES))
    written = io.BytesIO()
    image.save(written, "JPEG", quality=80, optimize=True)
    return written.getvalue()
